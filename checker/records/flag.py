"""Flags: what there is to say about a reading besides the verdicts that rest on it."""

from __future__ import annotations

from typing import NamedTuple

from checker.errors import Place


class Flag(NamedTuple):
    """A reading that is suspicious: judged all the same, or refused; of several that are alike, all of them."""

    characteristic: str
    title: str
    where: str
    written: str
    message: str
    is_refused: bool
    place: Place

    def __str__(self) -> str:
        where = f", {self.where}" if self.where else ""
        written = f": {self.written}" if self.written else ""
        return f"{self.title}{where}{written}: {self.message}"
