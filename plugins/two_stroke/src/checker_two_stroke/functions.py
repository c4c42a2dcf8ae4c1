"""The geometry as functions for expressions, each with its dimensions and where its result lies.

Each rises or falls with every one of its arguments all the way, an angle within half a turn: its range is that of its
values where all arguments are at one of their ends.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
from checker import Function, Interval, RangeError, dimension_of

from checker_two_stroke import motion, squish, windows
from checker_two_stroke.motion import Array

LENGTH, AREA, VOLUME = (dimension_of(name) for name in ("m", "cm2", "cc"))
ANGLE, TURNS, SPEED, TIME_AREA = (dimension_of(name) for name in ("rad", "rpm", "m/s", "s/m"))

_CRANK = (LENGTH, LENGTH, LENGTH)
"""Stroke, rod length, pin offset."""
_WINDOW = (LENGTH, LENGTH, LENGTH, LENGTH)
"""Chord, corner radius, roof, floor."""


_NEAR_THE_BOTTOM = 3.0
"""Radians from top dead centre; no pin is so far out of line that it turns round before."""


def _by_ends(call: Callable[..., Array], *of: Interval) -> Interval:
    """The range of what rises or falls with each argument."""
    ends = np.ix_(*(np.array(each) for each in of))
    with np.errstate(all="ignore"):
        found = call(*ends)
    if not np.isfinite(found).all():
        raise RangeError("these sizes are those of no engine")
    return Interval(float(found.min()), float(found.max()))


def _turning(call: Callable[..., Array]) -> Callable[..., Interval]:
    """The range of what a crank moves; a rod that is too short to go round is taken for one that can."""

    def call_turning(stroke: Array, rod_length: Array, pin_offset: Array, *rest: Array) -> Array:
        shortest = (stroke / 2 + np.abs(pin_offset)) * (1 + 1e-9)
        return call(stroke, np.maximum(rod_length, shortest), pin_offset, *rest)

    def bounds(*of: Interval) -> Interval:
        return _by_ends(call_turning, *of)

    return bounds


def _travel_range(stroke: Interval, rod_length: Interval, pin_offset: Interval, angle: Interval) -> Interval:
    least, most = 0.0, _turning(motion.whole_travel)(stroke, rod_length, pin_offset).high
    if angle.low >= 0.0 and angle.high <= math.pi:
        least, high = _turning(motion.piston_travel)(stroke, rod_length, pin_offset, angle)
        # An offset pin turns round a little before or after half a turn.
        most = most if angle.high > _NEAR_THE_BOTTOM and any(pin_offset) else high
    return Interval(least, most)


def _time_area_range(call: Callable[..., Array]) -> Callable[..., Interval]:
    def bounds(*of: Interval) -> Interval:
        if min(each.low for each in of[-2:]) <= 0.0:
            raise RangeError("swept volume and engine speed must be greater than zero")
        return _turning(call)(*of)

    return bounds


def _squish_range(*of: Interval) -> Interval:
    stroke, rod_length, *rest = of
    if min(each.low for each in rest[:4]) <= 0.0:
        raise RangeError("bore, bowl and clearance must be greater than zero")

    def call(stroke: Array, rod_length: Array, *rest: Array) -> Array:
        return squish.greatest_squish_velocity(stroke, np.maximum(rod_length, stroke / 2 * (1 + 1e-9)), *rest)

    return _by_ends(call, stroke, rod_length, *rest)


def _of(
    name: str, arguments: tuple[Any, ...], result: Any, call: Callable[..., Array], bounds: Callable[..., Interval]
) -> tuple[str, Function]:
    return name, Function(name, arguments, result, call=call, bounds=bounds)


FUNCTIONS: Mapping[str, Function] = MappingProxyType(
    dict(
        (
            _of("piston_travel", (*_CRANK, ANGLE), LENGTH, motion.piston_travel, _travel_range),
            _of(
                "port_opening_angle",
                (*_CRANK, LENGTH),
                ANGLE,
                motion.port_opening_angle,
                _turning(motion.port_opening_angle),
            ),
            _of(
                "port_closing_angle",
                (*_CRANK, LENGTH),
                ANGLE,
                motion.port_closing_angle,
                _turning(motion.port_closing_angle),
            ),
            _of(
                "uncovered_area",
                (*_WINDOW, LENGTH),
                AREA,
                windows.uncovered_area,
                lambda *of: _by_ends(windows.uncovered_area, *of),
            ),
            _of(
                "specific_time_area",
                (*_CRANK, *_WINDOW, VOLUME, TURNS),
                TIME_AREA,
                windows.specific_time_area,
                _time_area_range(windows.specific_time_area),
            ),
            _of(
                "specific_blowdown_time_area",
                (*_CRANK, *_WINDOW, LENGTH, VOLUME, TURNS),
                TIME_AREA,
                windows.specific_blowdown_time_area,
                _time_area_range(windows.specific_blowdown_time_area),
            ),
            _of(
                "greatest_squish_velocity",
                (LENGTH, LENGTH, LENGTH, LENGTH, VOLUME, LENGTH, TURNS),
                SPEED,
                squish.greatest_squish_velocity,
                _squish_range,
            ),
        )
    )
)
"""What the pack's expressions may call besides the built-in functions."""
