"""What the plugin adds to the checker: a command, whose modules are imported when it is given."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Mapping

from checker import Command, hook

SUMMARY = "choose parts from a shelf so that every clearance reads within what counts for the use"


@hook
def commands() -> Mapping[str, Command]:
    """`checker select-fit`."""
    return {"select-fit": Command(SUMMARY, _arguments, _run)}


def _arguments(parser: ArgumentParser) -> None:
    from checker_select_fit.command import arguments

    arguments(parser)


def _run(options: Namespace) -> int:
    from checker_select_fit.command import run

    return run(options)
