"""`checker compare-packs`: what changes between two packs, and for whom."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict

from checker.cli.look import look_for, say
from checker.cli.output import write_json
from checker.cli.progress import counted, progress
from checker.cli.record_file import record_given
from checker.findings.finding import numbered
from checker.judging.judge import Verdict
from checker.plugins import gather
from checker.rulebook import Rulebook, load_rulebook
from checker.vetting.comparison import Comparison, compare
from checker.vetting.record_comparison import NO_RULE, Judges, RecordChange, Turned, compared_records

DIFFERENT, UNUSABLE = 1, 2
_NEW_AND_WAITING = (NO_RULE, str(Verdict.NOT_MEASURED))


def run(options: Namespace) -> int:
    """Compare two packs in effect and list the records whose verdicts change; the status is 1 when anything does.

    Where nothing does, but a record cannot be judged, nobody knows it of that one: that is a mistake in the input.
    """
    plugins = gather(without=options.without)
    with progress("comparing"):
        old, new = (load_rulebook(pack, plugins=plugins) for pack in (options.old, options.new))
        result = compare(old, new)
    other = " with another content" if str(old) == str(new) and _digests(old) != _digests(new) else ""
    judges = (Judges(options.old, plugins), Judges(options.new, plugins))
    given = (record_given(path, plugins) for path in options.record)
    compared = compared_records(given, *judges, options.application)
    records = list(counted(compared, "judging by both"))
    changed = [record for record in records if record.is_one]
    if options.format == "json":
        told = {"records_changed": changed, "records_unknown": [record for record in records if record.is_unknown]}
        in_full = {key: [asdict(each) for each in those] for key, those in told.items()}
        data = {**asdict(result), "records": len(options.record), **in_full}
        write_json(data)
    else:
        say("\n".join((*_lines(result, other), *_record_lines(records, len(options.record)))) + "\n")
    if changed or not result.is_empty:
        return DIFFERENT
    return UNUSABLE if any(record.is_unknown for record in records) else 0


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
    yield from (f"  not asked any more: {retired}" for retired in result.retired)
    for change in (*result.policy_changed, *result.rules_changed, *result.characteristics_changed):
        yield change.name
        yield from (f"  {line}" for line in change.lines)
    yield from result.without_effect


def _record_lines(records: Sequence[RecordChange], count: int) -> Iterator[str]:
    if not count:
        return
    yield ""
    changed = {record.source for record in records if record.is_one}
    unknown = {record.source for record in records if record.is_unknown}
    beside = f", {len(unknown)} that neither can judge" if unknown else ""
    yield f"{count} record{'s' * (count > 1)}, {len(changed) or 'none'} with changed verdicts{beside}"
    for record in records:
        if record.is_one or record.is_unknown or count == 1:
            use = record.new_use if record.old_use == record.new_use else f"{record.old_use} -> {record.new_use}"
            is_told_once = record.is_unknown or record.old == record.new
            status = record.new if is_told_once else f"{record.old} -> {record.new}"
            yield f"{record.source} ({record.assembly}), for {use}: {status}"
            yield from _turned_lines(record.turned)
            for side, names in (("old", record.only_old), ("new", record.only_new)):
                if names:
                    yield f"  only the {side} pack has, so the other judged without: {', '.join(names)}"
            if not (record.is_one or record.is_unknown):
                yield "  no verdict changes"


def _turned_lines(turned: Iterable[Turned]) -> Iterator[str]:
    """Stations that turned alike as one line; rules that only wait to be measured as one more."""
    alike: dict[tuple[str, str, str], list[Turned]] = {}
    for change in turned:
        alike.setdefault((change.rule, change.old, change.new), []).append(change)
    waiting = [rule for rule, old, new in alike if (old, new) == _NEW_AND_WAITING]
    for (rule, old, new), changes in alike.items():
        if (old, new) != _NEW_AND_WAITING:
            where = numbered((change.where, change.station) for change in changes)
            yield f"  {rule}{f', {where}' if where else ''}: {old} -> {new}"
    if waiting:
        yield from look_for(None).wrapped(f"rules added, and not measured yet: {', '.join(waiting)}", "  ")
