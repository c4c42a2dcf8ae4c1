"""What was judged in few lines: one for each rule with its values and limits, or one for each system."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

import numpy as np

from checker.findings.context import place_name
from checker.findings.finding import ON_ITS_LIMIT, SHARED_IS_UNSTATED, Finding, places
from checker.findings.standpoint import Beside, Standpoint
from checker.grouping import grouped
from checker.judging.judge import Judged, Verdict
from checker.notation.write import write_apart, write_quantity
from checker.packs.compiled import CompiledRule
from checker.reports.report import Report
from checker.units.dimensions import DIMENSIONLESS
from checker.units.units import Unit, difference

JUDGED = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.WITHIN)
"""The verdicts of what was measured and judged."""
TOLD = (*JUDGED, Verdict.NOT_MEASURED)
"""The same, and of what waits for something else though it was measured itself."""

MOST_KEY_FIGURES = 10
OPEN = "open"
_MEASURE_BETTER = "measure more precisely what it is computed from"
_ON_ITS_LIMIT = (
    "no instrument can decide, for it lies on its limit: leave it if that is recommended only, else bring it inside"
)
_STATE_SHARED = "state which part of its gauge's uncertainty all readings share, else measure more precisely"
_STATE_MATERIALS = "state in the record what its parts and gauges are made of"


class RuleLine(NamedTuple):
    """All stations of a rule with the same verdict; `where` names them, and is empty where they are all there are."""

    verdict: str
    where: str
    findings: tuple[Finding, ...]

    @property
    def title(self) -> str:
        """What the rule is about."""
        return self.findings[0].title

    @property
    def name(self) -> str:
        """The name of the rule."""
        return self.findings[0].name

    @property
    def places(self) -> str:
        """All its stations in words, such as "gear 1 to 8"; empty for the assembly."""
        return places(self.findings)

    @property
    def nearest(self) -> Finding:
        """The station that is nearest to a limit, or furthest beyond it."""
        return min(self.findings, key=lambda finding: math.inf if math.isnan(finding.margin) else finding.margin)

    @property
    def values(self) -> str:
        """The value, or the least and the greatest of several, such as "0.0023 to 0.0026 in"."""
        words = tuple(dict.fromkeys(self._written(*self._ends)))
        return joined(*words) if words else ""

    @property
    def _ends(self) -> tuple[float, ...]:
        """The least and the greatest of its values in SI; empty where there are none to show.

        Where they are written alike it is the value nearest to a limit: values need not be told from one another.
        """
        known = [finding.value for finding in self.findings if finding.shown_value]
        if self._unit is None or not known:
            return ()
        least, greatest = min(known), max(known)
        is_one = write_quantity(least, self._unit) == write_quantity(greatest, self._unit)
        return (self.nearest.value,) if is_one and self.nearest.shown_value else (least, greatest)

    @property
    def _unit(self) -> Unit | None:
        return next((finding.unit for finding in self.findings if finding.unit is not None), None)

    def _written(self, *amounts: float) -> tuple[str, ...]:
        """Amounts in SI, each with enough digits to tell the values from the limits."""
        if self._unit is None or not amounts:
            return ()
        limits = [edge.value for edge in self.nearest.edges if math.isfinite(edge.value)]
        return write_apart(self._unit, *amounts, *self._ends, *limits)[: len(amounts)]

    @property
    def limits(self) -> str:
        """What is recommended, else what is required; only that of what breaks it, nothing of what was not judged."""
        return self._band("must", *(("should",) if self.nearest.verdict is not Verdict.OUTSIDE else ()))

    @property
    def required(self) -> str:
        """What a must allows at the nearest station, and who states it where that is no general practice."""
        words = self._band("must")
        return f"{words} ({self.nearest.counted_by})" if words and self.nearest.counted_by else words

    @property
    def counted(self) -> tuple[str, ...]:
        """Who states the limits, each, where that is no general practice."""
        sources = dict.fromkeys(finding.counted_by for finding in self.findings if self.verdict != OPEN)
        return tuple(f"limits: {words}" for words in sources if words)

    @property
    def recommended(self) -> str:
        """What a should asks for at the nearest station."""
        return self._band("should")

    def _band(self, *bands: str) -> str:
        """The limits of a band, such as "0.0020 to 0.0027 in"; on each side those of the last band that has one."""
        nearest = self.nearest
        edges = {edge.side: edge for band in bands for edge in nearest.edges if edge.band == band}
        if self.verdict == OPEN or not edges:
            return ""
        if len(edges) == 2 and edges["low"].value <= edges["high"].value:
            return joined(*self._written(*(edges[side].value for side in ("low", "high"))))
        ends = (
            f"at {'least' if side == 'low' else 'most'} {self._written(edges[side].value)[0]}"
            for side in ("low", "high")
            if side in edges
        )
        return " and ".join(ends)

    @property
    def verdict_words(self) -> str:
        """The verdict, and for how many of the stations it holds at face value only."""
        count = sum(finding.at_face_value for finding in self.findings)
        if not count:
            return self.verdict
        return (
            f"{self.verdict} at face value" if count == len(self.findings) else f"{self.verdict}, {count} at face value"
        )

    @property
    def is_plain(self) -> bool:
        """Whether no fact that nobody stated bears on it."""
        return not any(finding.under_choices for finding in self.findings)

    @property
    def missing(self) -> tuple[str, ...]:
        """The titles of what is lacking at any of its stations."""
        return tuple(dict.fromkeys(gap.title for finding in self.findings for gap in finding.missing))

    @property
    def waits_for(self) -> str:
        """What an open one waits for; several things are counted. What would do in its place is told in full only."""
        return f"{len(self.missing)} more" if len(self.missing) > 1 else "".join(self.missing)

    @property
    def needs(self) -> str:
        """The same in words; empty where it waits for nothing."""
        return f"needs {self.waits_for[:1].lower()}{self.waits_for[1:]}" if self.waits_for else ""

    @property
    def action(self) -> str:
        """What to do about advice that is missed or cannot be told, in a sentence."""
        if self.nearest.verdict is Verdict.ADVISORY:
            words = self.nearest.remedy or next(iter(self.nearest.remarks), "")
        else:
            words = self.nearest.remedy or to_decide(self.nearest)
            words = "fix the part sheet, or confirm it by name" if self.nearest.suspect_sheet else words
        return words.partition(". ")[0].rstrip(".")

    @property
    def remarks(self) -> tuple[str, ...]:
        """What comes out under which choice; where that says nothing, what is waited for."""
        outcomes = dict.fromkeys(remark for finding in self.findings for remark in finding.under_choices)
        if outcomes:
            first, *others = outcomes
            return (f"{first} (and {len(others)} more like it)" if others else first,)
        return (f"waits for {'; '.join(self.missing)}",) if self.missing else ()


class SystemLine(NamedTuple):
    """How many checks of a system are within, and the one of them that is nearest to a limit, in words."""

    system: str
    within: int
    nearest: str
    closeness: float


def to_decide(finding: Finding) -> str:
    """What would decide what is undecided; no reading does where a function of a plugin failed."""
    if finding.verdict is not Verdict.UNDECIDED or finding.failed:
        return ""
    if any(remark.endswith(ON_ITS_LIMIT) for remark in finding.remarks):
        return _ON_ITS_LIMIT
    if any(remark.endswith(SHARED_IS_UNSTATED) for remark in finding.remarks):
        return _STATE_SHARED
    return _STATE_MATERIALS if finding.warmth else _MEASURE_BETTER


def is_judged(judged: Judged) -> bool:
    """Whether what was measured of a rule was judged at any station."""
    return not frozenset(JUDGED).isdisjoint(judged.codes[0].tolist())


def rule_lines(findings: Sequence[Finding], whole: bool = True) -> Iterator[RuleLine]:
    """One line for each rule and verdict, in the order of the findings.

    Of several rules that judge the same, and where not the `whole` is wanted, one that waits is told only where none
    was judged, and once.
    """
    judged_values = {it.rule.judges.text for it in findings if it.verdict in JUDGED}
    waiting: dict[str, str] = {}
    for finding in filter(_waits, findings):
        waiting.setdefault(finding.rule.judges.text, finding.name)
    firsts = frozenset(name for judges, name in waiting.items() if judges not in judged_values)
    judged = (it for it in findings if it.verdict in JUDGED or (_waits(it) and (whole or it.name in firsts)))
    for _, of_rule in groupby(judged, key=lambda finding: finding.name):
        by_verdict = grouped(of_rule, _verdict_of)
        for verdict, alike in by_verdict.items():
            where = "" if len(by_verdict) == 1 and len(alike) > 1 else places(alike)
            yield RuleLine(verdict, where, tuple(alike))


def _waits(finding: Finding) -> bool:
    return finding.verdict is Verdict.NOT_MEASURED and bool(finding.shown_value)


def _verdict_of(finding: Finding) -> str:
    if _waits(finding):
        return OPEN
    return "accepted" if finding.concession else str(finding.verdict)


def joined(first: str, *second: str) -> str:
    """Two quantities in one unit, which is said once."""
    if not second:
        return first
    (number, _, unit), (_, _, other) = first.partition(" "), second[0].partition(" ")
    return f"{number if unit == other else first} to {second[0]}"


def system_lines(report: Report) -> list[SystemLine]:
    """Every system in which something is within; the nearest to a limit first."""
    lines: list[SystemLine] = []
    counts = {rule.name: count for rule, count in report.rules_with(Verdict.WITHIN)}
    for system in report.systems:
        own = [judged for judged in report.judged if judged.rule.rule.system == system and judged.rule.name in counts]
        if own:
            within = sum(counts[judged.rule.name] for judged in own)
            nearest, closeness = _nearest([judged for judged in own if _has_a_distance(judged.rule)], report)
            lines.append(SystemLine(system, within, nearest, closeness))
    return sorted(lines, key=lambda line: line.closeness)


def _has_a_distance(rule: CompiledRule) -> bool:
    """Whether the distance to a limit says something: what has no dimension was often chosen to lie on its limit."""
    return not rule.is_demand and rule.unit.dimension != DIMENSIONLESS


def _nearest(rules: Sequence[Judged], report: Report) -> tuple[str, float]:
    """The value within that is nearest to a limit, and how near: as a part of the band, or else of the limit."""
    if not rules:
        return "", math.inf
    codes = np.concatenate([judged.codes[0] for judged in rules])
    limits = np.concatenate([judged.measures.limits[:, 0] for judged in rules], axis=1)
    margins = np.concatenate([judged.measures.margins[:, 0] for judged in rules], axis=1)
    scales = np.where(np.isfinite(limits), np.abs(limits), np.nan)
    for low, high in ((0, 3), (1, 2)):
        with np.errstate(invalid="ignore"):
            width = limits[high] - limits[low]
        scales[[low, high]] = np.where(np.isfinite(width), width, scales[[low, high]])
    parts = np.full_like(limits, np.inf)
    np.divide(margins, scales, out=parts, where=(scales > 0) & np.isfinite(limits))
    nearness = np.where(codes == Verdict.WITHIN, np.nan_to_num(parts, nan=np.inf).min(axis=0), np.inf)
    place = int(nearness.argmin())
    closeness = float(nearness[place])
    places = [(judged, station) for judged in rules for station in range(judged.codes.shape[1])]
    return _in_words(*places[place], report) if math.isfinite(closeness) else "", closeness


def _in_words(judged: Judged, station: int, report: Report) -> str:
    here = Standpoint(judged, station, Verdict.WITHIN, report.context, Beside.of(judged, report.context))
    name = place_name(judged.rule.stations, station, report.context)
    _, margin = here.nearest()
    return f"{judged.rule.rule.title}{f', {name}' if name else ''}, by {write_quantity(margin, difference(here.unit))}"


def key_figures(judged: Iterable[tuple[str, Sequence[RuleLine]]]) -> list[RuleLine]:
    """The figures nearest to what is required, one a system and then more, in the order of the build."""
    systems = [sorted(filter(_is_a_figure, lines), key=_distance) for _, lines in judged]
    firsts = sorted((lines[0] for lines in systems if lines), key=_distance)
    others = sorted((line for lines in systems for line in lines[1:]), key=_distance)
    chosen = {id(line) for line in [*firsts, *others][:MOST_KEY_FIGURES]}
    return [line for lines in systems for line in lines if id(line) in chosen]


def _is_a_figure(line: RuleLine) -> bool:
    """Whether it has a size with a limit; a bare share was often chosen to lie on its limit."""
    nearest = line.nearest
    has_size = nearest.unit is not None and nearest.unit.dimension != DIMENSIONLESS and math.isfinite(nearest.value)
    return line.verdict != OPEN and has_size and bool(nearest.edges) and not nearest.rule.is_demand


def _distance(line: RuleLine) -> tuple[bool, float]:
    """What is required before what is only recommended; how far from the limit, as a part of the band or the limit."""
    required = min(_distances(line.nearest, "must"), default=math.inf)
    return (
        (False, required) if required < math.inf else (True, min(_distances(line.nearest, "should"), default=math.inf))
    )


def _distances(finding: Finding, band: str) -> Iterator[float]:
    ends = [edge for edge in finding.edges if edge.band == band and math.isfinite(edge.value)]
    width = abs(ends[0].value - ends[-1].value) if len(ends) > 1 else abs(ends[0].value) if ends else 0.0
    if len(ends) > 1 and min(edge.value for edge in ends) > 0.0:
        # Of a band so wide that it only tells what is possible, the value itself is the measure.
        width = min(width, abs(finding.value))
    for edge in ends:
        inside = finding.value - edge.value if edge.side == "low" else edge.value - finding.value
        yield inside / width if width else math.inf
