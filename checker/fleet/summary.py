"""What came of a run, in a few lines and as data."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pyarrow.parquet

from checker.documents.cells import inert
from checker.documents.replacing import replacing
from checker.errors import Problem, UsageError
from checker.fleet.run import TABLES, Totals
from checker.reports.report import BROKEN, HELD, NOT_JUDGED

_MOST_LINES = 10
_STATUSES = {
    BROKEN: "out of limits",
    NOT_JUDGED: "not complete: nothing out of limits, but a required check is open",
    HELD: "hold: every required check that was asked for was judged and holds",
}
_HEADINGS = {"outside": "Out of limits", "undecided": "Undecided", "advisory": "Beyond what is recommended"}


def status_of(totals: Totals) -> int:
    """The exit status, as of a check: 0 all that was read was judged and holds, 1 one is out of limits, 3 neither."""
    if totals.statuses.get(str(BROKEN)):
        return BROKEN
    return NOT_JUDGED if totals.statuses.get(str(NOT_JUDGED)) or totals.set_aside or not totals.judged else HELD


def summary_data(totals: Totals, head: Mapping[str, Any]) -> dict[str, Any]:
    """The same for programs."""
    assemblies = sum(totals.statuses.values())
    return {"status": status_of(totals), **totals._asdict(), "assemblies": assemblies, "run": dict(head)}


def write_summary(totals: Totals, head: Mapping[str, Any], folder: Path) -> str:
    """The same for people."""
    return "".join(f"{line}\n" for line in _lines(totals, head, folder))


def _lines(totals: Totals, head: Mapping[str, Any], folder: Path) -> Iterator[str]:
    tables = len(head["tables"])
    yield (
        f"{totals.read:,} rows read of {tables} table{'s' if tables > 1 else ''} = {totals.judged:,} judged + "
        f"{totals.set_aside:,} set aside"
    )
    assemblies = sum(totals.statuses.values())
    judged = f"judged by {', '.join(head['packs'])} for {head['application']}, on {head['on']}"
    yield "; ".join(filter(None, (f"{assemblies:,} assemblies {judged}", head["extent"])))
    for status, words in _STATUSES.items():
        if count := totals.statuses.get(str(status), 0):
            yield f"  {count:>9,} {words}"
    if totals.refused:
        readings, they = ("reading", "it counts") if totals.refused == 1 else ("readings", "they count")
        yield f"  {totals.refused:>9,} {readings} refused, not possible as written: {they} as not measured"
    yield from _most("A function failed: what rests on it is undecided, assemblies", totals.failed)
    for verdict, heading in _HEADINGS.items():
        prefix = f"{verdict}: "
        by_rule = {
            title.removeprefix(prefix): count for title, count in totals.findings.items() if title.startswith(prefix)
        }
        yield from _most(f"{heading}, findings by rule", by_rule)
    yield from _most("Set aside, rows by reason", totals.reasons)
    yield ""
    yield f"Tables: {', '.join(str(folder / name) for name in TABLES)}"


def _most(heading: str, counts: Mapping[str, int]) -> Iterator[str]:
    if counts:
        yield from ("", heading)
    ordered = Counter(counts).most_common()
    for words, count in ordered[:_MOST_LINES]:
        yield f"  {count:>9,} {words}"
    if left := ordered[_MOST_LINES:]:
        yield f"  {sum(count for _, count in left):>9,} {len(left)} others"


def write_set_aside(folder: Path) -> None:
    """All rows that were set aside as CSV, for a spreadsheet; raises UsageError where it cannot be written."""
    path = folder / f"{TABLES[2]}.csv"
    try:
        with replacing(path) as temporary, temporary.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(("file", "row", "assembly", "reason", "cells"))
            for part in sorted((folder / TABLES[2]).glob("*.parquet")):
                for line in pyarrow.parquet.read_table(part).to_pylist():
                    writer.writerow([inert(cell) if isinstance(cell, str) else cell for cell in line.values()])
    except OSError as error:
        raise UsageError(Problem(f"cannot write {path}: {error.strerror}")) from error
