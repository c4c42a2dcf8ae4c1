"""`checker batch`: judge tables of many assemblies into a folder, part by part."""

from __future__ import annotations

import gc
import json
from argparse import Namespace
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path

from checker.cli.check_command import decision_asked_for
from checker.cli.look import say
from checker.cli.named_values import named_values
from checker.cli.output import save
from checker.cli.progress import progress
from checker.documents.document import read_bytes
from checker.errors import CheckerError, InputError, Problem, UsageError, needing
from checker.plugins import gather

with needing("fleet", "tables cannot be judged"):
    from checker.fleet.judging import told_of
    from checker.fleet.parts import Part, parts_of
    from checker.fleet.plan import ROWS, Asked, Plan, head_for, plan_of
    from checker.fleet.run import Totals, complete, finished, forget, head_of, judge_part, prepared
    from checker.fleet.sources import open_source
    from checker.fleet.summary import status_of, summary_data, write_set_aside, write_summary


def run(options: Namespace) -> int:
    """Judge what is not judged yet, and sum up; the status is that of the worst assembly."""
    gc.enable()  # this runs for long
    if options.output is None:
        raise UsageError(Problem("--output is a folder here", hint="as in --output judged"))
    folder = Path(options.output)
    plan = plan_asked_for(options, _day(options))
    with progress("looking through the tables") as step:
        sources = []
        for number, table in enumerate(options.tables, 1):
            step(f"{number} of {len(options.tables)}")
            sources.append(open_source(table, plan.asked.rows))
        if twice := [path for path, count in Counter(source.path for source in sources).items() if count > 1]:
            raise UsageError([Problem(f"{path} is given twice") for path in twice])
        parts = parts_of(sources, plan.asked.rows, plan.name_column, plan.is_long)
    head = head_for(plan, sources)
    with prepared(folder, head, options.start_over):
        totals, waiting = finished(parts, folder)
        rows = sum(source.rows for source in sources)
        try:
            with progress("judging", patience=0.0) as step:
                _look_at_columns(plan, waiting)
                for done in _judged(plan, waiting, folder.resolve(), options):
                    totals = totals.plus(done)
                    step(f"{totals.read:,} of {rows:,} rows")
        except CheckerError:
            forget(folder)  # a mistyped column: the command put right is no other run
            raise
        complete(rows, totals)
        summary = write_summary(totals, head, folder)
        write_set_aside(folder)
        save(summary, folder / "summary.txt")
        save(json.dumps(summary_data(totals, head), indent=1) + "\n", folder / "summary.json")
    say(summary)
    return status_of(totals)


def plan_asked_for(options: Namespace, day: date) -> Plan:
    """What is asked of tables on a day; raises as reading the record and the packs does."""
    if not (options.base or options.application):
        hint = "give --application, or --record with a record of what is alike for all"
        raise UsageError(Problem("nothing says what the assemblies will be used for", hint=hint))
    record = f"record: 1\nassembly: table\napplication: {json.dumps(options.application)}\n"
    if options.base:
        try:
            record = read_bytes(Path(options.base)).decode("utf-8-sig")
        except UnicodeDecodeError:
            raise InputError(Problem(f"{options.base} is not UTF-8 text")) from None
    decision = decision_asked_for(options)
    asked = Asked(
        record=record,
        pack=options.pack,
        layout=options.layout,
        assembly=options.assembly,
        columns=named_values(options.column, "--column", "size=shaft_diameter@2") or None,
        instruments=named_values(options.instrument, "--instrument", "shaft_diameter=micrometer") or None,
        application=options.application,
        before=options.before,
        decision=None if decision is None else decision.rule,
        probability=None if decision is None else decision.probability,
        on=day.isoformat(),
        inspection=options.inspection,
        rows=options.rows or ROWS[options.layout],
    )
    return plan_of(asked, gather(without=options.without), options.base or "the record")


def _day(options: Namespace) -> date:
    """The day asked for, else that of the run that is gone on with, else today."""
    before = None if options.start_over else head_of(Path(options.output))
    return options.on or date.fromisoformat(before["on"] if before else date.today().isoformat())


def _look_at_columns(plan: Plan, parts: Iterable[Part]) -> None:
    """Judge a row of each kind of columns, where files differ in them: what is wrong must not stop a run half done."""
    by_columns = {(part.source.kind, part.source.columns): part for part in parts}
    for part in by_columns.values() if len(by_columns) > 1 else ():
        for _ in told_of(plan, part._replace(stop=part.first + 1), ()):
            pass


def _judged(plan: Plan, parts: Iterable[Part], folder: Path, options: Namespace) -> Iterator[Totals]:
    waiting = list(parts)
    if not (options.workers or options.cluster) or not waiting:
        return (judge_part(plan, part, folder) for part in waiting)
    with needing("fleet", "there are no workers"):
        from checker.fleet.cluster import judged_by_workers  # few runs need it, and it takes long to import
    return judged_by_workers(plan, waiting, folder, options.workers, options.cluster)
