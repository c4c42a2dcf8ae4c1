"""Questions at the terminal."""

from __future__ import annotations

from collections.abc import Mapping

from checker.cli.output import write_out
from checker.documents.printable import printable
from checker.errors import Problem, UsageError, nearest
from checker.rule_search import having, words_in


def ask(question: str, usual: str = "") -> str:
    """What is typed, or else the usual; raises UsageError where the answers end."""
    try:
        typed = input(printable(f"{question}{f' [{usual}]' if usual else ''} ")).strip()
    except EOFError:
        raise UsageError(Problem("the questions were not answered to the end; nothing was written")) from None
    return typed or usual


def choose(question: str, titles: Mapping[str, str], none: str = "") -> str:
    """The name of one of some things listed by title: typed as its number, its name, or words only it has.

    `none` says what Enter stands for, where nothing need be chosen.
    """
    names = list(titles)
    write_out("".join(f"  {number:2}  {title}\n" for number, title in enumerate(titles.values(), 1)), None)
    while True:
        typed = ask(f"{question}{f' Enter: {none}.' if none else ''}")
        if not typed and none:
            return ""
        if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(names):
            return names[int(typed) - 1]
        if meant := _meant(typed, titles):
            return meant
        hint = nearest(typed, titles) or f"a number from 1 to {len(names)}, or words that only one has"
        write_out(f"  {hint}\n", None)


def _meant(typed: str, titles: Mapping[str, str]) -> str:
    """The one whose name or title this is, or the only one with these words."""
    exact = [name for name, title in titles.items() if typed.casefold() in (name.casefold(), title.casefold())]
    names = exact or having(typed, [(name, words_in(f"{name} {title}")) for name, title in titles.items()])
    return names[0] if len(names) == 1 else ""
