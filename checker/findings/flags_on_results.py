"""Computed values that are impossible though all they rest on is possible: one of their readings is a slip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from statistics import median
from typing import NamedTuple

import numpy as np

from checker.expressions.expression import Expression
from checker.findings.context import Context, place_name
from checker.findings.display import shown_in
from checker.judging.block import Block
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.titles import lowered
from checker.records.entry import Reading
from checker.records.flag import Flag
from checker.records.slip_guesses import slips_of
from checker.records.slips import ALIKE, is_within, lies_within
from checker.units.units import Unit


def flags_on_results(
    computed: Iterable[tuple[CompiledCharacteristic, Expression]],
    block: Block,
    readings: Iterable[Reading],
    context: Context,
) -> Iterator[Flag]:
    """A flag for each impossible value among those that judging has computed, with the likely slip."""
    by_place: dict[tuple[str, int], Reading] = {}
    for item, derived in computed:
        if item.unit is None:
            continue
        values = block.evaluate(derived, item.characteristic.per)[0]
        for station in np.flatnonzero(np.isfinite(values) & ~item.allows(values)):
            by_place = by_place or _by_place(readings)
            unit = shown_in(item.unit, context.units)
            result = _Result(item, unit, derived, int(station), values, context)
            yield result.flag(by_place)


def _by_place(readings: Iterable[Reading]) -> dict[tuple[str, int], Reading]:
    """The last reading that counts at each place; few records need to be looked through for it."""
    return {(r.characteristic, r.station): r for r in readings if not r.set_aside and r.unit is not None}


class _Result(NamedTuple):
    """One impossible value of a derived characteristic, and the values at all its stations."""

    item: CompiledCharacteristic
    unit: Unit
    derived: Expression
    station: int
    values: np.ndarray
    context: Context

    def flag(self, readings: Mapping[tuple[str, int], Reading]) -> Flag:
        rests_on = list(self.rests_on(readings))
        value = write_quantity(float(self.values[self.station]), self.unit)
        ends = " to ".join(write_quantity(end, self.unit) for end in (self.item.low, self.item.high))
        likely = next(self.explanations(rests_on), "")
        return Flag(
            self.item.name,
            self.item.characteristic.title,
            place_name(self.item.characteristic.per, self.station, self.context),
            ", ".join(reading.written for reading in rests_on),
            f"comes out as {value}, outside what is possible, {ends}{likely}; not judged",
            True,
            rests_on[0].place if rests_on else self.item.characteristic.origin.place,
        )

    def rests_on(self, readings: Mapping[tuple[str, int], Reading]) -> Iterator[Reading]:
        layout = self.context.block.layout
        for column in self.derived.columns:
            per = self.context.characteristics[column.name].characteristic.per
            for station in layout.related(self.item.characteristic.per, self.station, per):
                if (column.name, station) in readings:
                    yield readings[column.name, station]

    def explanations(self, rests_on: Iterable[Reading]) -> Iterator[str]:
        """The slips in single readings that would make the value possible, and one of its neighbours."""
        others = [float(v) for v in np.delete(self.values, self.station) if lies_within(float(v), self.item)]
        for reading in rests_on:
            item = self.context.characteristics[reading.characteristic]
            for slip in slips_of(reading, item, few=False):
                value = self.with_instead(reading, slip.value)
                if lies_within(value, self.item) and (not others or is_within(value, median(others), ALIKE)):
                    yield f": {lowered(item.characteristic.title)} {reading.written}, {slip}?"

    def with_instead(self, reading: Reading, value: float) -> float:
        """The computed value if a reading had been another."""
        block = self.context.block
        changed = block.measured[reading.characteristic].copy()
        changed[0, reading.station] = value
        otherwise = block.with_values({reading.characteristic: changed})
        return float(otherwise.evaluate(self.derived, self.item.characteristic.per)[0, self.station])
