"""One rule seen from one station."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from checker.expressions.expression import Expression
from checker.expressions.truth import TRUE, Array
from checker.findings.context import Context
from checker.findings.display import shown_in
from checker.judging.judge import Judged, Verdict, amount_at
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS, Candidate, LimitSet
from checker.records.part_sheet import PartLimit, PartSheet
from checker.units.units import Unit


class Beside(NamedTuple):
    """What else bears on a rule, at all its stations: its part sheet, how far that counts, and other sources' limits.

    What those say is asked once, when a station first wants to know.
    """

    sheet: PartSheet | None
    part: PartLimit | None
    elsewhere: dict[LimitSet, Judged]

    @staticmethod
    def of(rule: CompiledRule, context: Context, elsewhere: dict[LimitSet, Judged] | None = None) -> Beside:
        """What there is of a record."""
        return Beside(context.part_sheet(rule), context.part_limit(rule), {} if elsewhere is None else elsewhere)


@dataclass(frozen=True, slots=True)
class Standpoint:
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
        return self.rule.unit if self.rule.is_demand else shown_in(self.rule.unit, self.context.units)

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
        """The limit that decides: the one missed most, or the nearest of the band that holds."""
        margins = [self.at(margin) for margin in self.judged.measures.margins]
        is_must = self.verdict is Verdict.OUTSIDE or bool(self.judged.must_open[0, self.station])
        band = "must" if is_must else "should"
        known = [n for n in range(len(margins)) if math.isfinite(margins[n])]
        wanted = [n for n in known if POSITIONS[n][0] == band] or known
        if not wanted:
            return 0, math.nan
        position = min(wanted, key=lambda n: margins[n])
        return position, margins[position]

    def holds(self, candidate: Candidate) -> bool:
        """Whether a limit counts here."""
        return candidate.when is None or self.truth(candidate.when) == TRUE

    def limit(self, candidate: Candidate) -> float:
        """What a limit comes to here, in SI."""
        rule, block = self.rule, self.context.block
        size = block.evaluate(rule.per_unit_of, rule.stations) if rule.per_unit_of else None
        amount = np.asarray(amount_at(candidate.bound, candidate.bound.limit.side, block, size, rule.stations))
        return float(np.broadcast_to(amount, self.judged.measures.value[:1].shape)[0, self.station])

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
