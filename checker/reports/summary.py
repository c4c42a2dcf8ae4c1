"""What was judged in few lines: one for each rule with its values and limits, or one for each system."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

import numpy as np

from checker.findings.finding import Finding, places
from checker.findings.findings import findings_of
from checker.judging.judge import Judged, Verdict
from checker.notation.write import write_apart, write_quantity
from checker.reports.report import Report
from checker.units.dimensions import DIMENSIONLESS
from checker.units.units import difference

JUDGED = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.WITHIN)
"""The verdicts of what was measured and judged."""
TOLD = (*JUDGED, Verdict.NOT_MEASURED)
"""The same, and of what waits for something else though it was measured itself."""

OPEN = "open"


class RuleLine(NamedTuple):
    """All stations of a rule with the same verdict: where (empty for all of them), their values, and the limits.

    `action` is what to do about it, `waits_for` what an open one waits for; it is plain, where nothing needs adding.
    """

    title: str
    where: str
    stations: int
    values: str
    limits: str
    verdict: str
    remarks: tuple[str, ...]
    action: str
    waits_for: str
    is_plain: bool


class SystemLine(NamedTuple):
    """How many checks of a system are within, and the one of them that is nearest to a limit, in words."""

    system: str
    within: int
    nearest: str
    closeness: float


def rule_lines(findings: Sequence[Finding], whole: bool = True) -> Iterator[RuleLine]:
    """One line for each rule and verdict, in the order of the findings.

    Of several rules that judge the same, and where not the `whole` is wanted, one that waits is told only where none
    was judged, and once.
    """
    told = {str(it.rule.judges) for it in findings if it.verdict in JUDGED}
    waiting: dict[str, str] = {}
    for finding in filter(_waits, findings):
        waiting.setdefault(str(finding.rule.judges), finding.name)
    firsts = frozenset(name for judges, name in waiting.items() if judges not in told)
    judged = (it for it in findings if it.verdict in JUDGED or (_waits(it) and (whole or it.name in firsts)))
    for _, of_rule in groupby(judged, key=lambda finding: finding.name):
        by_verdict: dict[str, list[Finding]] = {}
        for finding in of_rule:
            by_verdict.setdefault(_told_as(finding), []).append(finding)
        for verdict, found in by_verdict.items():
            yield _rule_line(verdict, found, is_whole=len(by_verdict) == 1)


def _waits(finding: Finding) -> bool:
    return finding.verdict is Verdict.NOT_MEASURED and bool(finding.shown_value)


def _told_as(finding: Finding) -> str:
    if _waits(finding):
        return OPEN
    return "accepted" if finding.concession else str(finding.verdict)


def _rule_line(verdict: str, found: Sequence[Finding], is_whole: bool) -> RuleLine:
    nearest = min(found, key=lambda finding: math.inf if math.isnan(finding.margin) else finding.margin)
    return RuleLine(
        title=found[0].title,
        where="" if is_whole and len(found) > 1 else places(found),
        stations=len(found),
        values=values_of(found),
        limits="" if verdict == OPEN else limits_of(nearest),
        verdict=verdict,
        remarks=tuple(_remarks(found)),
        action=_action(nearest),
        waits_for=_waits_for(found),
        is_plain=not any(finding.under_choices for finding in found),
    )


def _waits_for(found: Iterable[Finding]) -> str:
    titles = dict.fromkeys(gap.title for finding in found for gap in finding.missing)
    return f"{len(titles)} more" if len(titles) > 1 else next(iter(titles), "")


def _action(finding: Finding) -> str:
    """What to do about advice that is missed or cannot be told, in a sentence."""
    if finding.verdict is Verdict.ADVISORY:
        told = finding.remedy or next(iter(finding.remarks), "")
    else:
        told = "read more exactly what it rests on" if finding.verdict is Verdict.UNDECIDED else ""
    return told.partition(". ")[0].rstrip(".")


def _remarks(found: Sequence[Finding]) -> Iterator[str]:
    """What comes out under which choice; where that says nothing, what is waited for."""
    told = dict.fromkeys(remark for finding in found for remark in finding.under_choices)
    if told:
        first, *others = told
        yield f"{first} (and {len(others)} more like it)" if others else first
    if not told and (waited := dict.fromkeys(gap.title for finding in found for gap in finding.missing)):
        yield f"waits for {'; '.join(waited)}"


def values_of(findings: Iterable[Finding]) -> str:
    """The value, or the least and the greatest of several, such as "0.0023 to 0.0026 in"."""
    known = [finding for finding in findings if finding.shown_value]
    unit = known[0].unit if known else None
    if unit is None:
        return ""
    ends = (min(finding.value for finding in known), max(finding.value for finding in known))
    return _joined(*dict.fromkeys(write_apart(unit, *ends)))


def limits_of(finding: Finding) -> str:
    """What is recommended, and where nothing is, what is required: "0.0020 to 0.0027 in"."""
    edges = {side: edge for edge in finding.edges for side in (edge.side,) if edge.band == "must"}
    edges |= {edge.side: edge for edge in finding.edges if edge.band == "should"}
    if not edges:
        return ""
    if len(edges) == 2:
        return _joined(finding.written(edges["low"].value), finding.written(edges["high"].value))
    side, edge = next(iter(edges.items()))
    return f"at {'least' if side == 'low' else 'most'} {finding.written(edge.value)}"


def _joined(first: str, *second: str) -> str:
    """Two quantities in one unit, which is said once."""
    if not second:
        return first
    (number, _, unit), (_, _, other) = first.partition(" "), second[0].partition(" ")
    return f"{number if unit == other else first} to {second[0]}"


def system_lines(report: Report) -> list[SystemLine]:
    """Every system in which something is within; the nearest to a limit first."""
    found: list[SystemLine] = []
    for system in report.systems:
        own = [judged for judged in report.judged if judged.rule.rule.system == system]
        within = sum(int((judged.codes == Verdict.WITHIN).sum()) for judged in own)
        if within:
            closeness, judged, station = min(map(_closest, own), key=lambda entry: entry[0])
            nearest = _told(judged, station, report) if math.isfinite(closeness) else ""
            found.append(SystemLine(system, within, nearest, closeness))
    return sorted(found, key=lambda line: line.closeness)


def _closest(judged: Judged) -> tuple[float, Judged, int]:
    """How near to a limit the nearest value that is within lies: as a part of the band, or else of the limit."""
    limits = judged.measures.limits[:, 0]
    # What has no dimension was often chosen to lie on its limit, like a share of fifty percent.
    if judged.rule.is_demand or judged.rule.unit.dimension == DIMENSIONLESS or not judged.codes.size:
        return math.inf, judged, 0
    scales = np.where(np.isfinite(limits), np.abs(limits), np.nan)
    for low, high in ((0, 3), (1, 2)):
        with np.errstate(invalid="ignore"):
            width = limits[high] - limits[low]
        scales[[low, high]] = np.where(np.isfinite(width), width, scales[[low, high]])
    parts = np.full_like(limits, np.inf)
    np.divide(judged.measures.margins[:, 0], scales, out=parts, where=(scales > 0) & np.isfinite(limits))
    nearest = np.where(judged.codes[0] == Verdict.WITHIN, np.nan_to_num(parts, nan=np.inf).min(axis=0), np.inf)
    station = int(nearest.argmin())
    return float(nearest[station]), judged, station


def _told(judged: Judged, station: int, report: Report) -> str:
    found = list(findings_of(judged, report.context, frozenset({Verdict.WITHIN})))
    finding = next(finding for finding in found if finding.station == station)
    where = f", {finding.where}" if finding.where else ""
    spare = write_quantity(finding.margin, difference(finding.unit)) if finding.unit is not None else ""
    return f"{finding.title}{where}, by {spare}"
