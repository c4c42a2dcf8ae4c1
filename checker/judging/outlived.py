"""Readings that a part has outlived: what it bears on does not count as worked out from them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date

import numpy as np

from checker.expressions.names import COMPUTED, Column
from checker.judging.block import Block
from checker.judging.inputs import places_of
from checker.packs.titles import lowered
from checker.records.change import Change, borne_on
from checker.records.entry import Reading
from checker.records.record import Record


def outlived(record: Record, readings: Iterable[Reading], block: Block) -> Iterator[tuple[tuple[str, int], str]]:
    """The places at which nothing counts that is worked out, and why: a part bears on it, and all behind it is older.

    The readings are those that `aged` has looked over, and the block is made of them.
    """
    items, layout = block.characteristics, block.layout
    by_place: dict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in readings if record.parts else ():
        by_place[reading.characteristic, reading.station].append(reading)
    for part in record.parts:
        fitted = date.fromisoformat(part.fitted)
        for name, station in borne_on(part, items, layout, []):
            per = items[name].characteristic.per
            if np.isnan(block.fetch(Column(name, COMPUTED, per))[0, station]):
                continue
            places = places_of(items[name].inputs, per, station, items, layout)
            behind = [reading for place in places for reading in by_place[place]]
            if not any(reading.set_aside or (reading.taken and reading.taken >= fitted) for reading in behind):
                titles = {lowered(items[reading.characteristic].characteristic.title) for reading in behind}
                older = f"what it is worked out from is older: {', '.join(sorted(titles))}"
                yield (name, station), f"{Change(part.name, fitted)}, and {older}"
