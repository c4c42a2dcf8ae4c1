"""`checker compare`: what changes between two packs, and for whom."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import asdict

from checker.cli.output import put
from checker.plugins import gather
from checker.rulebook import Rulebook, load_rulebook
from checker.vetting.comparison import Comparison, compare
from checker.vetting.record_comparison import Judges, RecordChange, changed_records

DIFFERENT = 1


def run(options: Namespace) -> int:
    """Compare two packs in effect and list the records whose verdicts change; the status is 1 when anything does."""
    plugins = gather(without=options.without)
    old, new = (load_rulebook(pack, plugins=plugins) for pack in (options.old, options.new))
    result = compare(old, new)
    other = " with another content" if str(old) == str(new) and _digests(old) != _digests(new) else ""
    judges = (Judges(options.old, plugins), Judges(options.new, plugins))
    records = list(changed_records(options.record, *judges, plugins))
    if options.format == "json":
        data = {**asdict(result), "records": len(options.record), "records_changed": [asdict(each) for each in records]}
        put(json.dumps(data, indent=2) + "\n", None)
    else:
        put("\n".join((*_lines(result, other), *_record_lines(records, len(options.record)))) + "\n", None)
    return 0 if result.is_empty and not records else DIFFERENT


def _digests(book: Rulebook) -> list[str]:
    return [pack.digest for pack in book.packs]


def _lines(result: Comparison, remark: str) -> Iterator[str]:
    yield f"{result.old} -> {result.new}{remark}"
    if result.is_empty:
        yield "Both do the same."
    for title, names in (
        ("uses added", result.uses_added),
        ("uses gone", result.uses_gone),
        ("rules added", result.rules_added),
        ("rules gone", result.rules_gone),
    ):
        if names:
            yield f"{title}: {', '.join(names)}"
    for change in (*result.rules_changed, *result.characteristics_changed):
        yield change.name
        yield from (f"  {line}" for line in change.lines)
    yield from result.without_effect


def _record_lines(records: Sequence[RecordChange], count: int) -> Iterator[str]:
    if not count:
        return
    yield ""
    yield f"{count} records, {len(records) or 'none'} judged otherwise"
    for record in records:
        yield f"{record.source} ({record.assembly}): {record.old}" + (
            f" -> {record.new}" if record.new != record.old else ""
        )
        for turned in record.turned:
            where = f", {turned.where}" if turned.where else ""
            yield f"  {turned.rule}{where}: {turned.old} -> {turned.new}"
