"""Where what a function makes of values at one station lies; see enclose.py.

What is neither known to rise nor to fall all the way, nor made of straight lines, is enclosed by the range that its
function states (ranges.py), for each box and station by itself; a function that states none tells nothing of what is in
doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import product

import numpy as np

from checker.expressions import enclosures
from checker.expressions.boxes import Boxes, Enclosure
from checker.expressions.functions import FUNCTIONS, UNKNOWN_RANGE, Function
from checker.expressions.intervals import Interval, RangeError
from checker.expressions.polyline import Polyline
from checker.expressions.truth import Array

_STEPS = frozenset(FUNCTIONS[name] for name in ("count", "floor", "ceiling", "round_up"))
_RISING = frozenset(FUNCTIONS[name] for name in ("sqrt", "exp", "log", "log10", "asin", "atan", "floor", "ceiling"))
_FALLING = frozenset([FUNCTIONS["acos"]])
_STEEPNESS: Mapping[Function, Callable[[Array], Array]] = {
    FUNCTIONS["sqrt"]: lambda x: 0.5 / np.sqrt(x),
    FUNCTIONS["exp"]: np.exp,
    FUNCTIONS["log"]: np.reciprocal,
    FUNCTIONS["log10"]: lambda x: 1.0 / (np.log(10.0) * x),
    FUNCTIONS["asin"]: lambda x: 1.0 / np.sqrt(1.0 - x * x),
    FUNCTIONS["acos"]: lambda x: -1.0 / np.sqrt(1.0 - x * x),
    FUNCTIONS["atan"]: lambda x: 1.0 / (1.0 + x * x),
}
"""The slopes of curves; each changes one way from nought on, whichever side."""


def curve(boxes: Boxes, function: Function, *given: Enclosure) -> Enclosure:
    """Where a function of values at one station lies."""
    if function in _RISING or function in _FALLING:
        return _along_its_way(boxes, function, given[0])
    if isinstance(function.bounds, Polyline):
        return _along_lines(boxes, function, function.bounds, given[0])
    return by_its_range(boxes, function, *given)


def _along_its_way(boxes: Boxes, function: Function, x: Enclosure) -> Enclosure:
    """What only rises, or only falls, lies between what its ends give, and along the line of its mean slope."""
    ends = (x.high, x.low) if function in _FALLING else (x.low, x.high)
    low, high = map(function, ends)
    if x.slopes is not None and (slope := _STEEPNESS.get(function)) is not None:
        each = [slope(at) for at in (x.low, x.high, np.clip(0.0, x.low, x.high))]
        steep = (np.minimum.reduce(each), np.maximum.reduce(each))
        return enclosures.along(boxes, x, function, steep, low, high)
    is_doubtful = ~x.is_exact
    if function in _STEPS:
        boxes.turns(is_doubtful)
    boxes.bends(is_doubtful)
    boxes.blames(is_doubtful.astype(np.float64), x)
    return enclosures.settled(enclosures.between(low, high), function, x)


def _along_lines(boxes: Boxes, function: Function, line: Polyline, x: Enclosure) -> Enclosure:
    """Straight lines from point to point, and whatever there is off their ends."""
    found = line.over(x.low, x.high)
    result = enclosures.along(boxes, x, function, (found.flattest, found.steepest), found.least, found.most)
    may_end = np.isinf(function(x.low)) | np.isinf(function(x.high))
    off = may_end & ~x.is_exact
    if not off.any():
        return result
    boxes.turns(off)
    boxes.bends(off)
    boxes.blames(off.astype(np.float64), x)
    return enclosures.chosen(off, enclosures.anything(), result)


def by_its_range(boxes: Boxes, function: Function, *given: Enclosure) -> Enclosure:
    """By the range that a function states, for each box and station."""
    arrays = np.broadcast_arrays(*(end for each in given for end in (each.low, each.high)))
    ends = [array.ravel() for array in arrays]
    apart = [low_end != high_end for low_end, high_end in zip(ends[::2], ends[1::2], strict=True)]
    doubtful = np.flatnonzero(np.logical_or.reduce(apart) & ~np.isnan(ends).any(axis=0))
    low, high = np.full(ends[0].shape, np.nan), np.full(ends[0].shape, np.nan)
    for at in doubtful:
        own = [Interval(float(a[at]), float(b[at])) for a, b in zip(ends[::2], ends[1::2], strict=True)]
        low[at], high[at] = _range(function, own)
    if function.ends:
        corners = product(*zip(ends[::2], ends[1::2], strict=True))
        covered = np.logical_and.reduce(
            [np.isfinite(function(*(np.atleast_2d(end) for end in corner)))[0] for corner in corners]
        )
        low, high = np.where(covered, low, -np.inf), np.where(covered, high, np.inf)
    shape = arrays[0].shape
    result = enclosures.between(low.reshape(shape), high.reshape(shape))
    if len(doubtful):
        where = np.isin(np.arange(low.size), doubtful).reshape(shape)
        boxes.bends(where)
        if function in _STEPS or function.ends:
            boxes.turns(where)
        boxes.blames(1.0, *given)
    return enclosures.settled(result, function, *given)


def _range(function: Function, given: list[Interval]) -> tuple[float, float]:
    if not all(np.isfinite(end) for each in given for end in each):
        return -np.inf, np.inf
    try:
        ends = function.range_of(*given)
    except RangeError:
        return -np.inf, np.inf
    return (-np.inf, np.inf) if ends == UNKNOWN_RANGE else ends
