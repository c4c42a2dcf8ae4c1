"""`checker next`: what stands between the build and its next milestone."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from checker.cli.check_command import judged
from checker.cli.look import look_for, say
from checker.findings.text import Look, sentence
from checker.judging.judge import Verdict
from checker.plugins import gather
from checker.reports.report import Report
from checker.reports.text import cautions
from checker.reports.work import Work, tasks, work_of


def run(options: Namespace) -> int:
    """List what to fix, find out and measure, milestone by milestone; the status is the report's."""
    report = judged(options, gather(without=options.without))
    say("\n".join(_lines(report, look_for(None))) + "\n")
    return report.status


def _lines(report: Report, look: Look) -> Iterator[str]:
    yield f"{report.record.assembly}, {report.context.application_title}"
    for flag in report.suspect_sheets:
        yield from look.labelled("suspect", str(flag), Verdict.UNDECIDED)
    busy = [work for work in work_of(report) if work.stands_in_the_way]
    if not busy:
        aim = f" {report.context.milestones[report.before]}" if report.before else ""
        yield look.paint(f"Nothing stands in the way{aim}.", Verdict.WITHIN)
    if report.extent:
        yield sentence(report.extent)
    yield from (f"Not asked by policy: {rule.rule.title}, {why}." for rule, why in report.left_out)
    for work in busy:
        yield ""
        yield work.title[:1].upper() + work.title[1:]
        yield from _to_do(work, look)
    if report.cautions:
        yield ""
        yield from cautions(report, look)


def _to_do(work: Work, look: Look) -> Iterator[str]:
    for label, verdict, texts in (
        ("fix", Verdict.OUTSIDE, [str(task) for task in tasks(work.fix)]),
        ("decide", Verdict.UNDECIDED, [str(task) for task in tasks(work.decide)]),
        ("find out", Verdict.NOT_MEASURED, map(str, work.find_out)),
        ("measure", Verdict.NOT_MEASURED, work.measure),
        ("caution", None, work.cautions),
    ):
        for text in texts:
            yield from look.labelled(label, text, verdict)
