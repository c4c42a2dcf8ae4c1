"""Errors that say where, what was found, and what was expected."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import NamedTuple


class Place(NamedTuple):
    """Where something stands in a file; lines and columns count from 1, cells are named as spreadsheets do."""

    file: str
    line: int | None = None
    column: int | None = None
    key: str = ""
    cell: str = ""

    def __str__(self) -> str:
        parts = [self.file]
        if self.cell:
            parts.append(self.cell)
        elif self.line is not None:
            parts.append(str(self.line))
            if self.column is not None:
                parts.append(str(self.column))
        position = ":".join(parts)
        return f"{position}: {self.key}" if self.key else position


MOST_PROBLEMS = 100
TOO_MANY = "too many problems; nothing from here on was looked at"
"""What is said where more than that many are found."""


class Problem(NamedTuple):
    """One thing that is wrong, its place, and what would fix it."""

    message: str
    place: Place | None = None
    hint: str = ""

    def __str__(self) -> str:
        text = f"{self.place}: {self.message}" if self.place else self.message
        return f"{text} ({self.hint})" if self.hint else text

    @property
    def position(self) -> tuple[str, int, int, str]:
        """Sorts problems by file, line and column."""
        place = self.place or Place("")
        return (place.file, place.line or 0, place.column or 0, self.message)


class CheckerError(Exception):
    """Everything that is wrong with one input, never only the first thing."""

    def __init__(self, problems: str | Problem | Iterable[str | Problem]) -> None:
        given = [problems] if isinstance(problems, (str, Problem)) else problems
        listed = [Problem(each) if isinstance(each, str) else each for each in given]
        self.problems = tuple(sorted(dict.fromkeys(listed), key=lambda problem: problem.position))
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class InputError(CheckerError):
    """A record, sheet or other input file cannot be read as it stands."""


class PackError(CheckerError):
    """A rule pack cannot be used as it stands."""


class PluginError(CheckerError):
    """A plugin cannot be loaded, or claims a name that is taken."""


class UsageError(CheckerError):
    """What was asked for does not exist or does not fit together."""


class OutputError(UsageError):
    """What was worked out is not where it was asked for; the message says where it is instead."""


@contextmanager
def needing(extra: str, what: str) -> Iterator[None]:
    """Around the import of what an extra brings; raises UsageError with what is not possible without it."""
    try:
        yield
    except ImportError as error:
        hint = f"python -m pip install 'assembly-checker[{extra}]'"
        raise UsageError(Problem(f"{what} here: {error.name} is not installed", hint=hint)) from None


def require(given: object, advice: str, *kinds: type) -> None:
    """Raises TypeError with advice where a caller gave something of none of these kinds."""
    if not isinstance(given, kinds):
        expected = " or ".join(kind.__name__ for kind in kinds)
        raise TypeError(f"expected {expected}, found {type(given).__name__}: {advice}")


def nearest(name: str, known: Iterable[str], alike: float = 0.6) -> str:
    """A hint with the nearest known name, or nothing when none is so far alike (difflib's ratio)."""
    near = nearest_name(name, known, alike)
    return f"did you mean {near!r}?" if near else ""


def nearest_name(name: str, known: Iterable[str], alike: float = 0.6) -> str:
    """The known name that is nearest, or nothing; where none is, upper and lower case count for nothing."""
    import difflib  # only mistakes need it

    as_written = {each: each for each in known}
    for names, sought in ((as_written, name), ({each.lower(): each for each in as_written}, name.lower())):
        if near := difflib.get_close_matches(sought, names, 1, alike):
            return names[near[0]]
    return ""
