"""One rule seen from one station."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from checker.expressions.expression import Expression
from checker.expressions.names import COMPUTED, MEASURED
from checker.expressions.truth import TRUE, Array
from checker.findings.context import Context
from checker.findings.display import shown_in
from checker.findings.finding import Edge
from checker.judging.judge import BANDS, Judged, Verdict
from checker.judging.measures import amount_at
from checker.packs.compiled import CompiledCharacteristic, CompiledRule, Inputs
from checker.packs.limit_set import Candidate, LimitSet
from checker.records.entry import Reading
from checker.records.part_sheet import PartLimit, PartSheet
from checker.units.units import Unit


class Beside(NamedTuple):
    """What bears on a rule at all its stations: its part sheet, how far that counts, and other sources' limits.

    `limits` and `margins` are those of the rule, by position and station. What is asked once, when a station first
    wants to know: what other sources say, what comes out `alone` by the sheet (true) or by the packs (false), and the
    `edges` by station, see edges.py.
    """

    sheet: PartSheet | None
    part: PartLimit | None
    elsewhere: dict[LimitSet, Judged]
    alone: dict[bool, Judged]
    limits: list[list[float]]
    margins: list[list[float]]
    unit: Unit
    edges: list[tuple[Edge, ...]]

    @staticmethod
    def of(judged: Judged, context: Context) -> Beside:
        """What there is of a record."""
        rule, measures = judged.rule, judged.measures
        return Beside(
            sheet=context.part_sheet(rule),
            part=context.part_limit(rule),
            elsewhere={},
            alone={},
            limits=measures.limits[:, 0].tolist(),
            margins=measures.margins[:, 0].tolist(),
            unit=rule.unit if rule.is_demand else shown_in(rule.unit, context.units),
            edges=[],
        )


class Standpoint(NamedTuple):
    """The arrays of one rule, and the station they are looked at from."""

    judged: Judged
    station: int
    verdict: Verdict
    context: Context
    beside: Beside

    @property
    def rule(self) -> CompiledRule:
        return self.judged.rule

    @property
    def unit(self) -> Unit:
        """The unit to show the rule's value in."""
        return self.beside.unit

    @property
    def inputs(self) -> Inputs:
        """What the rule rests on."""
        return self.context.inputs(self.rule.name)

    @property
    def places(self) -> Iterator[tuple[str, int]]:
        """The same seen from here: names of characteristics, each with its own station."""
        return self.context.block.places_of(self.inputs, self.rule.stations, self.station)

    @property
    def is_at_face_value(self) -> bool:
        """Whether it is within only if the readings are taken at face value."""
        face_value = self.context.face_value
        at_stations = None if face_value is None or self.verdict is not Verdict.WITHIN else face_value.of(self.judged)
        return at_stations is not None and bool(at_stations[self.station])

    def at(self, values: Array) -> float:
        """The rule's own value here."""
        return float(values[0, self.station])

    def nearest(self) -> tuple[int, float]:
        """The limit that decides: the one missed most, or the nearest of all that hold.

        What is recommended on one side only says nothing of how near the value is to what is required on the other.
        """
        margins = [margins[self.station] for margins in self.beside.margins]
        is_must = self.verdict is Verdict.OUTSIDE or bool(self.judged.must_open[0, self.station])
        in_turn = BANDS if is_must else BANDS[::-1]
        for band in (sum(in_turn, ()),) if self.verdict is Verdict.WITHIN else in_turn:
            known = [(margins[position], position) for position in band if math.isfinite(margins[position])]
            if known:
                margin, position = min(known)
                return position, margin
        return 0, math.nan

    def amounts(self, candidate: Candidate) -> list[float]:
        """What a limit comes to at each station of the rule, in SI."""
        rule, block = self.rule, self.context.block
        size = block.evaluate(rule.per_unit_of, rule.stations) if rule.per_unit_of else None
        return self._each(amount_at(candidate.bound, candidate.bound.limit.side, block, size, rule.stations))

    def counting(self, candidate: Candidate) -> list[bool]:
        """Whether a limit counts, at each station of the rule."""
        if candidate.when is None:
            return [True] * self.judged.codes.shape[1]
        return [truth == TRUE for truth in self._each(self.context.block.evaluate(candidate.when, self.rule.stations))]

    def _each(self, values: Array | float) -> list[float]:
        amounts: list[float] = np.broadcast_to(values, self.judged.measures.value[:1].shape)[0].tolist()
        return amounts

    def truth(self, condition: Expression) -> float:
        """A condition seen from here."""
        return self.local(self.context.block.evaluate(condition), condition.stations)

    def local(self, values: Array, stations: str | None) -> float:
        """A value seen from this station: its own, that of the one it belongs to, or the assembly's."""
        return float(values[0, self.index_at(stations)])

    def index_at(self, stations: str | None) -> int:
        """Which of some stations this one is, or belongs to."""
        own = self.rule.stations
        if stations is None or own is None:
            return 0
        return self.station if stations == own else int(self.context.block.layout.children(own, stations)[self.station])


def behind_value(here: Standpoint) -> Iterator[tuple[CompiledCharacteristic, Sequence[Reading]]]:
    """The readings that the value of a rule was worked out from, by place, without those of its limits."""
    return _behind(here, here.rule.judges, here.rule.stations, here.station, frozenset())


def _behind(
    here: Standpoint, expression: Expression, stations: str | None, station: int, entered: frozenset[str]
) -> Iterator[tuple[CompiledCharacteristic, Sequence[Reading]]]:
    """The readings that an expression was worked out from at a station, by place; what was measured ends the way."""
    layout = here.context.block.layout
    for column in expression.columns:
        item = here.context.characteristics.get(column.name)
        if item is None or item.name in entered:
            continue
        per = item.characteristic.per
        across = column in expression.across
        for place in range(layout.count(per)) if across else layout.related(stations, station, per):
            written = () if column.view == COMPUTED else here.context.written.get((item.name, place), ())
            readings = [reading for reading in written if not reading.set_aside]
            if not readings and item.derived is not None and column.view != MEASURED:
                yield from _behind(here, item.derived, per, place, entered | {item.name})
            elif not math.isnan(here.context.block.fetch(column._replace(at=per))[0, place]):
                yield item, readings
