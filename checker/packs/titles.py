"""What people call the names of layered packs, and expressions said in those words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from checker.packs.layers import Layered
from checker.packs.limits import BELOW


class Titles(NamedTuple):
    """Titles in place of the names of layered packs."""

    layered: Layered

    def of(self, name: str) -> str:
        """A name as it stands in the middle of a sentence: by its title where it has one."""
        if name == BELOW:
            return "the limit that counts without it"
        layered = self.layered
        for section in (layered.characteristics, layered.constants, layered.tables, layered.stations):
            if (thing := section.get(name)) is not None and (title := getattr(thing, "title", "")):
                return lowered(title)
        return name.replace("_", " ").replace("-", " ")

    def use(self, name: str) -> str:
        """What a use is called; one that is none stands for every use."""
        stated = self.layered.applications.get(name)
        return stated.title if stated is not None else "Every use"

    def said(self, text: str) -> str:
        """An expression, or a ratio such as "0.0003 x shaft_diameter", as people say it."""
        from checker.expressions.in_words import in_words  # few reports say a condition

        number, times, size = text.partition(" x ")
        return f"{number}{times}{self.of(size)}" if times else in_words(text, self.of)

    def condition(self, text: str) -> str:
        """A condition with its word, such as "when key_material is steel"."""
        word, _, expression = text.partition(" ")
        return f"{word} {self.said(expression)}" if expression else text


def in_series(words: Iterable[str], joint: str = "and") -> str:
    """Words as a sentence has them: "cast, 4032 and 2618"."""
    *more, last = words
    return f"{', '.join(more)} {joint} {last}" if more else last


def lowered(title: str) -> str:
    """A title in the middle of a sentence; abbreviations keep their capitals."""
    return title if title[1:2].isupper() else title[:1].lower() + title[1:]
