"""`checker uses`: one record judged for every use side by side."""

from __future__ import annotations

import math
import textwrap
from argparse import Namespace
from collections.abc import Iterator, Sequence

from checker.cli.output import coloured, is_coloured, put
from checker.findings.finding import Finding, listed, places
from checker.findings.text import WIDTH, Paint, plain
from checker.html.uses_page import write_uses_html
from checker.judging.judge import Verdict
from checker.plugins import gather
from checker.records.record import read_record
from checker.uses import Use, uses_of

MOST_REASONS = 6
_VERDICTS = {"suits": Verdict.WITHIN, "does not suit": Verdict.OUTSIDE, "not known": Verdict.NOT_MEASURED}


def run(options: Namespace) -> int:
    """Show which uses the build suits and why not; the status is that of the record's own use."""
    plugins = gather()
    record = read_record(options.record, plugins.record_readers)
    uses = list(uses_of(record, plugins, *options.pack))
    put(_written(record.assembly, uses, options), options.output)
    own = next((use for use in uses if use.application == record.application), uses[0])
    return own.report.status


def _written(assembly: str, uses: Sequence[Use], options: Namespace) -> str:
    if options.format == "html":
        return write_uses_html(assembly, uses)
    paint = coloured if options.output is None and is_coloured() else plain
    return "\n".join(_lines(assembly, uses, paint)) + "\n"


def _lines(assembly: str, uses: Sequence[Use], paint: Paint) -> Iterator[str]:
    width = max(len(use.application) for use in uses)
    yield assembly
    for use in uses:
        answer = paint(f"{use.answer:13}", _VERDICTS[use.answer])
        yield f"  {use.application:{width}}  {answer}  {_counts(use)}"
    for use in uses:
        if use.reasons:
            yield ""
            yield f"{use.application} ({use.title}): {use.answer}, because"
            yield from _reasons(use)


def _counts(use: Use) -> str:
    counts = use.report.counts
    shown = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.SEEN, Verdict.WITHIN)
    told = ", ".join(f"{counts[verdict]} {verdict}" for verdict in shown if counts[verdict])
    return "; ".join(filter(None, (told, use.report.extent)))


def _reasons(use: Use) -> Iterator[str]:
    by_rule: dict[str, list[Finding]] = {}
    for finding in use.reasons:
        by_rule.setdefault(finding.name, []).append(finding)
    for findings in list(by_rule.values())[:MOST_REASONS]:
        yield from textwrap.wrap(_reason(findings), WIDTH, initial_indent="  - ", subsequent_indent="    ")
    more = len(by_rule) - MOST_REASONS
    if more > 0:
        yield f"  - and {more} more"


def _reason(findings: Sequence[Finding]) -> str:
    """One rule and all the stations at which it is broken or not known."""
    worst = min(findings, key=lambda finding: finding.margin if math.isfinite(finding.margin) else math.inf)
    where = places(findings)
    heading = f"{worst.title}, {where}" if where else worst.title
    if worst.verdict is Verdict.OUTSIDE and worst.shown_value:
        at_worst = " at the worst" if len({finding.shown_value for finding in findings}) > 1 else ""
        return f"{heading}: {worst.shown_value}{at_worst}; must be {worst.band('must')}"
    why = (*listed(gap for finding in findings for gap in finding.missing), *worst.remarks)
    return ": ".join([heading, str(worst.verdict), *(["; ".join(why)] if why else [])])
