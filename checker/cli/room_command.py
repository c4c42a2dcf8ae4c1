"""`checker room`: how far a value may move each way before a rule says something worse of it than now."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable

from checker.cli.check_command import terms_asked_for
from checker.cli.look import say
from checker.cli.progress import progress
from checker.cli.record_file import record_given
from checker.errors import Problem, UsageError
from checker.plugins import gather
from checker.records.record import Record
from checker.room import Room
from checker.rulebook import Rulebook, rulebook_for


def run(options: Namespace) -> int:
    """Say it of each value asked for, a line each."""
    plugins = gather(without=options.without)
    record = record_given(options.record, plugins, options.pack)
    with progress("trying values") as step:
        rulebook = rulebook_for(record, *options.pack, plugins=plugins)
        lines = [f"{_room(rulebook, record, asked, options, step)}\n" for asked in options.value]
    say("".join(lines))
    return 0


def _room(rulebook: Rulebook, record: Record, asked: str, options: Namespace, step: Callable[[str], None]) -> Room:
    """Of one value, written NAME@STATION."""
    step(asked)
    name, _, station = asked.partition("@")
    if station and not station.isdecimal():
        raise UsageError(Problem(f"{station!r} is no number of a station", hint=f"as in {name}@1"))
    return rulebook.room(
        record,
        name,
        int(station) if station else None,
        musts_only=options.musts,
        application=options.application,
        **terms_asked_for(options),
    )
