"""Enclosures: between what bounds a value lies while the readings behind it lie anywhere in boxes of their doubt.

Each carries how it follows the causes of doubt, in a straight line, and by how much it may be off that line: what one
reading does to both sides of a comparison cancels, and a rule that is a straight line is enclosed exactly. (Affine
arithmetic; the calculations themselves are IEEE 754 doubles, whose rounding the tolerance of comparisons outweighs.)
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, reduce

import numpy as np

from checker.expressions.boxes import Boxes, Enclosure, sharp
from checker.expressions.truth import Array, Truths, slack


def exact(values: Array) -> Enclosure:
    """Values about which there is no doubt."""
    return sharp(values, bool(np.isfinite(values).all()))


@lru_cache(maxsize=4096)
def constant(value: float) -> Enclosure:
    """A number, the same everywhere."""
    values = np.array([[value]])
    values.flags.writeable = False
    return exact(values)


def between(low: Array, high: Array) -> Enclosure:
    """Values anywhere between bounds, however they follow what is in doubt."""
    with np.errstate(invalid="ignore"):
        centre, half = (low + high) / 2, (high - low) / 2
    is_open = ~np.isfinite(half)
    if not is_open.any():
        return Enclosure(low, high, centre, None, half, is_bounded=True)
    alike = is_open & (low == high) | np.isnan(low)
    middle = np.where(alike, low, np.where(is_open, 0.0, centre))
    return Enclosure(low, high, middle, None, np.where(alike, 0.0, np.where(is_open, np.inf, half)))


def anything() -> Enclosure:
    """A value of which nothing is known."""
    return between(np.array([[-np.inf]]), np.array([[np.inf]]))


def chosen(condition: Truths, there: Enclosure, elsewhere: Enclosure) -> Enclosure:
    """One enclosure where a condition holds, elsewhere the other."""
    if there.is_sharp and elsewhere.is_sharp:
        return exact(np.where(condition, there.low, elsewhere.low))
    slopes = None
    if there.slopes is not None or elsewhere.slopes is not None:
        slopes = np.where(condition, *(0.0 if each.slopes is None else each.slopes for each in (there, elsewhere)))
    return Enclosure(
        np.where(condition, there.low, elsewhere.low),
        np.where(condition, there.high, elsewhere.high),
        np.where(condition, there.middle, elsewhere.middle),
        slopes,
        np.where(condition, there.error, elsewhere.error),
        there.is_bounded and elsewhere.is_bounded,
    )


def settled(result: Enclosure, point: Callable[..., Array], *given: Enclosure) -> Enclosure:
    """What is missing gives no value; where bounds cannot be told there are none.

    Nor is there any bound on what is made of a value without: it may lie where no table covers it. Of what is given
    exactly one value is made, which finite bounds hold already.
    """
    if result.is_bounded and all(each.is_bounded for each in given):
        return result
    alone = given[0].is_exact
    blank = ~np.isfinite(given[0].middle)
    for each in given[1:]:
        alone, blank = alone & each.is_exact, blank | ~np.isfinite(each.middle)
    known = alone | blank
    if known.any():
        result = chosen(known, exact(np.asarray(point(*(each.middle for each in given)))), result)
    unclear = np.isnan(result.low) | np.isnan(result.high)
    for each in given:
        unclear = unclear | np.isinf(each.low) | np.isinf(each.high)
    unclear = unclear & ~known
    if unclear.any():
        result = chosen(unclear, anything(), result)
    return result


def add(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    """Where x + y lies."""
    if x.is_sharp and y.is_sharp:
        return sharp(x.low + y.low, True) if x.is_bounded and y.is_bounded else exact(x.low + y.low)
    slopes = y.slopes if x.slopes is None else x.slopes if y.slopes is None else x.slopes + y.slopes
    if slopes is None and x.is_bounded and y.is_bounded:
        return Enclosure(x.low + y.low, x.high + y.high, x.middle + y.middle, None, x.error + y.error, is_bounded=True)
    result = boxes.enclosure(x.middle + y.middle, slopes, x.error + y.error, x.low + y.low, x.high + y.high)
    return settled(result, np.add, x, y)


def scaled(x: Enclosure, factor: float) -> Enclosure:
    """Where a multiple of x lies."""
    if x.is_sharp:
        return sharp(x.low * factor, x.is_bounded)
    ends = (x.low * factor, x.high * factor) if factor >= 0 else (x.high * factor, x.low * factor)
    slopes = None if x.slopes is None else x.slopes * factor
    return Enclosure(*ends, x.middle * factor, slopes, x.error * abs(factor), x.is_bounded)


def subtract(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    """Where x - y lies."""
    return add(boxes, x, scaled(y, -1.0))


def multiply(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    """Where x * y lies."""
    for factor, other in ((x, y), (y, x)):
        if factor.low is factor.high and factor.low.size == 1 and factor.is_bounded and other.is_bounded:
            return scaled(other, float(factor.low[0, 0]))
    if x.is_sharp and y.is_sharp:
        return exact(x.low * y.low)
    corners = ((x.low * y.low, x.low * y.high), (x.high * y.low, x.high * y.high))
    low = np.minimum(*(np.minimum(*pair) for pair in corners))
    high = np.maximum(*(np.maximum(*pair) for pair in corners))
    if x.slopes is None and y.slopes is None:
        boxes.bends((x.high > x.low) & (y.high > y.low))
        return settled(between(low, high), np.multiply, x, y)
    slopes = _weighed(x.slopes, y.middle, y.slopes, x.middle)
    bend = _reach_of(x) * _reach_of(y)
    error = np.abs(x.middle) * y.error + np.abs(y.middle) * x.error + bend
    result = boxes.enclosure(x.middle * y.middle, slopes, error, low, high)
    _note(boxes, bend, result, x, y)
    return settled(result, np.multiply, x, y)


def _reach_of(x: Enclosure) -> Array:
    """How far it may be from its middle."""
    return np.maximum(x.high - x.middle, x.middle - x.low)


def _note(boxes: Boxes, bend: Array, result: Enclosure, *causes: Enclosure) -> None:
    """By what part of its width a result is off its straight line; all of it where that has no bounds."""
    is_bent = ~(bend <= 0)
    if not is_bent.any():
        return
    is_endless = ~np.isfinite(bend)
    if is_endless.any():
        is_endless = is_endless & ~reduce(np.logical_or, (each.is_exact for each in causes))
        is_bent = is_endless | (bend > 0)
        bend = np.where(np.isfinite(bend), bend, 0.0)
    boxes.bends(is_bent)
    if not len(boxes.middles):
        return
    boxes.blames(np.where(is_endless, np.inf, bend), *causes, of=result.high - result.low)


def reciprocal(boxes: Boxes, x: Enclosure) -> Enclosure:
    """Where 1 / x lies."""
    if x.is_sharp:
        return exact(np.reciprocal(x.low))
    reaches_zero = (x.low <= 0) & (x.high >= 0) & ~x.is_exact
    low, high = np.where(reaches_zero, np.nan, x.low), np.where(reaches_zero, np.nan, x.high)
    steep = (-1.0 / np.minimum(low**2, high**2), -1.0 / np.maximum(low**2, high**2))
    return along(boxes, x, np.reciprocal, steep, 1.0 / high, 1.0 / low)


def power(boxes: Boxes, x: Enclosure, exponent: float) -> Enclosure:
    """Where x to a power above nought lies."""
    if exponent == 1.0:
        return x
    if x.is_sharp:
        return exact(x.low**exponent)
    ends, steep = np.stack([x.low, x.high]) ** exponent, exponent * np.stack([x.low, x.high]) ** (exponent - 1.0)
    passes = (x.low < 0) & (x.high > 0)
    low = np.where(passes, np.minimum(ends.min(axis=0), 0.0), ends.min(axis=0))
    flat = np.where(passes, np.minimum(steep.min(axis=0), 0.0), steep.min(axis=0))
    return along(boxes, x, lambda middle: middle**exponent, (flat, steep.max(axis=0)), low, ends.max(axis=0))


def along(
    boxes: Boxes,
    x: Enclosure,
    function: Callable[[Array], Array],
    steep: tuple[Array, Array],
    low: Array,
    high: Array,
) -> Enclosure:
    """A curve along the line of its mean slope, from the least and the greatest slope it takes."""
    if x.slopes is None and x.is_bounded:
        boxes.bends(~(steep[1] <= steep[0]) & (x.high > x.low))
        return settled(between(low, high), function, x)
    point = np.clip(x.middle, x.low, x.high)
    mean, bend = (steep[0] + steep[1]) / 2, (steep[1] - steep[0]) / 2 * np.maximum(x.high - point, point - x.low)
    slopes = None if x.slopes is None else x.slopes * mean
    middle = function(point) + mean * (x.middle - point)
    result = boxes.enclosure(middle, slopes, np.abs(mean) * x.error + bend, low, high)
    _note(boxes, bend, result, x)
    return settled(result, function, x)


def smaller(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    """Where the smaller of two lies: on a line between both, as far below as it can be where they change places.

    With d = y - x between l < 0 < h, and s = l / (l - h), the smaller is x + s d less something from nought to s h.
    """
    if (extreme := _extreme(boxes, x, y, np.minimum)) is not None:
        return extreme
    apart = subtract(boxes, y, x)
    least, most = apart.low, apart.high
    with np.errstate(all="ignore"):
        share = np.where(least >= 0, 0.0, np.where(most <= 0, 1.0, least / (least - most)))
        half = share * np.maximum(most, 0.0) / 2
        middle = x.middle + share * (y.middle - x.middle) - half
        error = (1.0 - share) * x.error + share * y.error + half
    slopes = _weighed(x.slopes, 1.0 - share, y.slopes, share)
    result = boxes.enclosure(middle, slopes, error, np.minimum(x.low, y.low), np.minimum(x.high, y.high))
    _note(boxes, half, result, apart)
    return settled(result, np.minimum, x, y)


def _weighed(one: Array | None, of_one: Array, other: Array | None, of_other: Array) -> Array | None:
    """A sum of slopes, each with its weight."""
    each = [slopes * weight for slopes, weight in ((one, of_one), (other, of_other)) if slopes is not None]
    return reduce(np.add, each) if each else None


def _extreme(boxes: Boxes, x: Enclosure, y: Enclosure, which: np.ufunc) -> Enclosure | None:
    """The smaller or the larger of two where that is plain: one of them, or of two that follow no causes by a line."""
    if not (x.is_bounded and y.is_bounded):
        return None
    for below, above in ((x, y), (y, x)):
        if (below.high <= above.low).all():
            return below.of_shape(above) if which is np.minimum else above.of_shape(below)
    if x.slopes is not None or y.slopes is not None:
        return None
    boxes.bends((x.high > y.low) & (y.high > x.low))
    return between(which(x.low, y.low), which(x.high, y.high))


def larger(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    """Where the larger of two lies."""
    if (extreme := _extreme(boxes, x, y, np.maximum)) is not None:
        return extreme
    return scaled(smaller(boxes, scaled(x, -1.0), scaled(y, -1.0)), -1.0)


def absolute(boxes: Boxes, x: Enclosure) -> Enclosure:
    """Where the size of x lies."""
    result = larger(boxes, x, scaled(x, -1.0))
    return result._replace(low=np.maximum(result.low, 0.0))


def compared(boxes: Boxes, x: Enclosure, y: Enclosure, is_above: bool, counts_equal: bool) -> Enclosure:
    """Whether x is above y, or below it; what counts as equal is within the common tolerance of y."""
    off = subtract(boxes, x, y) if is_above else subtract(boxes, y, x)
    if y.is_sharp:
        least = most = slack(y.low)
    else:
        size = np.maximum(np.abs(y.low), np.abs(y.high))
        nearest = np.where((y.low <= 0) & (y.high >= 0), 0.0, np.minimum(np.abs(y.low), np.abs(y.high)))
        least, most = slack(nearest), slack(size)
    if counts_equal:
        holds, fails = off.low >= -least, off.high < -most
    else:
        holds, fails = off.low > most, off.high <= least
    if off.is_bounded and (holds | fails).all():
        return sharp(holds.astype(np.float64), True)
    cannot_tell = ~np.isfinite(off.low) | ~np.isfinite(off.high)
    turned = ~(holds | fails | cannot_tell)
    if turned.any():
        boxes.turns(turned)
        boxes.blames(turned.astype(np.float64), off)
    in_doubt = cannot_tell & np.isfinite(x.middle) & np.isfinite(y.middle)
    if in_doubt.any():
        boxes.turns(in_doubt)
        boxes.blames(in_doubt.astype(np.float64), x, y)
    return truths(holds, fails, cannot_tell)


def truths(holds: Truths, fails: Truths, cannot_tell: Truths) -> Enclosure:
    """A condition: 1 where it holds, 0 where it fails, both where it may; no bounds where it may not be told."""
    low = np.where(holds, 1.0, np.where(cannot_tell & ~fails, -np.inf, 0.0))
    high = np.where(fails, 0.0, np.where(cannot_tell & ~holds, np.inf, 1.0))
    return between(low, high)
