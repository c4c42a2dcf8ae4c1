"""The curves as functions for expressions, each with its dimensions and where its result lies.

Ranges are those of ranges.py. They ask only for what an engine has: no length, angle of a valve, ratio or lash below
nought, and a lobe with some lift and duration.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
from checker import Function, Interval, RangeError, dimension_of

from checker_piston_to_valve import clearance, motion, ranges
from checker_piston_to_valve.motion import Array

LENGTH, ANGLE, NUMBER = (dimension_of(name) for name in ("m", "rad", "ratio"))

_SQUARE = float(np.pi / 2)


def _drop_range(crank_angle: Interval, stroke: Interval, rod_length: Interval) -> Interval:
    _none_below_nought(stroke, rod_length)
    near, far = max(crank_angle.low, -crank_angle.high, 0.0), max(-crank_angle.low, crank_angle.high)
    if far > np.pi:
        return Interval(0.0, stroke.high)
    low, high = ranges.drop_range(np.asarray(near), np.asarray(far), stroke, rod_length)
    return Interval(float(low), float(high))


def _lift_range(
    crank_angle: Interval, centreline: Interval, duration: Interval, event_lift: Interval, lobe_lift: Interval
) -> Interval:
    _none_below_nought(event_lift)
    _above_nought(duration, lobe_lift)
    ends = (np.asarray(crank_angle.low), np.asarray(crank_angle.high))
    low, high = ranges.lift_range(*ends, centreline, duration, event_lift, lobe_lift)
    return Interval(float(low), float(high))


def _cam(*of: Interval) -> ranges.Curve:
    """Arguments as of `curve_by_the_cam` after the angle."""
    _, valve_angle, stroke, rod_length, _, duration, event_lift, lobe_lift, ratio, lash = of
    _none_below_nought(valve_angle, stroke, rod_length, event_lift, ratio, lash)
    _above_nought(duration, lobe_lift)
    if valve_angle.high > _SQUARE:
        raise RangeError("the valve's angle must be at most square to the bore")
    return ranges.by_the_cam(*of)


def _table(*of: Interval) -> ranges.Curve:
    _none_below_nought(*of[7:16])
    return ranges.in_table(*of)


def _none_below_nought(*of: Interval) -> None:
    if min(each.low for each in of) < 0.0:
        raise RangeError("lengths, the valve's angle, lifts, the rocker's ratio and lash must not be below nought")


def _above_nought(*of: Interval) -> None:
    if min(each.low for each in of) <= 0.0:
        raise RangeError("a lobe's duration and lift must be greater than zero")


def _pair(
    names: tuple[str, str],
    arguments: tuple[Any, ...],
    call: Callable[..., tuple[Array, Array]],
    curve: Callable[..., ranges.Curve],
    angles: Array,
) -> tuple[Function, Function]:
    """The least of a curve, and the angle where it is.

    What is not covered comes out missing: functions that may be off their end are tried at every corner of what is in
    doubt, and fourteen doubtful readings have 16384 corners.
    """
    return (
        Function(
            names[0],
            arguments,
            LENGTH,
            call=lambda *of: call(*of)[0],
            bounds=lambda *of: ranges.least_of(*curve(*of)),
        ),
        Function(
            names[1],
            arguments,
            ANGLE,
            call=lambda *of: call(*of)[1],
            bounds=lambda *of: ranges.angle_of(angles, *curve(*of)),
        ),
    )


_OF_THE_CAM = (LENGTH, ANGLE, LENGTH, LENGTH, ANGLE, ANGLE, LENGTH, LENGTH, NUMBER, LENGTH)
_OF_TABLES = (*[LENGTH] * 14, NUMBER, LENGTH, ANGLE)

FUNCTIONS: Mapping[str, Function] = MappingProxyType(
    {
        function.name: function
        for function in (
            Function(
                "piston_drop", (ANGLE, LENGTH, LENGTH), LENGTH, call=motion.piston_drop, bounds=_drop_range, ends=True
            ),
            Function(
                "lobe_lift_at",
                (ANGLE, ANGLE, ANGLE, LENGTH, LENGTH),
                LENGTH,
                call=motion.lobe_lift_at,
                bounds=_lift_range,
                ends=True,
            ),
            *_pair(
                ("least_piston_to_valve", "angle_of_least_piston_to_valve"),
                _OF_THE_CAM,
                clearance.least_by_the_cam,
                _cam,
                clearance.AROUND_OVERLAP,
            ),
            *_pair(
                ("least_drop_over_lift", "angle_of_least_drop_over_lift"),
                _OF_TABLES,
                clearance.least_in_table,
                _table,
                clearance.ALONG_TABLE,
            ),
        )
    }
)
"""What the pack's expressions may call besides the built-in functions."""
