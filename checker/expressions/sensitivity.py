"""How far values move with what is in doubt behind them: bounds of their sensitivities that hold in all rows at once.

A sensitivity (JCGM 100:2008, 5.1.3) says how far a value moves for each expanded uncertainty of a cause. Between which
bounds that is, wherever the readings of any row may lie, is worked out once for all rows; where nothing bends, the
bounds are alike. By the mean value theorem no value moves further than the greatest of its sensitivities allow.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from checker.expressions.functions import Function
from checker.expressions.mathematics import quotient
from checker.expressions.truth import Array
from checker.frozen import Applied


class UnboundedError(Exception):
    """How far a value may move is not told: something may come out either way, or is no known calculation."""


class Sensitivity(NamedTuple):
    """Between what a value lies in all rows, by station; and how it follows its causes.

    `moves` has the shape (3, causes, stations), and is none where nothing in doubt bears on the value: the least and
    the greatest sensitivity to each cause, and how far the value moves for certain, one way or the other, when the
    cause moves by itself by one expanded uncertainty. Of a straight line that is the same in all rows, and stands once.
    The first cause is none: it says how far the value may jump besides, where a condition may come out either way.
    """

    low: Array
    high: Array
    moves: Array | None = None

    @property
    def furthest(self) -> Array:
        """How far each cause may move it."""
        return np.zeros((1, 1)) if self.moves is None else _furthest(self.moves)

    def reach(self, part: float) -> Array:
        """How far it may be off where readings lie within a part of their expanded uncertainties, at each station."""
        furthest = self.furthest
        return np.asarray(furthest[0] + part * np.sqrt((furthest[1:] ** 2).sum(axis=0)))

    @property
    def certain(self) -> Array:
        """How far each cause moves it for certain."""
        return np.zeros((1, 1)) if self.moves is None else np.abs(self.moves[-1])

    @property
    def is_told(self) -> bool:
        """Whether it is the same value in all rows, and nothing is in doubt about it."""
        return self.moves is None and bool((self.low == self.high).all())

    def at(self, stations: Any) -> Sensitivity:
        """Its values at some of the stations."""
        moves = None if self.moves is None else self.moves[..., stations]
        return Sensitivity(self.low[..., stations], self.high[..., stations], moves)

    def of_stations(self, count: int) -> Sensitivity:
        """The same at so many stations, where it is one value."""
        if self.moves is not None and self.moves.shape[-1] != self.low.shape[-1]:
            moves = np.broadcast_to(self.moves, (*self.moves.shape[:-1], self.low.shape[-1]))
            return self._replace(moves=moves).of_stations(count)
        return self if self.low.shape[-1] == count else self.at(np.zeros(count, dtype=np.intp))


ANYTHING = Sensitivity(np.full((1, 1), -np.inf), np.full((1, 1), np.inf))
"""Values of which nothing is said but that nothing in doubt bears on them."""


def exactly(values: Array) -> Sensitivity:
    """Values that are the same in all rows."""
    return Sensitivity(values, values)


def of_exact(call: Any, *given: Any) -> Sensitivity:
    """What is made of values about which there is no doubt, as far as it is the same in all rows."""
    values = [each for each in given if isinstance(each, Sensitivity)]
    if any(each.moves is not None for each in values):
        raise UnboundedError
    function = call.first[0] if isinstance(call, Applied) and call.first else call
    is_plugin = isinstance(function, Function) and bool(function.plugin)
    if all(each.is_told for each in values) and not is_plugin:
        alike = (each.low if isinstance(each, Sensitivity) else each for each in given)
        return exactly(np.atleast_2d(np.asarray(call(*alike), dtype=np.float64)))
    is_one = (isinstance(function, Function) and function.across) or not values
    shape = (1, 1) if is_one else np.broadcast_shapes(*(each.low.shape for each in values))
    return Sensitivity(np.full(shape, -np.inf), np.full(shape, np.inf))


def either(x: Sensitivity, y: Sensitivity) -> Sensitivity:
    """One or the other, nobody knows which: as in a row, or as their causes move them.

    While one counts, it is as far from where it was in one of the two ways that a cause may go.
    """
    low, high = np.minimum(x.low, y.low), np.maximum(x.high, y.high)
    if x.moves is None and y.moves is None:
        return Sensitivity(low, high)
    one, other = (np.zeros((3, 1, 1)) if each.moves is None else _in_full(each.moves) for each in (x, y))
    ends = np.minimum(one[0], other[0]), np.maximum(one[1], other[1])
    return Sensitivity(low, high, _moves(*ends, np.minimum(_at_least(one), _at_least(other))))


def or_less(x: Sensitivity) -> Sensitivity:
    """What moves no further, and may as well stay."""
    if x.moves is None:
        return x
    least, most, _ = _in_full(x.moves)
    return x._replace(moves=_moves(least, most, np.zeros_like(least)))


def side_by_side(parts: list[Sensitivity]) -> Sensitivity:
    low, high = (np.concatenate(ends, axis=-1) for ends in zip(*((part.low, part.high) for part in parts), strict=True))
    known = [_in_full(part.moves) for part in parts if part.moves is not None]
    if not known:
        return Sensitivity(low, high)
    each = [np.zeros((*known[0].shape[:2], 1)) if part.moves is None else _in_full(part.moves) for part in parts]
    return Sensitivity(low, high, np.concatenate(each, axis=-1))


def add(x: Sensitivity, y: Sensitivity) -> Sensitivity:
    return Sensitivity(x.low + y.low, x.high + y.high, _sum(x.moves, y.moves))


def subtract(x: Sensitivity, y: Sensitivity) -> Sensitivity:
    """The sensitivity of x - y."""
    return add(x, scaled(y, -1.0))


def scaled(x: Sensitivity, factor: float) -> Sensitivity:
    """The sensitivity of a multiple of x."""
    moves = x.moves
    if moves is not None:
        moves = moves * factor
        if factor < 0 and len(moves) > 1:
            moves = np.array([moves[1], moves[0], -moves[2]])
    ends = x.low * factor, x.high * factor
    return Sensitivity(*(ends if factor >= 0 else ends[::-1]), moves)


def multiply(x: Sensitivity, y: Sensitivity) -> Sensitivity:
    for factor, other in ((x, y), (y, x)):
        if factor.low is factor.high and factor.low.size == 1 and factor.moves is None:
            return scaled(other, float(factor.low[0, 0]))
    corners = np.stack(np.broadcast_arrays(x.low * y.low, x.low * y.high, x.high * y.low, x.high * y.high))
    moves = _sum(_times(x.moves, y.low, y.high), _times(y.moves, x.low, x.high))
    return Sensitivity(corners.min(axis=0), corners.max(axis=0), moves)


def divide(x: Sensitivity, y: Sensitivity) -> Sensitivity:
    if ((y.low <= 0) & (y.high >= 0)).any():
        if x.moves is None and y.moves is None:
            return of_exact(quotient, x, y)
        raise UnboundedError
    steep = -1.0 / np.stack([y.low, y.high]) ** 2
    inverse = Sensitivity(1.0 / y.high, 1.0 / y.low, _times(y.moves, steep.min(axis=0), steep.max(axis=0)))
    return multiply(x, inverse)


def power(x: Sensitivity, exponent: Sensitivity) -> Sensitivity:
    number = float(exponent.low[0, 0])
    if (x.low <= 0).any() and number != 2.0:
        if x.moves is None:
            return of_exact(np.power, x, exponent)
        raise UnboundedError
    ends = np.stack([x.low, x.high])
    made, steep = ends**number, number * ends ** (number - 1.0)
    low = np.where((x.low < 0) & (x.high > 0), 0.0, made.min(axis=0))
    return Sensitivity(low, made.max(axis=0), _times(x.moves, steep.min(axis=0), steep.max(axis=0)))


def root(x: Sensitivity) -> Sensitivity:
    return power(x, exactly(np.array([[0.5]])))


def absolute(x: Sensitivity) -> Sensitivity:
    """Where it may change its sign it still moves as far, one way or the other, as what it is the size of must."""
    rises, falls = x.low >= 0, x.high <= 0
    if rises.all():
        return x
    size = np.maximum(-x.low, x.high)
    least = np.where(rises, x.low, np.where(falls, -x.high, 0.0))
    moves = _times(x.moves, np.where(rises, 1.0, -1.0), np.where(falls, -1.0, 1.0))
    if moves is not None and x.moves is not None:
        moves[2] = np.maximum(moves[2], _at_least(_in_full(x.moves)))
    return Sensitivity(least, size, moves)


def extreme(which: np.ufunc, x: Sensitivity, y: Sensitivity) -> Sensitivity:
    """The smaller or the larger of two."""
    for below, above in ((x, y), (y, x)):
        if (below.high <= above.low).all():
            return below if which is np.minimum else above
    return either(x, y)._replace(low=which(x.low, y.low), high=which(x.high, y.high))


def hypotenuse(x: Sensitivity, y: Sensitivity) -> Sensitivity:
    size = np.hypot(np.maximum(-x.low, x.high), np.maximum(-y.low, y.high))
    one, other = (_times(each.moves, np.full((1, 1), -1.0), np.full((1, 1), 1.0)) for each in (x, y))
    return Sensitivity(np.zeros_like(size), size, _sum(one, other))


def total(x: Sensitivity) -> Sensitivity:
    moves = None
    if x.moves is not None and len(x.moves) == 1:
        moves = x.moves.sum(axis=-1, keepdims=True)
    elif x.moves is not None:
        far = _furthest(x.moves)
        sure = (x.moves[2] + far).max(axis=-1, keepdims=True) - far.sum(axis=-1, keepdims=True)
        moves = _moves(x.moves[0].sum(axis=-1, keepdims=True), x.moves[1].sum(axis=-1, keepdims=True), sure)
    return Sensitivity(x.low.sum(axis=-1, keepdims=True), x.high.sum(axis=-1, keepdims=True), moves)


def mean(x: Sensitivity) -> Sensitivity:
    return scaled(total(x), 1.0 / x.low.shape[-1])


def of_one(which: np.ufunc, x: Sensitivity) -> Sensitivity:
    """The least or the greatest of all stations."""
    moves = None
    if x.moves is not None:
        each = _in_full(x.moves)
        least, most = each[0].min(axis=-1, keepdims=True), each[1].max(axis=-1, keepdims=True)
        moves = _moves(least, most, _at_least(each).min(axis=-1, keepdims=True))
    low, high = (which.reduce(end, axis=-1, keepdims=True) for end in (x.low, x.high))
    return Sensitivity(low, high, moves)


def spread(x: Sensitivity) -> Sensitivity:
    """The difference of any two of all stations."""
    least = x.low.max(axis=-1, keepdims=True) - x.high.min(axis=-1, keepdims=True)
    most = x.high.max(axis=-1, keepdims=True) - x.low.min(axis=-1, keepdims=True)
    moves = None
    if x.moves is not None:
        each = _in_full(x.moves)
        apart = each[1].max(axis=-1, keepdims=True) - each[0].min(axis=-1, keepdims=True)
        moves = _moves(-apart, apart, np.zeros_like(apart))
    return Sensitivity(np.maximum(least, 0.0), most, moves)


def _moves(least: Array, most: Array, sure: Array) -> Array:
    return np.array([least, most, np.maximum(np.maximum(np.maximum(least, -most), sure), 0.0)])


def _in_full(moves: Array) -> Array:
    return moves if len(moves) > 1 else np.concatenate([moves, moves, np.abs(moves)])


def _furthest(moves: Array) -> Array:
    return np.asarray(np.maximum(-moves[0], moves[1]) if len(moves) > 1 else np.abs(moves[0]))


def _at_least(moves: Array) -> Array:
    """By how much a value moves at the least whichever way its causes go."""
    return np.asarray(np.maximum(np.maximum(moves[0], -moves[1]), 0.0))


def _sum(one: Array | None, other: Array | None) -> Array | None:
    """The moves of a sum: certain is what one of two moves it for certain, less what the other may take back."""
    if one is None or other is None:
        return other if one is None else one
    if len(one) == len(other) == 1:
        return one + other
    one, other = _in_full(one), _in_full(other)
    sure = np.maximum(one[2] - _furthest(other), other[2] - _furthest(one))
    return _moves(one[0] + other[0], one[1] + other[1], sure)


def _times(moves: Array | None, low: Array, high: Array) -> Array | None:
    """The moves of what follows something so steeply: between those bounds."""
    if moves is None:
        return None
    moves = _in_full(moves)
    corners = (moves[0] * low, moves[0] * high), (moves[1] * low, moves[1] * high)
    least = np.minimum(*(np.minimum(*pair) for pair in corners))
    most = np.maximum(*(np.maximum(*pair) for pair in corners))
    return _moves(least, most, moves[2] * np.maximum(np.maximum(low, -high), 0.0))
