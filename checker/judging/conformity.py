"""Does a value conform, when it is only known with doubt?

The decision rules: at face value; guarded by the expanded uncertainty (ISO 14253-1); and by the probability of
conformity of a normally distributed value (JCGM 106:2012, clauses 7 and 8). The last two decide nothing by a reading
whose uncertainty nobody stated. Where nobody chose one, readings are guarded where their uncertainty is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, NamedTuple

import numpy as np

from checker.errors import Problem, UsageError
from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array, Truths, slack
from checker.packs.limit_set import ABSENT, INWARD
from checker.records.instruments import COVERAGE
from checker.records.layout import Indices

RULES = ("simple", "where-known", "guarded", "probability")
PROBABILITY, LEAST_PROBABILITY, GREATEST_PROBABILITY = 0.95, 0.5, 0.9999

_NORMAL = NormalDist()
_ABSENT, _INWARD = (np.array(by_position).reshape(4, 1, 1) for by_position in (ABSENT, INWARD))
_cumulative = np.vectorize(_NORMAL.cdf, otypes=[np.float64])


@dataclass(frozen=True, slots=True)
class Decision:
    """How a value near its limit is decided; `probability` counts for that rule alone.

    `chosen_by` says who chose it: the command, the record, a pack, or nobody.
    """

    rule: str = "where-known"
    probability: float = PROBABILITY
    chosen_by: str = ""

    def __post_init__(self) -> None:
        if self.rule not in RULES:
            raise UsageError(Problem(f"no decision rule {self.rule!r}", hint=f"known: {', '.join(RULES)}"))
        if not LEAST_PROBABILITY <= self.probability <= GREATEST_PROBABILITY:
            message = f"a probability of conformity lies between {LEAST_PROBABILITY} and {GREATEST_PROBABILITY}"
            raise UsageError(Problem(f"{message}, not at {self.probability:g}"))

    def __str__(self) -> str:
        if self.rule == "simple":
            words = "simple acceptance: readings are taken at face value"
        elif self.rule == "where-known":
            words = (
                "where known: guarded by the expanded uncertainty, k = 2 (ISO 14253-1), where the instrument is named"
            )
        elif self.rule == "guarded":
            words = "guarded by the expanded uncertainty, k = 2 (ISO 14253-1)"
        else:
            words = f"conformity with a probability of at least {self.probability:g} (JCGM 106)"
        return f"{words}, chosen by {self.chosen_by}" if self.chosen_by else words

    @property
    def needs_instruments(self) -> bool:
        """Whether a reading that names no instrument decides nothing, for its uncertainty is unknown."""
        return self.rule in ("guarded", "probability")

    def guard(self) -> float:
        """Width of the guard band in standard uncertainties, at a single limit."""
        if self.rule == "simple":
            return 0.0
        return _NORMAL.inv_cdf(self.probability) if self.rule == "probability" else COVERAGE

    def guard_of_both(self) -> float:
        """The width that is enough between two limits, however near to each the value is."""
        return _NORMAL.inv_cdf((1 + self.probability) / 2) if self.rule == "probability" else self.guard()


class Doubt(NamedTuple):
    """How far margins may be off: a standard uncertainty, and hard bounds below and above; by position.

    `applies` and `applies_at_all` are true where uncertainty, and where an interval, reaches to whether a rule
    applies. Only where it is `shown` does a margin that seems to hold do so wherever the readings may lie.
    """

    standard: Array
    below: Array
    above: Array
    applies: Truths
    applies_at_all: Truths
    shown: Truths

    def is_about_applying(self, decision: Decision) -> Truths:
        """Where it cannot be told whether the rule applies."""
        return self.applies_at_all if decision.rule == "simple" else self.applies | self.applies_at_all

    def at(self, rows: Indices, stations: Indices) -> Doubt:
        """The doubt at some places, side by side in one row."""

        def picked(array: Any) -> Any:
            return array[..., rows, stations][..., np.newaxis, :]

        return Doubt(*map(picked, self))


class Reach(NamedTuple):
    """Between what the standard uncertainties of margins lie in all rows; by position or alike for all, of one row.

    Further inside its limits than the `band` a value conforms.
    """

    least: Array
    most: Array
    band: Array


def all_shown(margins: Array) -> Truths:
    """Nothing is left open of any margin, by position and station."""
    return np.ones((margins.shape[0], 1, margins.shape[-1]), dtype=np.bool_)


def joined(doubts: Sequence[Doubt | None], sizes: Sequence[int], axis: int) -> Doubt | None:
    """Doubts about so many stations each as one, side by side or a row each; none where there is none at all."""
    known = [doubt for doubt in doubts if doubt is not None]
    if not known:
        return None
    parts = [doubt or no_doubt(len(known[0].standard), size) for doubt, size in zip(doubts, sizes, strict=True)]
    return Doubt(*(np.concatenate(arrays, axis=axis) for arrays in zip(*parts, strict=True)))


def no_doubt(positions: int, size: int) -> Doubt:
    """That nothing is in doubt at so many stations."""
    nothing, never = np.zeros((positions, 1, size)), np.zeros((1, size), dtype=np.bool_)
    return Doubt(nothing, nothing, nothing, never, never, all_shown(nothing))


def conforms(value: Array, limits: Array, doubt: Doubt | None, decision: Decision) -> Array:
    """By position: true where a limit is certainly kept, false where it certainly is not, else "cannot tell".

    A limit that is not there is kept; where the value or the limit is missing, or the table it comes from has ended,
    nothing can be told.
    """
    below: Array | float = 0.0 if doubt is None else doubt.below
    above: Array | float = 0.0 if doubt is None else doubt.above
    guard: Array | float = 0.0 if doubt is None or decision.rule == "simple" else decision.guard() * doubt.standard
    seen = np.where(limits == _ABSENT, np.inf, np.where(np.isinf(value), np.nan, value * _INWARD))
    last = last_kept(limits) * _INWARD
    # A limit that may or may not be there can be off without end either way: that cannot be told, and need not be said.
    with np.errstate(invalid="ignore"):
        is_kept, is_missed = seen >= last + below + guard, seen < last - above - guard
    if doubt is not None:
        is_kept = is_kept & doubt.shown
    return np.where(is_kept, TRUE, np.where(is_missed, FALSE, CANNOT_TELL))


def last_kept(limits: Array) -> Array:
    """By position the last value that keeps a limit: what equals it within the comparison tolerance does.

    Missing where the table that the limit comes from has ended.
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(limits - slack(limits) * _INWARD)


def together(low: int, high: int, margins: Array, doubt: Doubt, decision: Decision) -> Array:
    """True where a value is within two limits with the probability that is asked for; else "cannot tell"."""
    return np.where(probability(low, high, margins, doubt) >= decision.probability - 1e-12, TRUE, CANNOT_TELL)


def probability(low: int, high: int, margins: Array, doubt: Doubt) -> Array:
    """The probability that a normally distributed value is within two limits (JCGM 106:2012, 7.3).

    It cannot be beyond both, so the probabilities of being beyond one add up, however they hang together.
    """
    return np.asarray(1.0 - sum(_beyond(margins[at], doubt.standard[at], doubt.below[at]) for at in (low, high)))


def _beyond(margin: Array, standard: Array, below: Array) -> Array:
    """The probability that a margin is negative; none where there is no doubt, for that is decided already."""
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = np.where(standard > 0, (below - margin) / standard, -np.inf)
    return np.where(np.isnan(distance), 1.0, _cumulative(distance))
