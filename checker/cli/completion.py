"""Scripts by which bash, zsh and fish complete commands, options and the names that installed rule packs give."""

from __future__ import annotations

import argparse
from collections.abc import Collection, Iterator, Mapping

from checker.cli.pack_choice import uses_of
from checker.cli.parser import Parser, mistake
from checker.packs_asked import installed_packs
from checker.plugins import survey

_FILES = ("RECORD", "BEFORE", "AFTER", "FILE", "CSV", "REPORT", "TABLE")
_FOLDERS = ("DIR",)
_PACKS = ("PACK", "OLD", "NEW")


def completion_for(interpreter: str, parser: Parser) -> str:
    """The script for bash, zsh or fish; it knows the rule packs that are installed now."""
    try:
        import shtab
    except ImportError:
        mistake("completion needs shtab (python -m pip install 'assembly-checker[completion]')")
    names = _names()
    for action in _actions(parser):
        metavar = action.metavar if isinstance(action.metavar, str) else ""
        if metavar in _FILES:
            action.complete = shtab.FILE  # type: ignore[attr-defined]
        elif metavar in _FOLDERS:
            action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
        elif metavar in names:
            action.choices = names[metavar]
    return shtab.complete(parser, interpreter)


def _actions(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """Those of all commands."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for command in action.choices.values():
                yield from _actions(command)
        else:
            yield action


def _names() -> Mapping[str, Collection[str]]:
    """What may stand for a pack, a use, a milestone and a level of inspection, by what the help calls it."""
    packs = installed_packs(survey())
    milestones = dict.fromkeys(name for pack in packs.values() for name in pack.milestones)
    return {**{word: list(packs) for word in _PACKS}, "USE": list(uses_of(packs)), "MILESTONE": list(milestones)}
