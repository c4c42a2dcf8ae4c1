"""A parser whose help fits the terminal and which answers a mistake in a line, with the nearest that there is."""

from __future__ import annotations

import argparse
import re
import sys
import textwrap
from argparse import ArgumentTypeError
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple, NoReturn

from checker.cli.terminal import fitting, width_of
from checker.errors import nearest_name

USAGE_ERROR = 2
FAULTY = "2 the input or the command line is not usable, or the output cannot be written"
DONE = f"0 done; {FAULTY}"
_OPTION = re.compile(r"--.+|-[a-z][a-z-]+")
"""An option in a word, also where a hyphen is missing."""
_OF_A_USE = frozenset({"--application", "--for", "--to", "--use"})
"""What one command calls as another does not."""
_REQUIRED = "the following arguments are required: "


class OwnCommand(NamedTuple):
    """A command that comes with the checker: a sentence on it, its arguments, what a user would type, its statuses.

    `notes` say what options cannot; `failed` says what did not happen where its input cannot be used.
    """

    summary: str
    arguments: Callable[[Parser], None]
    examples: Sequence[str]
    statuses: str = DONE
    notes: Sequence[str] = ()
    failed: str = "nothing was judged"

    @property
    def ending(self) -> str:
        """What stands below the options in its help."""
        examples = (f"  {line}" for line in self.examples)
        return "\n".join(("examples:", *examples, "", *self.notes, f"exit status: {self.statuses}"))


class _Help(argparse.HelpFormatter):
    """As wide as the terminal; in a paragraph of its own the lines that begin with blanks stay as they are."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=26, width=width_of(sys.stdout))

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        lines = [[line] if line[:1] in ("", " ") else textwrap.wrap(line, width) for line in text.split("\n")]
        return "\n".join(f"{indent}{part}" for parts in lines for part in parts)


class Parser(argparse.ArgumentParser):
    """A parser as of argparse."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(formatter_class=_Help, **settings)

    def error(self, message: str) -> NoReturn:
        """One line, without the options that all could be given."""
        message = message.removeprefix("argument ")
        if message.startswith(_REQUIRED):
            message = f"{message.removeprefix(_REQUIRED)} is missing; see {self.prog} --help"
        mistake(f"`{self.prog}`: {message}")

    def unknown_options(self, given: Iterable[str]) -> list[str]:
        """A line for each option in a word that there is not, up to a lone `--`."""
        known = [name for action in self._actions for name in action.option_strings if name.startswith("--")]
        lines = []
        for text in given:
            if text == "--":
                break
            name = text.partition("=")[0]
            of_a_use = name in _OF_A_USE and name not in known  # --for is no short --format
            if of_a_use or (_OPTION.fullmatch(name) and not any(option.startswith(name) for option in known)):
                its_own = next(iter(_OF_A_USE.intersection(known)), "") if of_a_use else ""
                near = nearest_of(its_own or f"--{name.lstrip('-')}", known, f"{self.prog} --help")
                lines.append(f"`{self.prog} {name}`: no such option; {near}")
        return lines


def mistake(*lines: str) -> NoReturn:
    """End with the status of a usage error."""
    for line in lines:
        print(fitting(line, sys.stderr), file=sys.stderr)
    raise SystemExit(USAGE_ERROR)


def nearest_of(name: str, known: Iterable[str], listed_by: str) -> str:
    """The nearest there is, or all that begin like it, or else where all are listed."""
    known = list(known)
    near = nearest_name(name, known)
    alike = [near] if near else [other for other in known if other.startswith(f"{name}-")]
    return f"nearest: {', '.join(alike)}" if alike else f"{listed_by} lists all"


def one_of(*choices: str) -> dict[str, Any]:
    """The settings of an argument that is one of a few words."""

    def chosen(text: str) -> str:
        if text in choices:
            return text
        near = nearest_name(text, choices)
        there_is = f"nearest: {near}" if near else f"choose from {', '.join(choices)}"
        raise ArgumentTypeError(f"there is no {text!r}; {there_is}")

    return {"choices": choices, "type": chosen}
