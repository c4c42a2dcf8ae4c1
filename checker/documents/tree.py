"""Builds plain data, with the place of every value, from keys and values in reading order.

The YAML and the JSON reader both feed this, so limits, duplicate keys and clean text are settled once.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Any, NoReturn, TypeAlias

from checker.errors import InputError, Place, Problem

KeyPath: TypeAlias = tuple[str | int, ...]
Position: TypeAlias = tuple[int, int]  # line and column, both from 1

MOST_NODES = 100_000  # keys and values together
DEEPEST = 24
LONGEST_SCALAR = 20_000
LONGEST_KEY = 200
MOST_PROBLEMS = 100


def dotted(path: KeyPath) -> str:
    """The path as messages show it."""
    return ".".join(map(str, path))


def first_forbidden(text: str) -> int | None:
    """Index of the first control, format, bidi, surrogate or odd space character."""
    if text.isprintable():
        return None
    return next((index for index, character in enumerate(text) if not character.isprintable()), None)


def _first_forbidden_in_lines(text: str) -> int | None:
    """Likewise, where line ends and tabs are allowed."""
    return first_forbidden(text.replace("\n", " ").replace("\t", " "))


def character_name(character: str) -> str:
    """A character in ASCII, safe to print."""
    name = unicodedata.name(character, "")
    return f"U+{ord(character):04X} {name}".strip()


class Findings:
    """The problems found so far in one document."""

    def __init__(self, source: str) -> None:
        self.source = source
        self._problems: list[Problem] = []

    def add(self, message: str, at: Position, path: KeyPath = (), hint: str = "") -> None:
        """Notes a problem and goes on, until there are too many."""
        if len(self._problems) == MOST_PROBLEMS:
            self.stop("too many problems; nothing from here on was looked at", at)
        self._problems.append(Problem(message, Place(self.source, *at, dotted(path)), hint))

    def stop(self, message: str, at: Position, path: KeyPath = (), hint: str = "") -> NoReturn:
        """Notes a problem after which nothing can be read."""
        self._problems.append(Problem(message, Place(self.source, *at, dotted(path)), hint))
        raise InputError(self._problems)

    def settle(self) -> None:
        """Raises when anything was found."""
        if self._problems:
            raise InputError(self._problems)


@dataclass(slots=True)
class _Open:
    """A mapping or list whose end has not been read; `entry` is the path of the entry whose key was read last."""

    container: dict[str, Any] | list[Any]
    path: KeyPath
    entry: KeyPath = ()


class Tree:
    """Data under construction."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.data: Any = None
        self.complete = False
        self.positions: dict[KeyPath, Position] = {}
        self.texts: dict[KeyPath, str] = {}
        self.wants_key = False
        """Whether the next thing must be a key."""
        self._open: list[_Open] = []
        self._nodes = 0

    @property
    def in_mapping(self) -> bool:
        """Whether the innermost container still open is a mapping."""
        return bool(self._open) and isinstance(self._open[-1].container, dict)

    @property
    def path(self) -> KeyPath:
        """Where the next value will stand."""
        if not self._open:
            return ()
        top = self._open[-1]
        return (*top.path, len(top.container)) if isinstance(top.container, list) else top.entry or top.path

    def problem(self, message: str, at: Position, hint: str = "") -> None:
        """Notes a problem with the next value."""
        self.findings.add(message, at, self.path, hint)

    def key(self, text: str, at: Position) -> None:
        """Takes the key of the next value."""
        self._count(at)
        top = self._open[-1]
        name = self._clean_key(text, at)
        path = (*top.path, name)
        if name in top.container:
            line = self.positions[path][0]
            self.findings.add(f"the key {name!a} appears twice; it is already on line {line}", at, path)
        top.entry = path
        self.wants_key = False
        self.positions[path] = at

    def scalar(self, value: str | float | bool | None, written: str, at: Position) -> None:
        """Takes a value that holds no others."""
        self._count(at)
        if len(written) > LONGEST_SCALAR:
            self.problem(f"{len(written)} characters; at most {LONGEST_SCALAR} are read as one value", at)
        elif not written.isprintable() and (index := _first_forbidden_in_lines(written)) is not None:
            self.problem(f"the character {character_name(written[index])} may not stand in a value", at)
        path = self.path
        self.texts[path] = written
        self._place(value, path, at)
        if not self._open:
            self.complete = True

    def open(self, container: dict[str, Any] | list[Any], at: Position) -> None:
        """Takes the start of a mapping or list."""
        self._count(at)
        path = self.path
        if len(self._open) == DEEPEST:
            self.findings.stop(f"more than {DEEPEST} levels, one inside the other", at, path)
        self._place(container, path, at)
        self._open.append(_Open(container, path))
        self.wants_key = isinstance(container, dict)

    def close(self) -> None:
        """Takes the end of the innermost mapping or list."""
        self._open.pop()
        self.complete = not self._open
        self.wants_key = self.in_mapping

    def _count(self, at: Position) -> None:
        self._nodes += 1
        if self._nodes > MOST_NODES:
            self.findings.stop(f"more than {MOST_NODES} keys and values", at)

    def _clean_key(self, text: str, at: Position) -> str:
        if not text:
            self.problem("an empty key", at)
        if len(text) > LONGEST_KEY:
            self.problem(f"a key of {len(text)} characters; at most {LONGEST_KEY} are read", at)
        index = first_forbidden(text)
        if index is None:
            return text[:LONGEST_KEY]
        self.problem(f"the character {character_name(text[index])} may not stand in a key", at)
        return ascii(text[:LONGEST_KEY])

    def _place(self, value: Any, path: KeyPath, at: Position) -> None:
        if not self._open:
            self.data = value
            self.positions[path] = at
            return
        top = self._open[-1]
        if isinstance(top.container, list):
            top.container.append(value)
            self.positions[path] = at
        elif top.entry:  # placed at its key
            top.container[str(path[-1])] = value
            top.entry = ()
            self.wants_key = True
