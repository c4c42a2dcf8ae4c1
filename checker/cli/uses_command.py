"""`checker uses`: one record judged for every use side by side, or from one use to another."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence

from checker.cli.look import look_for, say
from checker.cli.output import write_out
from checker.cli.progress import counted
from checker.cli.record_file import record_given
from checker.errors import Problem, UsageError
from checker.findings.text import Look
from checker.plugins import gather
from checker.records.record import Record
from checker.uses import Use, changes, uses_of
from checker.uses_forms import change_json, change_markdown, uses_json, uses_markdown, write_change, write_uses


def run(options: Namespace) -> int:
    """Show which uses the build suits and why not; the status is that of the record's own use, or of the other use."""
    plugins = gather(without=options.without)
    record = record_given(options.record, plugins, options.pack)
    pair = _pair(options, record)
    uses = list(counted(uses_of(record, plugins, *options.pack, only=pair), "judging for each use"))
    look = look_for(options.output)
    write = say if options.format == "text" else write_out
    if pair:
        was, now = (next(use for use in uses if use.application == name) for name in pair)
        write(_changed(record.assembly, (was, now), options.format, look), options.output)
        return now.report.status
    write(_side_by_side(record.assembly, uses, options.format, look), options.output)
    return next((use for use in uses if use.application == record.application), uses[0]).report.status


def _pair(options: Namespace, record: Record) -> tuple[str, ...]:
    """The two uses asked for; the first is the record's own where only the other is named."""
    if options.to is None and options.from_use is None:
        return ()
    if options.to is None:
        raise UsageError(Problem("--from names one use, and the other is missing", hint="name it with --to USE"))
    return options.from_use or record.application, options.to


def _side_by_side(assembly: str, uses: Sequence[Use], form: str, look: Look) -> str:
    if form == "text":
        return write_uses(assembly, uses, look)
    if form == "html":
        from checker.html.uses_page import write_uses_html  # few runs write pages

        return write_uses_html(assembly, uses)
    return {"json": uses_json, "markdown": uses_markdown}[form](assembly, uses)


def _changed(assembly: str, pair: tuple[Use, Use], form: str, look: Look) -> str:
    changed = changes(pair[0].report, pair[1].report)
    if form == "text":
        return write_change(assembly, pair, changed, look)
    if form == "html":
        from checker.html.uses_page import write_change_html

        return write_change_html(assembly, pair, changed)
    return {"json": change_json, "markdown": change_markdown}[form](assembly, pair, changed)
