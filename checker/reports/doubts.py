"""Readings in doubt: those of which the same is to be said stand together."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from checker.records.flag import Flag


class Doubt(NamedTuple):
    """What there is to say of one reading or several, and whether they were refused for it."""

    message: str
    is_refused: bool
    flags: tuple[Flag, ...]

    def __str__(self) -> str:
        if len(self.flags) == 1:
            return str(self.flags[0])
        return f"{self.message}: {'; '.join(self.readings)}"

    @property
    def readings(self) -> tuple[str, ...]:
        """The readings, each with where it was taken and how it was written down."""
        return tuple(f"{flag.title}{f', {flag.where}' if flag.where else ''} ({flag.written})" for flag in self.flags)


def doubts(flags: Iterable[Flag]) -> tuple[Doubt, ...]:
    """Flags that say the same as one."""
    alike: dict[tuple[str, bool], list[Flag]] = {}
    for flag in flags:
        alike.setdefault((flag.message, flag.is_refused), []).append(flag)
    return tuple(Doubt(*said, tuple(readings)) for said, readings in alike.items())
