"""`checker next`: what stands between the build and its next milestone."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from checker.cli.check_command import judged
from checker.cli.output import coloured, is_coloured, put
from checker.finding import Finding, Gap, listed
from checker.judge import Verdict
from checker.plugins import gather
from checker.report import Report
from checker.report_text import Paint, plain


def run(options: Namespace) -> int:
    """List what to mend and what to measure, milestone by milestone; the status is the report's."""
    report = judged(options, gather())
    put("\n".join(_lines(report, coloured if is_coloured() else plain)) + "\n", None)
    return report.status


def _lines(report: Report, paint: Paint) -> Iterator[str]:
    open_milestones = [name for name in report.milestones if _blocks(report, name)]
    yield f"{report.record.assembly}, {report.application}"
    if not open_milestones:
        aim = f" before {report.before}" if report.before else ""
        yield paint(f"Nothing stands in the way{aim}.", Verdict.WITHIN)
        return
    for milestone in open_milestones:
        yield ""
        yield f"Before {milestone}"
        yield from _to_mend(report, milestone, paint)
        yield from _to_measure(report, milestone, paint)


def _blocks(report: Report, milestone: str) -> bool:
    return any(finding.rule.rule.before == milestone for finding in _standing(report))


def _standing(report: Report) -> Iterator[Finding]:
    for finding in report.with_verdict(Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.NOT_MEASURED):
        if finding.breaks_must or finding.must_open:
            yield finding


def _to_mend(report: Report, milestone: str, paint: Paint) -> Iterator[str]:
    for finding in _standing(report):
        if finding.rule.rule.before == milestone and finding.verdict is not Verdict.NOT_MEASURED:
            where = f", {finding.where}" if finding.where else ""
            what = finding.remedy or "; ".join(finding.remarks) or f"must {finding.band('must')}"
            value = f" ({finding.shown_value})" if finding.shown_value else ""
            yield paint(f"  mend     {finding.title}{where}{value}: {what}", finding.verdict)


def _to_measure(report: Report, milestone: str, paint: Paint) -> Iterator[str]:
    gaps: list[Gap] = []
    for finding in _standing(report):
        if finding.rule.rule.before == milestone and finding.verdict is Verdict.NOT_MEASURED:
            gaps.extend(finding.missing)
    for words in listed(gaps):
        yield paint(f"  measure  {words}", Verdict.NOT_MEASURED)
