"""Enclosures: between what bounds a value lies while the readings behind it lie anywhere in boxes of their doubt.

Each carries how it follows the causes of doubt, in a straight line, and by how much it may be off that line: what one
reading does to both sides of a comparison cancels, and a rule that is a straight line is enclosed exactly. (Affine
arithmetic; the calculations themselves are IEEE 754 doubles, whose rounding the tolerance of comparisons outweighs.)
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, reduce
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import Array, Truths, slack

Indices: TypeAlias = npt.NDArray[np.intp]


class Enclosure(NamedTuple):
    """Bounds by box and station; within a box the value is `middle + slopes * (causes - their middles)`, give or take.

    `slopes` has an axis of causes before those two, and is none where nothing in doubt bears on the value. A missing or
    infinite value has bounds alike; one of which nothing is known has infinite ones, and an infinite `error`. Where it
    `is_bounded` no value is missing, and none without bounds.
    """

    low: Array
    high: Array
    middle: Array
    slopes: Array | None
    error: Array
    is_bounded: bool = False

    @property
    def is_sharp(self) -> bool:
        """Whether it was made of values about which there is no doubt, each of them known or missing."""
        return self.low is self.high

    @property
    def is_exact(self) -> Truths:
        """Where it is one value, or missing."""
        return np.asarray((self.low == self.high) | np.isnan(self.middle))

    def of_shape(self, other: Enclosure) -> Enclosure:
        """The same for as many boxes and stations as another has."""
        shape = np.broadcast_shapes(self.low.shape, other.low.shape)
        if self.low.shape == shape:
            return self
        slopes = None if self.slopes is None else np.broadcast_to(self.slopes, (len(self.slopes), *shape))
        low, high, middle, error = (
            np.broadcast_to(part, shape) for part in (self.low, self.high, self.middle, self.error)
        )
        return Enclosure(low, high, middle, slopes, error, self.is_bounded)

    def at(self, stations: Any) -> Enclosure:
        """Its values at some of the stations."""
        if self.is_sharp:
            return _sharp(self.low[..., stations], self.is_bounded)
        slopes = None if self.slopes is None else self.slopes[..., stations]
        low, high, middle, error = (part[..., stations] for part in (self.low, self.high, self.middle, self.error))
        return Enclosure(low, high, middle, slopes, error, self.is_bounded)


class Boxes:
    """Parts of what is in doubt, by cause and box: middles and half widths as shares of each cause, from -1 to 1.

    Each box is of the record in one of the `rows`. Causes that are `round` lie in a ball together, the others each
    anywhere between their ends. `turned` tells in which boxes a comparison or a step came out either way, `bent` in
    which values follow their causes along no straight line.
    """

    def __init__(self, middles: Array, halves: Array, is_round: Truths, rows: Indices, is_whole: bool = False) -> None:
        self.middles = middles
        self.halves = halves
        self.is_round = is_round
        self.rows = rows
        self._are_round = bool(is_round.all())
        self._round_middles: Array = middles if self._are_round else middles[is_round]
        self.is_whole = is_whole
        self.turned = np.zeros(len(rows), dtype=np.bool_)
        self.bent = np.zeros(len(rows), dtype=np.bool_)
        self._loosened: list[tuple[Array | float, Array | None, tuple[Enclosure, ...]]] = []

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.rows)

    def some(self, wanted: Truths) -> Boxes:
        """Some of them, as nobody has looked at them yet."""
        return Boxes(self.middles[:, wanted], self.halves[:, wanted], self.is_round, self.rows[wanted], self.is_whole)

    def turns(self, where: Truths) -> None:
        """Note in which boxes, by box and station, something came out either way."""
        self.turned |= where.any(axis=-1)

    def bends(self, where: Truths) -> None:
        """Note in which boxes, by box and station, something is off a straight line."""
        self.bent |= where.any(axis=-1)

    def enclosure(
        self, middle: Array, slopes: Array | None, error: Array, low: Array | float, high: Array | float
    ) -> Enclosure:
        """From a straight line and from bounds found otherwise, whichever are closer."""
        least, most = self._reach(middle, slopes, error)
        low, high = np.fmax(low, least), np.fmin(high, most)
        low, high = np.minimum(low, high), np.maximum(low, high)
        is_tight = np.isfinite(most - least)
        is_bounded = bool(is_tight.all())
        if not is_bounded:
            is_loose = ~is_tight
            centre, half = (low + high) / 2, (high - low) / 2
            is_open = ~np.isfinite(half)
            middle = np.where(is_loose, np.where(is_open, 0.0, centre), middle)
            error = np.where(is_loose, np.where(is_open, np.inf, half), error)
            slopes = None if slopes is None else np.where(is_loose, 0.0, slopes)
        return Enclosure(low, high, middle, slopes, error, is_bounded)

    def _reach(self, middle: Array, slopes: Array | None, error: Array) -> tuple[Array, Array]:
        if slopes is None:
            return middle - error, middle + error
        if self.is_whole and self._are_round:
            wide = np.sqrt(np.add.reduce(slopes * slopes)) + error
            return middle - wide, middle + wide
        reaches = np.abs(slopes) * self.halves[:, :, np.newaxis]
        wide = np.add.reduce(reaches) + error
        low, high = middle - wide, middle + wide
        if len(self._round_middles):
            curved = slopes if self._are_round else slopes[self.is_round]
            centre = middle - np.einsum("cbs,cb->bs", curved, self._round_middles)
            wide = np.sqrt(np.add.reduce(curved * curved)) + error
            wide = wide if self._are_round else wide + np.add.reduce(reaches[~self.is_round])
            low, high = np.maximum(low, centre - wide), np.minimum(high, centre + wide)
        return low, high

    def blames(self, part: Array | float, *causes: Enclosure, of: Array | None = None) -> None:
        """Note what made bounds loose: by what part of their width, or by how much `of` that width."""
        if len(self.middles):
            self._loosened.append((part, of, causes))

    def blamed(self) -> tuple[Array, list[tuple[Array, Indices]]]:
        """How much each cause makes bounds loose, by box; and the points, with their rows, at which it goes furthest.

        There are points only if each box is the whole of its row.
        """
        blame, worst = np.zeros(self.middles.shape), []
        for part, of, causes in self._loosened:
            if of is not None:
                share = np.where(of > 0, np.minimum(part / np.where(of > 0, of, 1.0), 1.0), 0.0)
                part = np.where(np.isinf(part), 1.0, share)
            for slopes in (cause.slopes for cause in causes if cause.slopes is not None and np.any(part)):
                reaches = np.abs(slopes) * self.halves[:, :, np.newaxis]
                whole = reaches.sum(axis=0)
                weight: Array = np.zeros(np.broadcast_shapes(whole.shape, np.shape(part)))
                np.divide(part, whole, out=weight, where=(whole > 0) & np.isfinite(whole))
                blame += np.einsum("cbs,bs->cb", np.where(np.isfinite(whole), reaches, 0.0), weight)
                if self.is_whole:
                    box, station = np.nonzero(np.broadcast_to(weight > 0, (self.count, weight.shape[-1])))
                    wide = np.broadcast_to(slopes, (len(slopes), self.count, weight.shape[-1]))
                    worst.append((self._furthest(wide[:, box, station]), np.tile(self.rows[box], 2)))
        return blame, worst

    def _furthest(self, slopes: Array) -> Array:
        """The points, by cause and number, at which values with these slopes are greatest and least."""
        in_ball = self.is_round[:, np.newaxis]
        length = np.sqrt((slopes**2).sum(axis=0, where=in_ball))
        with np.errstate(all="ignore"):
            greatest = np.where(in_ball, np.where(length > 0, slopes / length, 0.0), np.sign(slopes))
        return np.concatenate([greatest, -greatest], axis=1)


def exact(values: Array) -> Enclosure:
    """Values about which there is no doubt."""
    return _sharp(values, bool(np.isfinite(values).all()))


@lru_cache(maxsize=4096)
def constant(value: float) -> Enclosure:
    """A number, the same everywhere."""
    values = np.array([[value]])
    values.flags.writeable = False
    return exact(values)


def _sharp(values: Array, is_bounded: bool) -> Enclosure:
    return Enclosure(values, values, values, None, np.zeros(values.shape), is_bounded)


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
        result = chosen(unclear, between(np.array([[-np.inf]]), np.array([[np.inf]])), result)
    return result


def add(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    """Where x + y lies."""
    if x.is_sharp and y.is_sharp:
        return _sharp(x.low + y.low, True) if x.is_bounded and y.is_bounded else exact(x.low + y.low)
    slopes = y.slopes if x.slopes is None else x.slopes if y.slopes is None else x.slopes + y.slopes
    if slopes is None and x.is_bounded and y.is_bounded:
        return Enclosure(x.low + y.low, x.high + y.high, x.middle + y.middle, None, x.error + y.error, is_bounded=True)
    result = boxes.enclosure(x.middle + y.middle, slopes, x.error + y.error, x.low + y.low, x.high + y.high)
    return settled(result, np.add, x, y)


def scaled(x: Enclosure, factor: float) -> Enclosure:
    """Where a multiple of x lies."""
    if x.is_sharp:
        return _sharp(x.low * factor, x.is_bounded)
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
    each = [factor.slopes * other.middle for factor, other in ((x, y), (y, x)) if factor.slopes is not None]
    slopes = reduce(np.add, each) if each else None
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
    return _along(boxes, x, np.reciprocal, steep, 1.0 / high, 1.0 / low)


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
    return _along(boxes, x, lambda middle: middle**exponent, (flat, steep.max(axis=0)), low, ends.max(axis=0))


def _along(
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
    """Where the smaller of two lies: that which seems smaller, less what the other may be below it."""
    if (extreme := _extreme(boxes, x, y, np.minimum)) is not None:
        return extreme
    is_first = x.middle <= y.middle
    base, other = chosen(is_first, x, y), chosen(is_first, y, x)
    under = np.minimum(subtract(boxes, other, base).low, 0.0)
    result = boxes.enclosure(
        base.middle + under / 2,
        base.slopes,
        base.error - under / 2,
        np.minimum(x.low, y.low),
        np.minimum(x.high, y.high),
    )
    _note(boxes, -under / 2, result, x, y)
    return settled(result, np.minimum, x, y)


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
        return _sharp(holds.astype(np.float64), True)
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
