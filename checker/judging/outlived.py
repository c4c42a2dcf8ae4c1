"""Readings that a part has outlived: what it bears on is not worked out from them as if it were measured anew."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date

import numpy as np

from checker.errors import Problem
from checker.expressions.names import COMPUTED, Column
from checker.judging.block import Block
from checker.judging.inputs import places_of
from checker.records.change import borne_on
from checker.records.entry import Reading
from checker.records.record import Record


def outlived(record: Record, readings: Iterable[Reading], block: Block) -> Iterator[Problem]:
    """Parts that bear on what is worked out here, from readings that are all older and that they do not bear on.

    The readings are those that `aged` has looked over, and the block is made of them. What was measured itself since is
    not worked out.
    """
    items, layout = block.characteristics, block.layout
    by_place: dict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in readings if record.parts else ():
        by_place[reading.characteristic, reading.station].append(reading)
    for part in record.parts:
        fitted, older = date.fromisoformat(part.fitted), defaultdict[str, set[str]](set)
        for name, station in borne_on(part, items, layout, []):
            per = items[name].characteristic.per
            is_measured = any(not reading.set_aside for reading in by_place[name, station])
            if is_measured or np.isnan(block.fetch(Column(name, COMPUTED, per))[0, station]):
                continue
            places = places_of(items[name].inputs, per, station, items, layout)
            behind = [reading for place in places for reading in by_place[place]]
            if not any(reading.set_aside or (reading.taken and reading.taken >= fitted) for reading in behind):
                older[name] |= {reading.characteristic for reading in behind}
        for name, measured in older.items():
            place, names = part.origin.at("bears_on", part.bears_on.index(name)), ", ".join(sorted(measured))
            message = f"{name} is worked out from older readings, on which it is not said to bear: {names}"
            yield Problem(message, place, f"measure {name} itself, or name those of them that it changes")
