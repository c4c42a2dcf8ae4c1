"""Making findings from arrays: the numbers of one station, and the words that go with them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from checker.block import COMPUTED, MEASURED, Block
from checker.compiled import POSITIONS, Candidate, CompiledCharacteristic, CompiledRule, LimitSet
from checker.conformity import COVERAGE, Decision
from checker.display import shown_in
from checker.evaluate import evaluate
from checker.expressions import Expression
from checker.finding import Edge, Finding, Gap
from checker.judge import Judged, PartLimit, Verdict, judge, measure
from checker.names import VALUE, Column
from checker.notation_write import write_quantity
from checker.pack import Limit, Stations
from checker.truth import FALSE, TRUE, Array

_MISSED = (Verdict.OUTSIDE, Verdict.ADVISORY)


@dataclass(frozen=True, slots=True)
class Context:
    """What findings are made from besides the arrays of one rule."""

    block: Block
    characteristics: Mapping[str, CompiledCharacteristic]
    stations: Mapping[str, Stations]
    chain: tuple[str, ...]
    application_title: str
    units: Mapping[str, str]
    decision: Decision
    part_limits: Mapping[str, PartLimit] = field(default_factory=dict)
    part_sources: Mapping[str, str] = field(default_factory=dict)
    refused: Mapping[tuple[str, int], str] = field(default_factory=dict)
    concessions: Mapping[tuple[str, int | None], str] = field(default_factory=dict)


def findings_of(judged: Judged, context: Context, wanted: frozenset[Verdict] | None = None) -> Iterator[Finding]:
    """The findings of one rule at its stations; only those with the verdicts wanted, if any are named."""
    for station, code in enumerate(judged.codes[0]):
        if wanted is None or Verdict(code) in wanted:
            yield _Maker(judged, station, Verdict(code), context).finding()


def place_name(stations: str | None, station: int, context: Context) -> str:
    """A station in words, such as "main bearing 3"; empty for the assembly."""
    if stations is None:
        return ""
    name = lowered(context.stations[stations].title)
    return f"{name} {station + 1}" if context.block.layout.count(stations) > 1 else name


def lowered(title: str) -> str:
    """A title in the middle of a sentence; abbreviations keep their capitals."""
    return title if title[1:2].isupper() else title[:1].lower() + title[1:]


@dataclass(frozen=True, slots=True)
class _Maker:
    """One rule at one station, on its way to a finding."""

    judged: Judged
    station: int
    verdict: Verdict
    context: Context

    @property
    def rule(self) -> CompiledRule:
        return self.judged.rule

    def finding(self) -> Finding:
        rule, verdict = self.rule, self.verdict
        position, margin = self.nearest()
        missing = tuple(dict.fromkeys(self.missing())) if verdict is Verdict.NOT_MEASURED else ()
        return Finding(
            rule=rule,
            stations=rule.stations,
            station=self.station,
            where=place_name(rule.stations, self.station, self.context),
            verdict=verdict,
            must_open=bool(self.judged.must_open[0, self.station]),
            side=self.side(position),
            value=math.nan if rule.is_demand else self.at(self.judged.measures.value),
            unit=rule.unit if rule.is_demand else shown_in(rule.unit, self.context.units),
            edges=() if rule.is_demand else tuple(self.edges()),
            margin=margin,
            uncertainty=self.uncertainty(position),
            remedy=self.remedy(position) if verdict in _MISSED else "",
            missing=missing,
            remarks=tuple(self.remarks()),
            concession=self.concession() if verdict is Verdict.OUTSIDE else "",
        )

    def at(self, values: Array) -> float:
        return float(values[0, self.station])

    def side(self, position: int) -> str:
        if self.verdict not in _MISSED:
            return ""
        return "broken" if self.rule.is_demand else POSITIONS[position][1]

    def nearest(self) -> tuple[int, float]:
        """The limit that decides: the one missed most, or the nearest of the band that holds."""
        margins = [self.at(margin) for margin in self.judged.measures.margins]
        band = "must" if self.verdict is Verdict.OUTSIDE else "should"
        known = [n for n in range(len(margins)) if math.isfinite(margins[n])]
        wanted = [n for n in known if POSITIONS[n][0] == band] or known
        if not wanted:
            return 0, math.nan
        position = min(wanted, key=lambda n: margins[n])
        return position, margins[position]

    def uncertainty(self, position: int) -> float:
        doubt = self.judged.doubts[position]
        return 0.0 if doubt is None else COVERAGE * self.at(doubt.standard)

    def edges(self) -> Iterator[Edge]:
        for (band, side), values in zip(POSITIONS, self.judged.measures.limits, strict=True):
            value = self.at(values)
            if math.isfinite(value):
                sheet = self.sheet_decides(band, side, value)
                yield Edge(band, side, value, None if sheet else self.stated(band, side), sheet)

    def sheet_decides(self, band: str, side: str, value: float) -> str:
        """The part sheet that gave a must limit, where it is the stricter."""
        column = self.rule.judges.column
        part = self.context.part_limits.get(column.name) if column else None
        if part is None or column is None or band != "must":
            return ""
        return self.context.part_sources[column.name] if value == (part.low if side == "low" else part.high) else ""

    def stated(self, band: str, side: str) -> Limit | None:
        for candidate in self.rule.limits.candidates(self.context.chain, band, side):
            if self.holds(candidate):
                return candidate.bound.limit
        return None

    def holds(self, candidate: Candidate) -> bool:
        return candidate.when is None or self.truth(candidate.when) == TRUE

    def truth(self, condition: Expression) -> float:
        return self.local(self.context.block.evaluate(condition), condition.stations)

    def local(self, values: Array, stations: str | None) -> float:
        """A value seen from this station: its own, that of the one it belongs to, or the assembly's."""
        return float(values[0, self.index_at(stations)])

    def index_at(self, stations: str | None) -> int:
        own = self.rule.stations
        if stations is None or own is None:
            return 0
        return self.station if stations == own else int(self.context.block.layout.children(own, stations)[self.station])

    # --- what is missing -------------------------------------------------------------------------------------------

    def missing(self) -> Iterator[Gap]:
        for expression in self.needed():
            for column in expression.columns:
                yield from self.gaps(column, expression.stations)

    def needed(self) -> Iterator[Expression]:
        """What had to be known, in the order in which a person would ask for it."""
        rule = self.rule
        applies = self.at(self.judged.measures.applies)
        conditions = [c for c in (rule.when, rule.unless) if c is not None]
        if applies not in (TRUE, FALSE):
            yield from (c for c in conditions if self.truth(c) not in (TRUE, FALSE))
            return
        if not rule.is_demand:
            yield rule.judges
        if rule.per_unit_of is not None:
            yield rule.per_unit_of
        for band, side in (*POSITIONS, ("must", "broken"), ("should", "broken")):
            for candidate in rule.limits.candidates(self.context.chain, band, side):
                yield from (e for e in (candidate.when, candidate.bound.expression) if e is not None)

    def gaps(self, column: Column, seen_at: str | None, asked: frozenset[Column] = frozenset()) -> Iterator[Gap]:
        """The direct readings that a column lacks here; of a reduction, at every station."""
        item = self.context.characteristics.get(column.name)
        if item is None or column in asked:
            return
        own = item.characteristic.per
        values = self.context.block.fetch(column._replace(at=own))
        for index in self.indices(own, seen_at, values.shape[1]):
            if not np.isnan(values[0, index]):
                continue
            refused = self.context.refused.get((item.name, index), "")
            if item.derived is not None and not refused and column.view in (VALUE, COMPUTED):
                for inner in item.derived.columns:
                    yield from self.gaps(inner, own, asked | {column})
            elif refused or column.view != MEASURED or item.derived is None:
                yield self.gap(item, own, index, refused)

    def gap(self, item: CompiledCharacteristic, own: str | None, index: int, remark: str) -> Gap:
        stations = self.context.stations[own].title if own else ""
        numbered = own is not None and self.context.block.layout.count(own) > 1
        return Gap(
            item.name, lowered(item.characteristic.title), lowered(stations), index + 1 if numbered else None, remark
        )

    def indices(self, own: str | None, seen_at: str | None, count: int) -> list[int]:
        """Which of a column's stations matter here."""
        rule_set = self.rule.stations
        if own is None:
            return [0]
        lineage = self.lineage(rule_set)
        if rule_set is not None and own in lineage:
            return [self.index_at(own)]
        return list(range(count))

    def lineage(self, stations: str | None) -> list[str]:
        found = []
        while stations is not None:
            found.append(stations)
            stations = self.context.stations[stations].parent
        return found

    # --- what to do, and what else to know -------------------------------------------------------------------------

    def remedy(self, position: int) -> str:
        phrase = self.rule.remedies.get(self.side(position))
        if phrase is None:
            return ""
        words = []
        for part in phrase.parts:
            if isinstance(part, str):
                words.append(part)
                continue
            expression, usual = part
            amount = self.local(self.amount(expression, position), expression.stations)
            shown = shown_in(usual, self.context.units)
            words.append(write_quantity(amount, shown, round_up=True) if math.isfinite(amount) else "an unknown amount")
        return "".join(words)

    def amount(self, expression: Expression, position: int) -> Array:
        measures = self.judged.measures
        known = {"value": measures.value, "limit": self.aim(position)}

        def fetch(column: Column) -> Array:
            return known[column.name] if column.name in known else self.context.block.fetch(column)

        return evaluate(expression, fetch, self.context.block.layout)

    def aim(self, position: int) -> Array:
        """The edge to reach: the should limit on the missed side where there is one, else the must limit."""
        limits = self.judged.measures.limits
        must, should = (limits[0], limits[1]) if POSITIONS[position][1] == "low" else (limits[3], limits[2])
        return np.where(np.isfinite(should), should, must)

    def remarks(self) -> Iterator[str]:
        if self.verdict is Verdict.NOT_COVERED:
            yield self.why_not_covered()
        if self.verdict is Verdict.NOT_APPLICABLE:
            yield self.why_not_applicable()
        if self.verdict is Verdict.UNDECIDED:
            yield self.why_undecided()
        if not self.rule.is_demand and self.verdict in (*_MISSED, Verdict.WITHIN):
            for other in self.rule.others:
                yield from self.compared(other)

    def why_not_covered(self) -> str:
        limits = self.judged.measures.limits
        if math.isinf(self.at(self.judged.measures.value)) or self.at(limits[0]) == math.inf:
            return "beyond the end of the table"
        if self.at(limits[3]) == -math.inf:
            return "beyond the end of the table"
        return f"no limit is known for {self.context.application_title}"

    def why_not_applicable(self) -> str:
        rule = self.rule.rule
        for application in self.context.chain:
            if application in rule.not_for:
                return rule.not_for[application]
        if self.rule.when is not None and self.truth(self.rule.when) == FALSE:
            return f"applies only when {rule.when}"
        return f"does not apply when {rule.unless}"

    def why_undecided(self) -> str:
        position, margin = self.nearest()
        doubt = self.judged.doubts[position]
        shown = shown_in(self.rule.unit, self.context.units)
        if doubt is None or not math.isfinite(self.at(doubt.below) + self.at(doubt.above)):
            return "the reading does not say on which side of the limit it lies"
        hard = max(self.at(doubt.below), self.at(doubt.above))
        needed = abs(margin) - hard
        now = write_quantity(COVERAGE * self.at(doubt.standard), shown)
        if needed <= 0:
            return "the reading is too near its limit to decide; measure with a finer instrument"
        return f"uncertainty is {now}; {write_quantity(needed, shown)} or less would decide"

    def compared(self, other: LimitSet) -> Iterator[str]:
        """Say where other limits would give another verdict."""
        rule = self.rule
        if not any(name in other.applications for name in (*self.context.chain, "any")):
            return
        measures = measure(rule, self.context.block, self.context.chain, limits=other)
        verdict = Verdict(judge(rule, measures, self.context.decision).codes[0, self.station])
        if verdict is not self.verdict and verdict in (*_MISSED, Verdict.WITHIN):
            band = self.band_words([self.at(values) for values in measures.limits], verdict)
            yield f"{other.title} asks for {band}: {verdict}"

    def band_words(self, limits: list[float], verdict: Verdict) -> str:
        must, should = (limits[0], limits[3]), (limits[1], limits[2])
        low, high = must if verdict is Verdict.OUTSIDE or not any(map(math.isfinite, should)) else should
        shown = shown_in(self.rule.unit, self.context.units)
        if math.isfinite(low) and math.isfinite(high):
            return f"{write_quantity(low, shown)} to {write_quantity(high, shown)}"
        if math.isfinite(low):
            return f"at least {write_quantity(low, shown)}"
        return f"at most {write_quantity(high, shown)}" if math.isfinite(high) else "nothing"

    def concession(self) -> str:
        if not self.rule.rule.concession_allowed:
            return ""
        known = self.context.concessions
        return known.get((self.rule.name, self.station), known.get((self.rule.name, None), ""))
