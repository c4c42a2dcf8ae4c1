"""What a plugin's function returns, held to the bounds it states and to what it returns for a row by itself."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from typing import TypeAlias

import numpy as np

from checker.expressions.intervals import Interval, RangeError
from checker.expressions.truth import Array

Given: TypeAlias = tuple[Array, ...]

_ROUNDING = 1e-9
"""So much of its bounds a result may lie beyond them, for both are rounded."""
_AS_EXACT, _NOTHING = 1e-6, 1e-12
"""So much of itself, and so much in SI, two results may be apart and count as one: some are found step by step."""


def fault_in(
    found: Array, given: Given, range_of: Callable[..., Interval] | None, calculated: Callable[[Given], Array]
) -> str:
    """What is wrong with a result of shape (rows, stations); empty where nothing is.

    It is held to the range that the function states of it, if any, and to what is `calculated` of some rows alone.
    """
    beyond = "" if range_of is None else _beyond_its_bounds(found, given, range_of)
    return beyond or _otherwise_alone(found, given, calculated)


def _beyond_its_bounds(found: Array, given: Given, range_of: Callable[..., Interval]) -> str:
    rows = len(found)
    least, greatest = zip(*(_ends_of_rows(argument, rows) for argument in given), strict=True)
    ends = np.full((2, rows, 1), [[[-np.inf]], [[np.inf]]])
    # Row by row: what others may be would let pass in a table what a check does not.
    for row, (lows, highs) in enumerate(zip(zip(*least, strict=True), zip(*greatest, strict=True), strict=True)):
        if all(map(math.isfinite, lows)):
            with suppress(RangeError):
                ends[:, row, 0] = range_of(*map(Interval, lows, highs))
    slack = _ROUNDING * np.abs(ends).max(axis=0)
    beyond = np.isfinite(found) & ((found < ends[0] - slack) | (found > ends[1] + slack))
    if not beyond.any():
        return ""
    row, station = np.argwhere(beyond)[0]
    low, high = ends[:, row, 0]
    return f"returned {found[row, station]:.6g} in SI, beyond its own bounds of {low:.6g} to {high:.6g}"


def _otherwise_alone(found: Array, given: Given, calculated: Callable[[Given], Array]) -> str:
    """Whether a row comes out otherwise by itself: what others measured would decide on it."""
    for row in _two_apart(given) if len(found) > 1 else ():
        alone = calculated(tuple(argument[row : row + 1] if len(argument) > 1 else argument for argument in given))[0]
        among = found[row]
        finite = np.abs(found[np.isfinite(found)])
        slack = _NOTHING + _ROUNDING * (finite.max() if finite.size else 0.0)
        if differ := np.flatnonzero(~np.isclose(alone, among, rtol=_AS_EXACT, atol=slack, equal_nan=True)).tolist():
            one = differ[0]
            return f"returned {among[one]:.6g} in SI for a row among others, {alone[one]:.6g} for the same alone"
    return ""


def _two_apart(given: Given) -> tuple[int, ...]:
    """Two rows in which nothing is missing, as different as they can be; none where there are no two."""
    together = np.broadcast_arrays(*given)
    there = np.logical_and.reduce([np.isfinite(argument) for argument in together])
    rows = np.flatnonzero(there.any(axis=1))
    if rows.size <= 1:
        return ()
    for argument in together:
        ends = np.argmin(np.where(there, argument, np.inf)), np.argmax(np.where(there, argument, -np.inf))
        least, greatest = (int(end) // there.shape[1] for end in ends)
        if least != greatest:
            return least, greatest
    return int(rows[0]), int(rows[-1])


def _ends_of_rows(argument: Array, rows: int) -> tuple[list[float], list[float]]:
    """The least and the greatest of each row, not finite where nothing of it is known."""
    is_there = np.isfinite(argument)
    ends = (
        np.where(is_there, argument, np.inf).min(axis=-1, initial=np.inf),
        np.where(is_there, argument, -np.inf).max(axis=-1, initial=-np.inf),
    )
    least, greatest = (np.broadcast_to(end, rows).tolist() for end in ends)
    return least, greatest
