"""Targets in words: what a rule asks for, in numbers where the sizes are known, else as it is stated."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from checker.findings.context import Context, lowered
from checker.findings.display import shown_in
from checker.judging.judge import Judged
from checker.notation.write import write_apart
from checker.packs.compiled import Candidate, CompiledRule
from checker.units.units import Unit

_BANDS = (("should", 1, 2), ("must", 0, 3))  # where the low and the high edge stand among the limits

_MOST_CASES = 2
_SAID = (("**", "^"), ("*", " x "), (" == ", " is "), (" != ", " is not "), ("_", " "), ('"', ""))


@dataclass(frozen=True, slots=True)
class Target:
    """What one rule asks for: a text for each of its stations, in their order."""

    rule: CompiledRule
    texts: tuple[str, ...]

    @property
    def title(self) -> str:
        return self.rule.rule.title

    @property
    def is_alike(self) -> bool:
        """Whether it asks for the same at every station."""
        return len(set(self.texts)) == 1

    @property
    def words(self) -> str:
        """What it asks for everywhere, stations that differ named by their numbers."""
        if self.is_alike:
            return self.texts[0]
        return "; ".join(
            f"{', '.join(str(n + 1) for n, own in enumerate(self.texts) if own == text)}: {text}"
            for text in dict.fromkeys(self.texts)
        )

    def at(self, station: int) -> str:
        """What it asks for at a station counted from 0."""
        return self.texts[station] if station < len(self.texts) else self.texts[0]


def target_of(judged: Judged, context: Context) -> Target:
    """The target of a rule at each of its stations."""
    words = _Words(judged, context, shown_in(judged.rule.unit, context.units))
    return Target(judged.rule, tuple(words.at(station) for station in range(judged.codes.shape[1])))


@dataclass(frozen=True, slots=True)
class _Words:
    judged: Judged
    context: Context
    unit: Unit

    def at(self, station: int) -> str:
        words = self.demands() if self.judged.rule.is_demand else self.bands(station)
        return "; ".join(words)

    def demands(self) -> Iterator[str]:
        for band, _, _ in _BANDS:
            for candidate in self.candidates(band, "broken"):
                choices = candidate.bound.limit.choices
                yield f"{band} {' or '.join(choices) or 'hold'}{_condition(candidate)}"

    def bands(self, station: int) -> Iterator[str]:
        for band, *edges in _BANDS:
            low, high = (float(self.judged.measures.limits[edge][0, station]) for edge in edges)
            if math.isfinite(low) and math.isfinite(high):
                yield f"{band} {' to '.join(write_apart(self.unit, low, high))}"
                continue
            sides = [words for words in (self.side(band, "low", low), self.side(band, "high", high)) if words]
            if sides:
                yield f"{band} {', '.join(sides)}"

    def side(self, band: str, side: str, value: float) -> str:
        """One limit: a number where it is known, else the words that state it; nothing where there is none."""
        relation = "at least" if side == "low" else "at most"
        if math.isfinite(value):
            return f"{relation} {write_apart(self.unit, value)[0]}"
        candidates = self.candidates(band, side) if math.isnan(value) else ()
        if len(candidates) > _MOST_CASES:
            return f"{relation} what goes with {self.facts(candidates)}"
        return f"{relation} {' or '.join(map(self.stated, candidates))}" if candidates else ""

    def stated(self, candidate: Candidate) -> str:
        bound = candidate.bound
        words = f"{bound.limit.written} x {self.base}" if bound.is_ratio else _in_words(bound.limit.written)
        return words + _condition(candidate)

    def facts(self, candidates: tuple[Candidate, ...]) -> str:
        """What the choice among several limits rests on."""
        names = [column.name for one in candidates if one.when is not None for column in one.when.columns]
        titles = [lowered(self.context.characteristics[name].characteristic.title) for name in dict.fromkeys(names)]
        return " and ".join(titles)

    @property
    def base(self) -> str:
        """The size of which limits are ratios, by its title."""
        expression = self.judged.rule.per_unit_of
        if expression is None:
            return ""
        item = self.context.characteristics.get(expression.column.name) if expression.column else None
        return lowered(item.characteristic.title) if item else _in_words(expression.text)

    def candidates(self, band: str, side: str) -> tuple[Candidate, ...]:
        return self.judged.rule.limits.candidates(self.context.chain, band, side)


def _condition(candidate: Candidate) -> str:
    return f" when {_in_words(candidate.when.text)}" if candidate.when else ""


def _in_words(expression: str) -> str:
    """An expression as a builder would say it."""
    for sign, word in _SAID:
        expression = expression.replace(sign, word)
    return expression
