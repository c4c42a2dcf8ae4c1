"""Readings that a part has outlived: what it bears on does not count as worked out from them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from datetime import date

from checker.expressions.names import COMPUTED, Column
from checker.judging.block import Block
from checker.packs.titles import lowered
from checker.records.change import Change, borne_on
from checker.records.entry import Reading
from checker.records.record import Record


def outlived(
    record: Record, readings: Sequence[Reading], block: Block, made_of: Callable[[Sequence[Reading]], Block]
) -> Iterator[tuple[tuple[str, int], str]]:
    """The places at which nothing counts that is worked out, and why: a part bears on it, a reading behind is older.

    Which of the readings the part has changed nobody says. They are those that `aged` has looked over; a block is
    `made_of` some of them, and this one of all.
    """
    items, layout = block.characteristics, block.layout
    for part in record.parts:
        borne = [(name, station) for name, station in borne_on(part, items, layout, []) if items[name].derived]
        fitted = date.fromisoformat(part.fitted)
        since = [reading for reading in readings if reading.unit is None or (reading.taken and reading.taken >= fitted)]
        anew = made_of(since) if borne else block
        for name, station in borne:
            per = items[name].characteristic.per
            now, then = (float(each.fetch(Column(name, COMPUTED, per))[0, station]) for each in (anew, block))
            if math.isnan(then) or now == then:
                continue
            places = set(block.places_of(items[name].inputs, per, station))
            behind = (reading for reading in readings if (reading.characteristic, reading.station) in places)
            titles = {items[reading.characteristic].characteristic.title for reading in behind if reading not in since}
            older = ", ".join(sorted(map(lowered, titles)))
            what = f"it is worked out from what was measured before: {older}"
            yield (name, station), f"{Change(part.name, fitted)}, and {what}; or let the part bear on what it changes"
