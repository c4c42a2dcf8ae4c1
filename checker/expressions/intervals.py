"""Arithmetic on ranges: where a value must lie when what it is made of lies in known ranges."""

from __future__ import annotations

from typing import NamedTuple

LARGEST = 1e100
"""Beyond this a value counts as overflowing; no measurable thing comes near it."""

SMALLEST = 1e-100
"""A power nearer to zero counts as lost to underflow: what it is made of is not zero, and it would be taken for it."""

VANISHING = "the result can underflow to zero"
BEYOND = "the result can overflow"


class RangeError(Exception):
    """A calculation that can fail for values within their ranges."""


class Interval(NamedTuple):
    """All values from low to high, in SI units."""

    low: float
    high: float

    def __contains__(self, value: object) -> bool:
        return isinstance(value, (int, float)) and self.low <= value <= self.high


TRUTH = Interval(0.0, 1.0)


def point(value: float) -> Interval:
    """The interval of one value."""
    return Interval(value, value)


def hull(*intervals: Interval) -> Interval:
    """The smallest interval around all of them."""
    return Interval(min(each.low for each in intervals), max(each.high for each in intervals))


def negate(a: Interval) -> Interval:
    """Where -a lies."""
    return Interval(-a.high, -a.low)


def add(a: Interval, b: Interval) -> Interval:
    """Where a + b lies."""
    return bounded(a.low + b.low, a.high + b.high)


def subtract(a: Interval, b: Interval) -> Interval:
    """Where a - b lies."""
    return bounded(a.low - b.high, a.high - b.low)


def multiply(a: Interval, b: Interval) -> Interval:
    """Where a * b lies."""
    corners = [x * y for x in a for y in b]
    return bounded(min(corners), max(corners))


def divide(a: Interval, b: Interval) -> Interval:
    """Where a / b lies; b must not contain zero."""
    if 0.0 in b:
        raise RangeError("the divisor can be zero")
    corners = [x / y for x in a for y in b]
    return bounded(min(corners), max(corners))


def power(base: Interval, exponent: float) -> Interval:
    """Where base ** exponent lies, for an exponent within -4 to 4."""
    if exponent < 0:
        return divide(point(1.0), power(base, -exponent))
    if base.low < 0 and not exponent.is_integer():
        raise RangeError("a fractional power of a value that can be negative")
    try:
        ends = [base.low**exponent, base.high**exponent]
    except OverflowError:
        raise RangeError(BEYOND) from None
    if any(end and abs(powered) < SMALLEST for end, powered in zip(base, ends, strict=True)):
        raise RangeError(VANISHING)
    if 0.0 in base:
        ends.append(0.0)
    return bounded(min(ends), max(ends))


def bounded(low: float, high: float) -> Interval:
    """The interval, unless it overflows."""
    if not (low >= -LARGEST and high <= LARGEST):
        raise RangeError(BEYOND)
    return Interval(low, high)
