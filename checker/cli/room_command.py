"""`checker room`: how far a value may move each way before a rule says something worse of it than now."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.check_command import decision_asked_for
from checker.cli.output import put
from checker.errors import Problem, UsageError
from checker.plugins import gather
from checker.records.record import read_record
from checker.rulebook import rulebook_for


def run(options: Namespace) -> int:
    """Say it of each value asked for, a line each."""
    plugins = gather(without=options.without)
    record = read_record(options.record, plugins.record_readers)
    rulebook = rulebook_for(record, *options.pack, plugins=plugins)
    lines = []
    for asked in options.value:
        name, _, station = asked.partition("@")
        if station and not station.isdecimal():
            raise UsageError(Problem(f"{station!r} is no number of a station", hint=f"as in {name}@1"))
        room = rulebook.room(
            record,
            name,
            int(station) if station else None,
            musts_only=options.musts,
            application=options.application,
            before=options.before,
            decision=decision_asked_for(options),
            on=options.on,
            inspection=options.inspection,
        )
        lines.append(f"{room}\n")
    put("".join(lines), None)
    return 0
