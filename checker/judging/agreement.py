"""Does what was measured agree with what can be computed from other readings?

Where a pack says of a characteristic that both ways must agree, a reading that does not is set aside, and what is
computed does not take its place: which of the two is wrong cannot be told, and nothing that rests on it is judged.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

import numpy as np

from checker.expressions.names import COMPUTED, MEASURED, Column
from checker.expressions.truth import RELATIVE_TOLERANCE
from checker.judging.block import Block
from checker.judging.columns import Columns
from checker.judging.doubt import Doubts
from checker.notation.write import write_apart, write_quantity
from checker.packs.compiled import CompiledCharacteristic, Inputs
from checker.records.entry import Reading
from checker.units.units import Unit, difference


class Disagreement(NamedTuple):
    """One value measured, what the others make of it, and how far apart the two may be; in SI."""

    item: CompiledCharacteristic
    station: int
    measured: float
    computed: float
    allowed: float

    def told(self, unit: Unit, characteristics: Mapping[str, CompiledCharacteristic]) -> str:
        """The disagreement in numbers, with the names of what else to look at."""
        behind = self.item.derived.columns if self.item.derived else ()
        titles = sorted({characteristics[column.name].characteristic.title for column in behind})
        computed = write_apart(unit, self.computed, self.measured)[0]
        away, allowed = (
            write_quantity(amount, difference(unit)) for amount in (abs(self.measured - self.computed), self.allowed)
        )
        return (
            f"computed it is {computed}, {away} away, where {allowed} would be explained: "
            f"check this reading and {'; '.join(titles)}"
        )


def looked_at_both_ways(
    readings: Iterable[Reading], block: Block, usual: Columns
) -> tuple[tuple[Reading, ...], frozenset[tuple[str, int]]]:
    """The readings, those that disagree set aside, and the places in dispute, at which nothing counts.

    `usual` are the columns of these readings, each with the uncertainty of its instrument or else the usual one.
    """
    found = {
        (disagreement.item.name, disagreement.station): disagreement for disagreement in disagreements(block, usual)
    }
    return tuple(_set_aside(reading, found, block.characteristics) for reading in readings), frozenset(found)


def _set_aside(
    reading: Reading,
    found: Mapping[tuple[str, int], Disagreement],
    characteristics: Mapping[str, CompiledCharacteristic],
) -> Reading:
    disagreement = found.get((reading.characteristic, reading.station))
    if disagreement is None or reading.set_aside or disagreement.item.unit is None:
        return reading
    return reading._replace(set_aside=disagreement.told(reading.unit or disagreement.item.unit, characteristics))


def disagreements(block: Block, usual: Columns) -> Iterator[Disagreement]:
    """Where a value measured and the same computed are further apart than both leave open."""
    for name in usual.gathered:
        item = block.characteristics[name]
        if item.agrees_within is not None and item.derived is not None and item.unit is not None:
            yield from _between(item, block, usual)


def _between(item: CompiledCharacteristic, block: Block, usual: Columns) -> Iterator[Disagreement]:
    per = item.characteristic.per
    measured, computed = Column(item.name, MEASURED, per), Column(item.name, COMPUTED, per)
    if not (np.isfinite(block.fetch(measured)) & np.isfinite(block.fetch(computed))).any():
        return
    alone = Inputs(frozenset([item.name]), frozenset())
    below = item.inputs
    doubts = Doubts(block, usual, [alone, below])
    direct, direct_off = doubts.about_values(measured, alone)
    other, other_off = doubts.about_values(computed, below)
    allowed = np.maximum(np.hypot(direct_off, other_off), item.agrees_within or 0.0)
    apart = np.abs(direct - other)
    for station in np.flatnonzero(apart[0] > allowed[0] + RELATIVE_TOLERANCE * np.abs(direct[0])):
        values = float(direct[0, station]), float(other[0, station]), float(allowed[0, station])
        if all(map(math.isfinite, values)):
            yield Disagreement(item, int(station), *values)
