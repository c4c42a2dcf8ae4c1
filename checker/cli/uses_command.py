"""`checker uses`: one record judged for every use side by side."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence

from checker.cli.output import coloured, is_coloured, put
from checker.finding import listed
from checker.judge import Verdict
from checker.plugins import gather
from checker.record import read_record
from checker.report_text import Paint, plain
from checker.uses import Use, uses_of

MOST_REASONS = 6
_VERDICTS = {"suits": Verdict.WITHIN, "does not suit": Verdict.OUTSIDE, "not known": Verdict.NOT_MEASURED}


def run(options: Namespace) -> int:
    """Show which uses the build suits and why not; the status is that of the record's own use."""
    plugins = gather()
    record = read_record(options.record, plugins.record_readers)
    uses = list(uses_of(record, plugins, *options.pack))
    put("\n".join(_lines(record.assembly, uses, coloured if is_coloured() else plain)) + "\n", None)
    own = next((use for use in uses if use.application == record.application), uses[0])
    return own.report.status


def _lines(assembly: str, uses: Sequence[Use], paint: Paint) -> Iterator[str]:
    width = max(len(use.application) for use in uses)
    yield assembly
    for use in uses:
        counts = use.report.counts
        told = (
            f"{counts[Verdict.OUTSIDE]} outside, {counts[Verdict.ADVISORY]} advisory, {counts[Verdict.WITHIN]} within"
        )
        answer = paint(f"{use.answer:13}", _VERDICTS[use.answer])
        yield f"  {use.application:{width}}  {answer}  {told}"
    for use in uses:
        if use.reasons:
            yield ""
            yield f"{use.application} ({use.title}): {use.answer}, because"
            yield from _reasons(use)


def _reasons(use: Use) -> Iterator[str]:
    for finding in use.reasons[:MOST_REASONS]:
        if finding.verdict is Verdict.OUTSIDE and finding.band("must"):
            yield f"  - {finding}; must be {finding.band('must')}"
        else:
            why = "; ".join((*listed(finding.missing), *finding.remarks))
            yield f"  - {finding}{f': {why}' if why else ''}"
    more = len(use.reasons) - MOST_REASONS
    if more > 0:
        yield f"  - and {more} more"
