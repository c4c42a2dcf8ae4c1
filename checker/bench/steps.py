"""The steps of a measuring session: one question each, in the order in which a builder measures."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from checker.records.filled import BLANK, Filled
from checker.records.notes import ASSEMBLY
from checker.records.reading_keys import ALL
from checker.rule_search import having, nearest_words, words_in
from checker.sheets.plan import Line, Spot


@dataclass(frozen=True, slots=True)
class Step:
    """One place at which one characteristic is to be measured, or all of them where one answer does."""

    line: Line
    spot: Spot

    @property
    def key(self) -> tuple[str, str]:
        return (self.line.name, self.spot.station)

    @property
    def system(self) -> str:
        return self.line.item.characteristic.system

    @property
    def filled(self) -> Filled:
        """What is written for it, by itself or for all stations."""
        stations = self.line.filled
        return next((stations[name] for name in (self.spot.station, ALL, ASSEMBLY) if name in stations), BLANK)

    @property
    def is_taken(self) -> bool:
        return self.line.is_filled(self.spot.station)


def steps_of(lines: Iterable[Line], differing: Collection[str]) -> Iterator[Step]:
    """What is asked for, step by step; a choice once for all its stations, unless it is known to differ."""
    for line in lines:
        if line.before:
            yield from (Step(line, spot) for spot in (line.spots if line.name in differing else line.asked_at))


def named(words: str, steps: Sequence[Step]) -> list[Line]:
    """The measurements in whose titles all of some words occur, else those of a system with such a title."""
    lines = list({step.line.name: step.line for step in steps}.values())
    by_title = having(words, [(line, words_in(line.title)) for line in lines])
    return by_title or having(words, [(line, words_in(line.item.characteristic.system)) for line in lines])


def nearest_title(words: str, steps: Sequence[Step]) -> str:
    """A hint where no title has the words: the known word nearest to one of them."""
    known = {word for step in steps for word in words_in(f"{step.line.title} {step.system}")}
    return nearest_words(words.split(), (), known)
