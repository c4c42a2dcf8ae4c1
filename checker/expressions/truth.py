"""Truth with three values on arrays: true 1, cannot tell 0.5, false 0.

All comparisons share one tolerance, far below any instrument, so that inches and millimetres agree on a limit and
binary noise never decides: a equals b when |a - b| <= 1e-9*|b| + 1e-12, in SI units. (Whose size is taken makes no
difference: where it counts, a and b agree to nine digits.) What is not finite, missing or off the end of a table,
compares as "cannot tell".
"""

from __future__ import annotations

from collections.abc import Callable
from functools import reduce
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Array: TypeAlias = npt.NDArray[np.float64]
Truths: TypeAlias = npt.NDArray[np.bool_]
Numbers: TypeAlias = Array | np.float64 | float
Comparison: TypeAlias = Callable[[Numbers, Numbers], Array]

TRUE = 1.0
CANNOT_TELL = 0.5
FALSE = 0.0

RELATIVE_TOLERANCE = 1e-9
ABSOLUTE_TOLERANCE = 1e-12


def all_of(*truths: Numbers) -> Array:
    """True where every one is true."""
    return np.asarray(reduce(np.minimum, truths))


def any_of(*truths: Numbers) -> Array:
    """True where at least one is true."""
    return np.asarray(reduce(np.maximum, truths))


def negation(truth: Numbers) -> Array:
    """False where true; what cannot be told stays so."""
    return np.asarray(TRUE - truth)


def choose(condition: Numbers, then: Numbers, otherwise: Numbers) -> Array:
    """One or the other value, and neither where the condition cannot be told."""
    unless_true = np.where(np.equal(condition, FALSE), otherwise, np.nan)
    return np.where(np.equal(condition, TRUE), then, unless_true)


def at_least(value: Numbers, limit: Numbers) -> Array:
    """True where the value is above the limit or equal to it."""
    return _told(np.greater_equal(value, least_equal(limit)), value, limit)


def at_most(value: Numbers, limit: Numbers) -> Array:
    """True where the value is below the limit or equal to it."""
    return _told(np.less_equal(value, greatest_equal(limit)), value, limit)


def greater(value: Numbers, limit: Numbers) -> Array:
    """True where the value is above the limit and not equal to it."""
    return _told(np.greater(value, greatest_equal(limit)), value, limit)


def less(value: Numbers, limit: Numbers) -> Array:
    """True where the value is below the limit and not equal to it."""
    return _told(np.less(value, least_equal(limit)), value, limit)


def told(truth: Numbers) -> Array:
    """Truth where it is known; a missing one cannot be told."""
    return np.where(np.isfinite(truth), truth, CANNOT_TELL)


def in_order(first: Comparison, second: Comparison, a: Numbers, b: Numbers, c: Numbers) -> Array:
    """True where a and b, and b and c, compare as asked: a chain such as a < b <= c."""
    return all_of(first(a, b), second(b, c))


def same(value: Numbers, other: Numbers) -> Array:
    """True where two choices, each given by its position in the list of choices, are the same."""
    return _told(np.equal(value, other), value, other)


def are_equal(value: float, limit: float) -> bool:
    """Whether two numbers count as equal."""
    return bool(least_equal(limit) <= value <= greatest_equal(limit))


def slack(limit: Array) -> Array:
    """By how much a value may differ from a limit, and count as equal to it."""
    return np.abs(limit) * RELATIVE_TOLERANCE + ABSOLUTE_TOLERANCE


def least_equal(limit: Numbers) -> Numbers:
    """The least value that still counts as equal to the limit."""
    return np.minimum(limit * (1 - RELATIVE_TOLERANCE), limit * (1 + RELATIVE_TOLERANCE)) - ABSOLUTE_TOLERANCE


def greatest_equal(limit: Numbers) -> Numbers:
    """The greatest value that still counts as equal to the limit."""
    return np.maximum(limit * (1 - RELATIVE_TOLERANCE), limit * (1 + RELATIVE_TOLERANCE)) + ABSOLUTE_TOLERANCE


def _told(outcome: npt.NDArray[np.bool_], value: Numbers, limit: Numbers) -> Array:
    known = np.isfinite(value) & np.isfinite(limit)
    if np.all(known):
        return outcome.astype(np.float64)
    return np.where(known, outcome, CANNOT_TELL)
