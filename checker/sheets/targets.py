"""Targets in words: what a rule asks for, in numbers where the sizes are known, else as it is stated."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from checker.expressions.expression import Expression
from checker.findings.context import Context
from checker.findings.display import shown_in
from checker.judging.judge import Judged
from checker.notation.write import write_apart
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS, Candidate
from checker.packs.limit_words import band_words
from checker.packs.limits import PHYSICS
from checker.packs.titles import in_series, lowered
from checker.units.units import Unit

_BANDS = (("recommended", 1, 2), ("required", 0, 3))  # where the low and the high edge stand among the limits


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
        for word, band in (("recommended", "should"), ("required", "must")):
            for candidate in self.candidates(band, "broken"):
                yield f"{word} {' or '.join(candidate.bound.limit.choices) or 'yes'}"

    def bands(self, station: int) -> Iterator[str]:
        """The numbers that are known, and what the others wait for."""
        for band, *edges in _BANDS:
            known = self.known(*(float(self.judged.measures.limits[edge][0, station]) for edge in edges))
            if known:
                yield f"{band} {known}"
        if lacking := list(dict.fromkeys(self.lacking(station))):
            yield f"needs {in_series(lacking)}"

    def known(self, low: float, high: float) -> str:
        known = [end for end in (low, high) if math.isfinite(end)]
        written = dict(zip(known, write_apart(self.unit, *known), strict=True)) if known else {}
        return band_words(written.get(low, ""), written.get(high, ""))

    def lacking(self, station: int) -> Iterator[str]:
        """The titles of what limits wait for."""
        for (band, side), values in zip(POSITIONS, self.judged.measures.limits, strict=True):
            candidates = self.candidates(band, side) if math.isnan(values[0, station]) else ()
            for expression in (needed for candidate in candidates for needed in self.rests_on(candidate)):
                yield from self.unknown(expression, station)

    def rests_on(self, candidate: Candidate) -> Iterator[Expression]:
        base = self.judged.rule.per_unit_of if candidate.bound.is_ratio else None
        yield from (needed for needed in (candidate.when, candidate.bound.expression, base) if needed is not None)

    def unknown(self, expression: Expression, station: int) -> Iterator[str]:
        """The titles of what an expression lacks, its own value left out: that is what will be measured."""
        judged = self.judged.rule.judges.names
        for column in expression.columns:
            values = self.context.block.fetch(column)[0]
            if column.name not in judged and math.isnan(values[min(station, len(values) - 1)]):
                yield lowered(self.context.characteristics[column.name].characteristic.title)

    def candidates(self, band: str, side: str) -> tuple[Candidate, ...]:
        limits, chain = self.judged.rule.limits, self.context.chain
        physics = limits.candidates(chain, PHYSICS, side) if band == "must" else ()
        return (*limits.candidates(chain, band, side), *physics)
