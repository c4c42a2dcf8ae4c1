"""`checker sheet`: what is to be measured, laid out to be filled in."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Callable, Mapping

from checker.cli.named_values import is_count, named_counts, named_values
from checker.cli.output import write_out
from checker.cli.progress import progress
from checker.cli.record_file import record_given
from checker.errors import Problem, UsageError, needing
from checker.plugins import Plugins, gather
from checker.records.record import Record
from checker.rulebook import load_rulebook, rulebook_for
from checker.sheets.blank import blank_record
from checker.sheets.plan import Sheet, plan
from checker.sheets.write_csv import write_csv
from checker.sheets.write_html import write_html
from checker.sheets.write_yaml import write_yaml


def run(options: Namespace) -> int:
    """Write the sheet; the status is 0 once it is out."""
    write = _WRITERS[options.format]
    plugins = gather(without=options.without)
    record = record_given(options.record, plugins, options.pack) if options.record else None
    with progress("laying out the sheet"):
        sheet = write(_sheet(options, plugins, record))
    write_out(sheet, options.output)
    return 0


def _sheet(options: Namespace, plugins: Plugins, record: Record | None) -> Sheet:
    if record is not None:
        if given := [f"--{name}" for name in ("layout", "stations", "rows", "units") if getattr(options, name)]:
            raise UsageError(Problem(f"{', '.join(given)}: a record says that itself"))
        rulebook = rulebook_for(record, *options.pack, plugins=plugins)
    else:
        if not options.pack or not options.application:
            known = ", ".join(plugins.rule_packs)
            raise UsageError(Problem("a sheet needs a record, or --pack and --application", hint=f"packs: {known}"))
        rulebook = load_rulebook(*options.pack, plugins=plugins)
        rulebook.chain(options.application)
        rows = named_values(options.rows, "--rows", "gear=1-2/3-4")
        record = blank_record(
            rulebook,
            options.application,
            options.before,
            named_counts(_parts(options.stations)),
            {name: _rows(name, text) for name, text in rows.items()},
            named_values(_parts(options.units), "--units", "length=mm"),
            options.layout,
        )
    report = rulebook.check(record, options.application, before=options.before, inspection=options.inspection)
    return plan(rulebook, report, options.musts)


def _parts(text: str) -> list[str]:
    return [part for part in text.split(",") if part]


def _rows(name: str, text: str) -> tuple[tuple[int, ...], ...]:
    """The numbers of the stations of each row, from the front."""
    if not all(map(is_count, re.split("[-/]", text))):
        raise UsageError(Problem(f"--rows {name}={text}: not numbers of stations", hint="as in gear=1-2/3-4"))
    return tuple(tuple(map(int, row.split("-"))) for row in text.split("/"))


def _write_xlsx(sheet: Sheet) -> bytes:
    with needing("sheets", "workbooks cannot be written"):
        from checker.sheets.write_xlsx import write_xlsx  # slow to import
    return write_xlsx(sheet)


_WRITERS: Mapping[str, Callable[[Sheet], str | bytes]] = {
    "html": write_html,
    "xlsx": _write_xlsx,
    "csv": write_csv,
    "yaml": write_yaml,
}
