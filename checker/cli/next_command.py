"""`checker next`: what stands between the build and its next milestone."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from checker.cli.check_command import judged
from checker.cli.output import coloured, is_coloured, put
from checker.findings.text import Paint, labelled, plain, sentence
from checker.judging.judge import Verdict
from checker.plugins import gather
from checker.reports.report import Report
from checker.reports.work import Work, tasks, work_of


def run(options: Namespace) -> int:
    """List what to fix and what to measure, milestone by milestone; the status is the report's."""
    report = judged(options, gather(without=options.without))
    put("\n".join(_lines(report, coloured if is_coloured() else plain)) + "\n", None)
    return report.status


def _lines(report: Report, paint: Paint) -> Iterator[str]:
    yield f"{report.record.assembly}, {report.application}"
    for flag in report.suspect_sheets:
        yield from labelled(paint("suspect", Verdict.UNDECIDED), str(flag), len("suspect"))
    busy = [work for work in work_of(report) if work.stands_in_the_way]
    if not busy:
        aim = f" {report.context.milestones[report.before]}" if report.before else ""
        yield paint(f"Nothing stands in the way{aim}.", Verdict.WITHIN)
    if report.extent:
        yield sentence(report.extent)
    yield from (f"Not asked by policy: {rule.rule.title}, {why}." for rule, why in report.left_out)
    for work in busy:
        yield ""
        yield work.title[:1].upper() + work.title[1:]
        yield from _to_do(work, paint)


def _to_do(work: Work, paint: Paint) -> Iterator[str]:
    for label, verdict, things in (
        ("fix", Verdict.OUTSIDE, [str(task) for task in tasks(work.fix)]),
        ("decide", Verdict.UNDECIDED, [str(task) for task in tasks(work.decide)]),
        ("measure", Verdict.NOT_MEASURED, work.measure),
    ):
        for thing in things:
            yield from labelled(paint(label, verdict), thing, len(label))
