"""The geometry as functions for expressions, each with its dimensions and where its result lies.

Each rises or falls with most of its arguments all the way, so that its range is that of its values at their ends; which
way round, stands beside each. What may go either way is tried at both ends, and in the middle where it is alike on
both sides, as an offset pin is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np
from checker import Function, Interval, RangeError, dimension_of

from checker_two_stroke import motion, squish, windows
from checker_two_stroke.motion import Array

LENGTH, AREA, VOLUME = (dimension_of(name) for name in ("m", "cm2", "cc"))
ANGLE, TURNS, SPEED, TIME_AREA = (dimension_of(name) for name in ("rad", "rpm", "m/s", "s/m"))

Call: TypeAlias = Callable[..., Array]

RISES, FALLS, EITHER = 1, -1, 0

_NEAR_THE_BOTTOM = 3.0
"""Radians from top dead centre; no pin is so far out of line that it turns round before."""

_AT_THE_BOTTOM = 0.05
"""Radians by which it may be off when a pin that is out of line just uncovers an edge at the bottom."""


def _range(call: Call, ways: tuple[int, ...], *of: Interval) -> Interval:
    """Between the least and the greatest value at the ends of all arguments."""
    ends = [_extreme(call, [_tried(each, way, high) for each, way in zip(of, ways, strict=True)]) for high in (0, 1)]
    if not np.isfinite(ends).all():
        raise RangeError("these sizes are those of no engine")
    return Interval(float(ends[0].min()), float(ends[1].max()))


def _extreme(call: Call, tried: list[Array]) -> Array:
    with np.errstate(all="ignore"):
        return np.asarray(call(*np.ix_(*tried)))


def _tried(of: Interval, way: int, high: int) -> Array:
    if way != EITHER:
        return np.array([of[high] if way == RISES else of[1 - high]])
    return np.array(sorted({of.low, min(max(0.0, of.low), of.high), of.high}))


def _turning(call: Call) -> Call:
    """The same of a crank that goes round: a rod that is too short for its throw is taken for one that is not."""

    def call_turning(stroke: Array, rod_length: Array, pin_offset: Array, *rest: Array) -> Array:
        shortest = (stroke / 2 + np.abs(pin_offset)) * (1 + 1e-9)
        return call(stroke, np.maximum(rod_length, shortest), pin_offset, *rest)

    return call_turning


def _travel_range(stroke: Interval, rod_length: Interval, pin_offset: Interval, angle: Interval) -> Interval:
    crank = (stroke, rod_length, pin_offset)
    least, most = 0.0, _range(_turning(motion.whole_travel), (RISES, FALLS, EITHER), *crank).high
    if angle.low >= 0.0 and angle.high <= np.pi:
        least, high = _range(_turning(motion.piston_travel), (RISES, FALLS, EITHER, RISES), *crank, angle)
        # An offset pin turns round a little before or after half a turn.
        most = most if angle.high > _NEAR_THE_BOTTOM and any(pin_offset) else high
    return Interval(least, most)


def _timing_range(
    call: Call, stroke: Interval, rod_length: Interval, pin_offset: Interval, depth: Interval
) -> Interval:
    ways = (EITHER, EITHER, EITHER, EITHER)
    low, high = _range(_turning(call), ways, stroke, rod_length, pin_offset, depth)
    if any(pin_offset) and depth.high > 0.9 * stroke.low:
        return Interval(low - _AT_THE_BOTTOM, high + _AT_THE_BOTTOM)
    return Interval(low, high)


_WINDOW_WAYS = (RISES, FALLS, FALLS, RISES)


def _area_range(*of: Interval) -> Interval:
    return _range(windows.uncovered_area, (*_WINDOW_WAYS, RISES), *of)


def _time_area_range(*of: Interval) -> Interval:
    _above_nought("swept volume and engine speed", *of[-2:])
    ways = (RISES, FALLS, EITHER, *_WINDOW_WAYS, FALLS, FALLS)
    return _range(_turning(windows.specific_time_area), ways, *of)


def _blowdown_range(*of: Interval) -> Interval:
    """With more stroke both open earlier; which gains more by it differs, so each has the whole of its own doubt."""
    _above_nought("swept volume and engine speed", *of[-2:])
    opens = _timing_range(motion.port_opening_angle, of[0], of[1], of[2], of[7])
    ways = (RISES, FALLS, EITHER, *_WINDOW_WAYS, RISES, FALLS, FALLS, RISES)
    return _range(_turning(windows.specific_time_area_until), ways, *of, opens)


def _squish_range(*of: Interval) -> Interval:
    _above_nought("bore, bowl and clearance", *of[2:6])

    def call(stroke: Array, rod_length: Array, *rest: Array) -> Array:
        return squish.greatest_squish_velocity(stroke, np.maximum(rod_length, stroke / 2 * (1 + 1e-9)), *rest)

    return _range(call, (EITHER, EITHER, RISES, FALLS, RISES, FALLS, RISES), *of)


def _above_nought(what: str, *of: Interval) -> None:
    if min(each.low for each in of) <= 0.0:
        raise RangeError(f"{what} must be greater than zero")


_CRANK = (LENGTH, LENGTH, LENGTH)
"""Stroke, rod length, pin offset."""
_WINDOW = (LENGTH, LENGTH, LENGTH, LENGTH)
"""Chord, corner radius, roof, floor."""

_TABLE: tuple[tuple[Call, tuple[Any, ...], Any, Callable[..., Interval]], ...] = (
    (motion.piston_travel, (*_CRANK, ANGLE), LENGTH, _travel_range),
    (motion.port_opening_angle, (*_CRANK, LENGTH), ANGLE, partial(_timing_range, motion.port_opening_angle)),
    (motion.port_closing_angle, (*_CRANK, LENGTH), ANGLE, partial(_timing_range, motion.port_closing_angle)),
    (windows.uncovered_area, (*_WINDOW, LENGTH), AREA, _area_range),
    (windows.specific_time_area, (*_CRANK, *_WINDOW, VOLUME, TURNS), TIME_AREA, _time_area_range),
    (
        windows.specific_blowdown_time_area,
        (*_CRANK, *_WINDOW, LENGTH, VOLUME, TURNS),
        TIME_AREA,
        _blowdown_range,
    ),
    (
        squish.greatest_squish_velocity,
        (LENGTH, LENGTH, LENGTH, LENGTH, VOLUME, LENGTH, TURNS),
        SPEED,
        _squish_range,
    ),
)

FUNCTIONS: Mapping[str, Function] = MappingProxyType(
    {
        call.__name__: Function(call.__name__, arguments, result, call=call, bounds=bounds)
        for call, arguments, result, bounds in _TABLE
    }
)
"""What the pack's expressions may call besides the built-in functions."""
