"""From one use to another: which rules then judge a build differently, by which limits, and what there is to do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from checker.findings.finding import Finding
from checker.judging.judge import Verdict
from checker.reports.report import Report
from checker.reports.summary import MEASURE_BETTER, RuleLine

_SILENT = (Verdict.NOT_ASKED, Verdict.NOT_APPLICABLE, Verdict.NOT_COVERED)
"""The verdicts of rules that judge nothing here."""
_ORDER = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.NOT_MEASURED)


class RuleChange(NamedTuple):
    """The stations of one rule that one use judges alike, and so does the other: as it was, and as it is now."""

    was: RuleLine
    now: RuleLine

    @property
    def is_worse(self) -> bool:
        """Whether there is something to do that was not to be done before."""
        return self.now.nearest.verdict in _ORDER and self.now.verdict != self.was.verdict

    @property
    def do(self) -> str:
        """What to do about it, at the station that needs most; empty where nothing is to be done."""
        nearest = self.now.nearest
        if nearest.verdict is Verdict.NOT_MEASURED:
            missing = dict.fromkeys(gap.title for finding in self.now.findings for gap in finding.missing)
            return f"measure {'; '.join(missing)}" if missing else ""
        return nearest.remedy or (MEASURE_BETTER if nearest.verdict is Verdict.UNDECIDED else "")


def limits_told(line: RuleLine) -> str:
    """The limits one use holds it to; nothing of a rule that judges nothing."""
    return "" if line.nearest.verdict in _SILENT else line.limits


def changes(before: Report, after: Report) -> tuple[RuleChange, ...]:
    """What two reports on one record, each for its use, say differently: first what is broken now."""
    return tuple(sorted(_changes(before, after), key=_urgency))


def _changes(before: Report, after: Report) -> Iterator[RuleChange]:
    earlier = {(finding.name, finding.station): finding for finding in before.findings}
    alike: dict[tuple[str, Verdict, Verdict], list[tuple[Finding, Finding]]] = {}
    for now in after.findings:
        was = earlier.get((now.name, now.station))
        if was is not None and _differ(was, now):
            alike.setdefault((now.name, was.verdict, now.verdict), []).append((was, now))
    for pairs in alike.values():
        was_found, now_found = zip(*pairs, strict=True)
        yield RuleChange(_line(was_found), _line(now_found))


def _line(findings: tuple[Finding, ...]) -> RuleLine:
    return RuleLine("accepted" if findings[0].concession else str(findings[0].verdict), "", findings)


def _differ(was: Finding, now: Finding) -> bool:
    """Whether the verdict differs, or what a measured value is held to."""
    if {was.verdict, now.verdict} <= {*_SILENT}:
        return False
    if was.verdict is not now.verdict:
        return True
    return bool(now.shown_value) and [(e.band, e.side, e.value) for e in was.edges] != [
        (e.band, e.side, e.value) for e in now.edges
    ]


def _urgency(change: RuleChange) -> tuple[bool, int]:
    verdict = change.now.nearest.verdict
    return not change.is_worse, _ORDER.index(verdict) if verdict in _ORDER else len(_ORDER)
