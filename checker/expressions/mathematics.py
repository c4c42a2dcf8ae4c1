"""The calculations behind the functions that need more than one call of numpy."""

from __future__ import annotations

import numpy as np

from checker.expressions.truth import CANNOT_TELL, TRUE, Array, greatest_equal, least_equal, slack

TURN = 2 * np.pi


def onto(values: Array, low: float, high: float) -> Array:
    """The values, pulled onto a range they leave by no more than the comparison tolerance; else missing."""
    pulled = np.clip(values, low, high)
    return np.where(np.abs(values - pulled) <= slack(pulled), pulled, np.nan)


def quotient(a: Array, b: Array) -> Array:
    """a / b; not covered, and not zero, where the divisor is not covered."""
    is_beyond = np.isinf(b)
    return np.where(is_beyond, np.inf, a / b) if np.any(is_beyond) else np.asarray(a / b)


def square_root(values: Array) -> Array:
    """The square root; of a hair below zero, zero."""
    return np.sqrt(onto(values, 0.0, np.inf))


def arc_sine(ratio: Array) -> Array:
    """The angle of a sine."""
    return np.arcsin(onto(ratio, -1.0, 1.0))


def arc_cosine(ratio: Array) -> Array:
    """The angle of a cosine."""
    return np.arccos(onto(ratio, -1.0, 1.0))


def floor(values: Array) -> Array:
    """The whole number below; the nearest one when the value equals it."""
    return np.asarray(np.floor(greatest_equal(values)))


def ceiling(values: Array) -> Array:
    """The whole number above; the nearest one when the value equals it."""
    return np.asarray(np.ceil(least_equal(values)))


def round_up(values: Array, step: Array) -> Array:
    """The next multiple of a step, as parts are sold."""
    return ceiling(values / step) * step


def least(values: Array) -> Array:
    """The least over all stations."""
    return np.asarray(values.min(axis=-1))


def greatest(values: Array) -> Array:
    """The greatest over all stations."""
    return np.asarray(values.max(axis=-1))


def mean(values: Array) -> Array:
    """The mean over all stations."""
    return np.asarray(values.mean(axis=-1))


def total(values: Array) -> Array:
    """The sum over all stations."""
    return np.asarray(values.sum(axis=-1))


def between_angles(a: Array, b: Array) -> Array:
    """The angle between two directions, the short way round."""
    apart = np.abs(a - b) % TURN
    return np.minimum(apart, TURN - apart)


def interpolate(x: Array, x0: Array, y0: Array, x1: Array, y1: Array) -> Array:
    """The straight line through two points; infinite, that is not covered, beyond them."""
    share = (x - x0) / (x1 - x0)
    within = onto(share, 0.0, 1.0)
    beyond = np.isfinite(share) & np.isnan(within)
    return np.where(beyond, np.inf, (1.0 - within) * y0 + within * y1)


def spread(values: Array) -> Array:
    """Greatest less least across the last axis."""
    apart: Array = values.max(axis=-1) - values.min(axis=-1)
    return apart


def count(conditions: Array) -> Array:
    """How many conditions are true across the last axis; missing when one cannot be told."""
    is_known = ~(conditions == CANNOT_TELL).any(axis=-1)
    return np.where(is_known, (conditions == TRUE).sum(axis=-1), np.nan)
