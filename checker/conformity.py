"""Does a value conform, when it is only known with doubt?

Three decision rules: at face value; guarded by the expanded uncertainty (ISO 14253-1); and by the probability of
conformity of a normally distributed value (JCGM 106:2012, clauses 7 and 8).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from checker.truth import CANNOT_TELL, FALSE, TRUE, Array

COVERAGE = 2.0
"""Coverage factor of every expanded uncertainty: about 95 per cent."""

_normal = np.vectorize(NormalDist().cdf, otypes=[np.float64])


@dataclass(frozen=True, slots=True)
class Decision:
    """How a value near its limit is decided; `probability` counts for that rule alone."""

    rule: str = "guarded"
    probability: float = 0.95

    def __str__(self) -> str:
        if self.rule == "simple":
            return "simple acceptance: readings are taken at face value"
        if self.rule == "guarded":
            return "guarded by the expanded uncertainty, k = 2 (ISO 14253-1)"
        return f"conformity with a probability of at least {self.probability:g} (JCGM 106)"

    def guard(self) -> float:
        """Width of the guard band in standard uncertainties, at a single limit."""
        if self.rule == "simple":
            return 0.0
        return COVERAGE if self.rule == "guarded" else NormalDist().inv_cdf(self.probability)


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far a margin may be off: a standard uncertainty, and hard bounds below and above."""

    standard: Array
    below: Array
    above: Array


def conforms(margin: Array, doubt: Doubt | None, decision: Decision, slack: Array) -> Array:
    """True where a margin is certainly not negative, false where it certainly is, else "cannot tell".

    `slack` is the comparison tolerance at the limit. Missing margins cannot be told.
    """
    if doubt is None:
        return _told(margin >= -slack, margin < -slack)
    guard = decision.guard() * doubt.standard
    return _told(margin - doubt.below - guard >= -slack, margin + doubt.above + guard < -slack)


def probability_of_conformity(value: float, standard: float, low: float = -math.inf, high: float = math.inf) -> float:
    """Probability that a normally distributed value lies between two limits (JCGM 106:2012, 7.3)."""
    if standard <= 0:
        return float(low <= value <= high)
    spread = NormalDist()
    above = spread.cdf((high - value) / standard) if math.isfinite(high) else 1.0
    below = spread.cdf((low - value) / standard) if math.isfinite(low) else 0.0
    return above - below


def probable(low_margin: Array, high_margin: Array, doubt: Doubt, decision: Decision) -> Array:
    """True where both margins together are probably not negative, by the decision's probability."""
    spread = np.where(doubt.standard > 0, doubt.standard, np.nan)
    inside = _normal((low_margin - doubt.below) / spread) + _normal((high_margin - doubt.below) / spread) - 1
    best = _normal((low_margin + doubt.above) / spread) + _normal((high_margin + doubt.above) / spread) - 1
    return _told(inside >= decision.probability, best <= 1 - decision.probability)


def _told(yes: npt.NDArray[np.bool_], no: npt.NDArray[np.bool_]) -> Array:
    return np.where(yes, TRUE, np.where(no, FALSE, CANNOT_TELL))
