"""Where the result of each function lies, given the ranges of its arguments."""

from __future__ import annotations

import math
from collections.abc import Callable

from checker.expressions.intervals import BEYOND, Interval, RangeError, add, bounded, divide, hull, power, subtract
from checker.expressions.truth import greatest_equal, least_equal

MOST = 10_000.0
"""More stations of one kind, or readings at one station, than any assembly has."""


def unchanged(x: Interval) -> Interval:
    """A reading, or the least, greatest or mean of several, lies where each of them does."""
    return x


def spread(x: Interval) -> Interval:
    """Greatest less least."""
    return Interval(0.0, subtract(x, x).high)


def total(x: Interval) -> Interval:
    """The sum over one station or more."""
    return bounded(min(x.low, x.low * MOST), max(x.high, x.high * MOST))


def count(x: Interval) -> Interval:
    """A number of stations or readings, whatever their values."""
    return Interval(0.0, MOST)


def absolute(x: Interval) -> Interval:
    """The size of a number."""
    sizes = (abs(x.low), abs(x.high))
    return Interval(0.0 if 0.0 in x else min(sizes), max(sizes))


def square_root(x: Interval) -> Interval:
    """Rises from zero."""
    return power(_inside(x, 0.0, math.inf), 0.5)


def hypotenuse(x: Interval, y: Interval) -> Interval:
    """Rises with the size of both sides."""
    first, second = absolute(x), absolute(y)
    return bounded(math.hypot(first.low, second.low), math.hypot(first.high, second.high))


def smaller(x: Interval, y: Interval) -> Interval:
    """The smaller of two."""
    return Interval(min(x.low, y.low), min(x.high, y.high))


def larger(x: Interval, y: Interval) -> Interval:
    """The larger of two."""
    return Interval(max(x.low, y.low), max(x.high, y.high))


def round_up(x: Interval, step: Interval) -> Interval:
    """Up to one step further."""
    if step.low <= 0.0:
        raise RangeError("the step can be zero or negative")
    divide(x, step)
    return add(Interval(float(least_equal(x.low)), x.high), Interval(0.0, step.high))


def floor(x: Interval) -> Interval:
    """The whole number below."""
    return Interval(float(math.floor(x.low)), float(math.floor(greatest_equal(x.high))))


def ceiling(x: Interval) -> Interval:
    """The whole number above."""
    return Interval(float(math.ceil(least_equal(x.low))), float(math.ceil(x.high)))


def exponential(x: Interval) -> Interval:
    """Rises from zero, and soon overflows."""
    try:
        return bounded(math.exp(x.low), math.exp(x.high))
    except OverflowError:
        raise RangeError(BEYOND) from None


def logarithm(x: Interval) -> Interval:
    """Rises, above zero only."""
    return _logarithm(math.log, x)


def decimal_logarithm(x: Interval) -> Interval:
    """Rises, above zero only."""
    return _logarithm(math.log10, x)


def _logarithm(function: Callable[[float], float], x: Interval) -> Interval:
    if x.low <= 0.0:
        raise RangeError("the argument can be zero or negative")
    return Interval(function(x.low), function(x.high))


def sine(angle: Interval) -> Interval:
    """Between its ends, or out to 1 and -1 where the angle passes a crest."""
    ends = [math.sin(angle.low), math.sin(angle.high)]
    if _passes(angle, math.pi / 2):
        ends.append(1.0)
    if _passes(angle, -math.pi / 2):
        ends.append(-1.0)
    return Interval(min(ends), max(ends))


def cosine(angle: Interval) -> Interval:
    """The sine a quarter turn on."""
    return sine(Interval(angle.low + math.pi / 2, angle.high + math.pi / 2))


def tangent(angle: Interval) -> Interval:
    """Rises between two of its poles."""
    if _passes(angle, math.pi / 2) or _passes(angle, -math.pi / 2):
        raise RangeError("the angle can pass a quarter turn, where the tangent has no value")
    return Interval(math.tan(angle.low), math.tan(angle.high))


def arc_sine(x: Interval) -> Interval:
    """Rises, within -1 to 1."""
    inside = _inside(x, -1.0, 1.0)
    return Interval(math.asin(inside.low), math.asin(inside.high))


def arc_cosine(x: Interval) -> Interval:
    """Falls, within -1 to 1."""
    inside = _inside(x, -1.0, 1.0)
    return Interval(math.acos(inside.high), math.acos(inside.low))


def arc_tangent(x: Interval) -> Interval:
    """Rises."""
    return Interval(math.atan(x.low), math.atan(x.high))


def half_turn(a: Interval, b: Interval) -> Interval:
    """Between two directions the short way round."""
    return Interval(0.0, math.pi)


def between(x: Interval, x0: Interval, y0: Interval, x1: Interval, y1: Interval) -> Interval:
    """On the line between two points, which must lie apart."""
    divide(subtract(x, x0), subtract(x1, x0))
    return hull(y0, y1)


def _inside(x: Interval, low: float, high: float) -> Interval:
    """The argument, which may leave the domain by no more than the comparison tolerance."""
    if x.low < least_equal(low) or x.high > greatest_equal(high):
        limits = f"{low:g} and above" if math.isinf(high) else f"{low:g} to {high:g}"
        raise RangeError(f"the argument can leave its range, {limits}")
    return Interval(*(min(max(end, low), high) for end in x))


def _passes(angle: Interval, mark: float) -> bool:
    """Whether the angle takes the value of a mark, in any turn."""
    turn = 2 * math.pi
    return mark + turn * math.ceil((angle.low - mark) / turn) <= angle.high
