"""Builds plain data, with the place of every value, from keys and values in reading order.

The YAML and the JSON reader both feed this, so limits, duplicate keys and clean text are settled once.
"""

from __future__ import annotations

import unicodedata
from typing import Any, NoReturn, TypeAlias

from checker.errors import MOST_PROBLEMS, TOO_MANY, InputError, Place, Problem

KeyPath: TypeAlias = tuple[str | int, ...]
Position: TypeAlias = tuple[int | None, int | None]  # line and column, both from 1; neither in what is no text

MOST_ENTRIES = 100_000  # of all mappings and lists together
DEEPEST = 24
LONGEST_SCALAR = 20_000
LONGEST_KEY = 200


def dotted(path: KeyPath) -> str:
    """The path as messages show it, such as "readings.backlash, entry 2": entries count from 1, as stations do."""
    if not path:
        return ""
    first, *others = path
    shown, before = f"entry {first + 1}" if isinstance(first, int) else first, first
    for step in others:
        if isinstance(step, int):
            shown = f"{shown}, entry {step + 1}"
        else:
            shown = f"{shown}, {step}" if isinstance(before, int) else f"{shown}.{step}"
        before = step
    return shown


def first_forbidden(text: str) -> int | None:
    """Index of the first control, format, bidi, surrogate or odd space character."""
    if text.isprintable():
        return None
    return next((index for index, character in enumerate(text) if not character.isprintable()), None)


def first_forbidden_in_lines(text: str) -> int | None:
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
            self.stop(TOO_MANY, at)
        self._problems.append(Problem(message, Place(self.source, *at, dotted(path)), hint))

    def stop(self, message: str, at: Position, path: KeyPath = (), hint: str = "") -> NoReturn:
        """Notes a problem after which nothing can be read."""
        self._problems.append(Problem(message, Place(self.source, *at, dotted(path)), hint))
        raise InputError(self._problems)

    def settle(self) -> None:
        """Raises when anything was found."""
        if self._problems:
            raise InputError(self._problems)


class _Open:
    """A mapping or list whose end has not been read; `entry` is the path of the entry whose key was read last."""

    __slots__ = ("container", "entry", "is_mapping", "path")

    def __init__(self, container: Any, path: KeyPath) -> None:
        self.container = container
        self.path = path
        self.is_mapping = isinstance(container, dict)
        self.entry: KeyPath = ()


class Tree:
    """Data under construction. What is usual is asked first, for a pack has tens of thousands of keys and values."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.data: Any = None
        self.complete = False
        self.positions: dict[KeyPath, Position] = {}
        self.texts: dict[KeyPath, str] = {}
        """How the scalars were written that are not text; a text is as it was written."""
        self.wants_key = False
        """Whether the next thing must be a key."""
        self._open: list[_Open] = []

    @property
    def in_mapping(self) -> bool:
        """Whether the innermost container still open is a mapping."""
        return bool(self._open) and self._open[-1].is_mapping

    @property
    def path(self) -> KeyPath:
        """Where the next value will stand."""
        if not self._open:
            return ()
        top = self._open[-1]
        return top.entry or top.path if top.is_mapping else (*top.path, len(top.container))

    def problem(self, message: str, at: Position, hint: str = "") -> None:
        """Notes a problem with the next value."""
        self.findings.add(message, at, self.path, hint)

    def key(self, text: str, at: Position) -> None:
        """Takes the key of the next value."""
        top = self._open[-1]
        is_clean = text.isprintable() and 0 < len(text) <= LONGEST_KEY
        name = text if is_clean else self._clean_key(text, at)
        path = (*top.path, name)
        if name in top.container:
            line = self.positions[path][0]
            before = "" if line is None else f"; it is already on line {line}"
            self.findings.add(f"the key {name!a} appears twice{before}", at, path)
        top.entry = path
        self.wants_key = False
        self._stands(path, at)

    def scalar(self, value: str | float | bool | None, written: str, at: Position) -> None:
        """Takes a value that holds no others."""
        if len(written) > LONGEST_SCALAR:
            self.problem(f"{len(written)} characters; at most {LONGEST_SCALAR} are read as one value", at)
        elif not written.isprintable() and (index := first_forbidden_in_lines(written)) is not None:
            self.problem(f"the character {character_name(written[index])} may not stand in a value", at)
        path = self._placed(value, at)
        if not isinstance(value, str):
            self.texts[path] = written
        if not self._open:
            self.complete = True

    def open(self, container: dict[str, Any] | list[Any], at: Position) -> None:
        """Takes the start of a mapping or list."""
        if len(self._open) == DEEPEST:
            self.findings.stop(f"more than {DEEPEST} levels, one inside the other", at, self.path)
        opened = _Open(container, self._placed(container, at))
        self._open.append(opened)
        self.wants_key = opened.is_mapping

    def close(self) -> None:
        """Takes the end of the innermost mapping or list."""
        self._open.pop()
        self.complete = not self._open
        self.wants_key = self.in_mapping

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

    def _placed(self, value: Any, at: Position) -> KeyPath:
        """The path at which a value now stands; in a mapping its key stands for it."""
        if not self._open:
            self.data = value
            self.positions[()] = at
            return ()
        top = self._open[-1]
        if not top.is_mapping:
            path = (*top.path, len(top.container))
            top.container.append(value)
            self._stands(path, at)
            return path
        path = top.entry
        top.container[path[-1]] = value
        top.entry = ()
        self.wants_key = True
        return path

    def _stands(self, path: KeyPath, at: Position) -> None:
        self.positions[path] = at
        if len(self.positions) > MOST_ENTRIES:
            self.findings.stop(f"more than {MOST_ENTRIES} entries", at)
