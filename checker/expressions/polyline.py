"""Straight lines from point to point: what they give, where that lies, and how steep it is there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from checker.expressions.intervals import Interval, RangeError
from checker.expressions.truth import Array, greatest_equal, least_equal


class Stretch(NamedTuple):
    """Between what a value lies for arguments from here to there, and its slopes on the way, array by array."""

    least: Array
    most: Array
    flattest: Array
    steepest: Array


@dataclass(frozen=True, slots=True, eq=False)
class Polyline:
    """Points in order of `x`, arrays of one axis; it covers nothing before the first or after the last of them."""

    x: Array
    y: Array

    def at(self, values: Array) -> Array:
        """What it gives; infinite, that is not covered, off its ends."""
        covered = (values >= least_equal(self.x[0])) & (values <= greatest_equal(self.x[-1]))
        return np.where(covered, np.interp(values, self.x, self.y), np.inf)

    def over(self, low: Array, high: Array) -> Stretch:
        """What lies between these arguments, as far as it is covered; missing where one of them is."""
        low, high = (np.clip(end, self.x[0], self.x[-1]) for end in (low, high))
        ends = [np.interp(end, self.x, self.y) for end in (low, high)]
        x, y = (each.reshape(-1, *(1,) * low.ndim) for each in (self.x, self.y))
        is_between = (x >= low) & (x <= high)
        is_met = (x[:-1] <= high) & (x[1:] >= low)
        slopes = np.diff(y, axis=0) / np.diff(x, axis=0)
        return Stretch(
            np.minimum.reduce([*ends, np.where(is_between, y, np.inf).min(axis=0)]),
            np.maximum.reduce([*ends, np.where(is_between, y, -np.inf).max(axis=0)]),
            np.where(is_met, slopes, np.inf).min(axis=0),
            np.where(is_met, slopes, -np.inf).max(axis=0),
        )

    def __call__(self, argument: Interval) -> Interval:
        """Where it lies for one interval; raises RangeError where it covers nothing of that."""
        if argument.high < least_equal(self.x[0]) or argument.low > greatest_equal(self.x[-1]):
            raise RangeError("the table covers nothing of the argument")
        found = self.over(*(np.array([end]) for end in argument))
        return Interval(float(found.least[0]), float(found.most[0]))
