"""The least clearance between a piston and a valve near top dead centre of the overlap, and the angle where it is.

SI units and radians, elementwise on whole arrays. The curve is read every half degree; between two of those angles it
lies lower by some 0.00005 in at most. Where it is least at the end of what is known, it may be less beyond: not
covered.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from checker_piston_to_valve.motion import NOT_COVERED, Array, lobe_lift_at, piston_drop

STEP = np.radians(0.5)
AROUND_OVERLAP = STEP * np.arange(-80, 81)
"""40 degrees to both sides: by then the valve is nearly on its seat, or the piston far down."""

STATIONS = np.radians(5.0) * np.arange(-3, 4)
"""Where drop and lift are measured: 15, 10 and 5 degrees before, at, and 5, 10 and 15 after top dead centre."""
ALONG_TABLE = STEP * np.arange(-30, 31)
_ROUNDING = 1e-9


def curve_by_the_cam(
    crank_angle: Array,
    drop_at_top: Array,
    valve_angle: Array,
    stroke: Array,
    rod_length: Array,
    centreline: Array,
    duration: Array,
    event_lift: Array,
    lobe_lift: Array,
    rocker_ratio: Array,
    lash: Array,
) -> Array:
    """Clearance along the valve: the free drop at top dead centre and what the piston adds, less what the cam takes.

    `centreline` is after top dead centre: that of an exhaust lobe is negative, and an advanced cam has a smaller one.
    """
    opened = np.maximum(
        lobe_lift_at(crank_angle, centreline, duration, event_lift, lobe_lift) * rocker_ratio - lash, 0.0
    )
    dropped = piston_drop(crank_angle, stroke, rod_length) * np.cos(valve_angle)
    known = np.isfinite(opened) & np.isfinite(dropped)
    return np.asarray(
        np.where(known, drop_at_top + np.where(known, dropped, 0.0) - np.where(known, opened, 0.0), NOT_COVERED)
    )


def least_by_the_cam(*of: Array) -> tuple[Array, Array]:
    """The least of the curve around the overlap and its angle; `of` as in `curve_by_the_cam`."""
    shape = np.broadcast_shapes(*(np.shape(each) for each in of))
    return _least(shape, ((angle, curve_by_the_cam(angle, *of), True) for angle in AROUND_OVERLAP))


def drop_weights(at: Array) -> Array:
    """What each station's drop counts at each angle: the cubic through the four stations about it."""
    first = np.clip(np.floor((at - STATIONS[0]) / (STATIONS[1] - STATIONS[0]) + _ROUNDING).astype(int) - 1, 0, 3)
    weights = np.zeros((len(at), len(STATIONS)))
    rows = np.arange(len(at))
    for one in range(4):
        share = np.ones(len(at))
        for other in set(range(4)) - {one}:
            share *= (at - STATIONS[first + other]) / (STATIONS[first + one] - STATIONS[first + other])
        weights[rows, first + one] = share
    return weights


DROP_WEIGHTS = drop_weights(ALONG_TABLE)


def lift_in_table(at: Array, lifts: tuple[Array, ...]) -> Array:
    """Lobe lift by straight lines between stations: on a flank that curves upward, as at overlap, never too little."""
    along = np.clip((at - STATIONS[0]) / (STATIONS[1] - STATIONS[0]), 0.0, len(STATIONS) - 1.0)
    found = sum(np.maximum(1.0 - np.abs(along - index), 0.0) * lift for index, lift in enumerate(lifts))
    return np.asarray(found)


def in_table(at: Array) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Whether an angle lies between the first and the last station."""
    return np.asarray((at >= STATIONS[0] - _ROUNDING) & (at <= STATIONS[-1] + _ROUNDING))


def least_in_table(*of: Array) -> tuple[Array, Array]:
    """The least of measured drop less lift and its angle.

    `of`: seven drops, seven lobe lifts, both from 15 degrees before top dead centre to 15 after; the rocker's ratio;
    the lash; and by how much the cam is to be advanced from where the lifts were measured.
    """
    drops, lifts, (ratio, lash, advance) = of[:7], of[7:14], of[14:]

    def points() -> Iterable[tuple[float, Array, object]]:
        for angle, weights in zip(ALONG_TABLE, DROP_WEIGHTS, strict=True):
            dropped = sum(weight * drop for weight, drop in zip(weights, drops, strict=True))
            moved = np.asarray(angle + advance)
            opened = np.maximum(lift_in_table(moved, lifts) * ratio - lash, 0.0)
            yield angle, np.asarray(dropped - opened), in_table(moved)

    return _least(np.broadcast_shapes(*(np.shape(each) for each in of)), points())


def _least(shape: tuple[int, ...], points: Iterable[tuple[float, Array, object]]) -> tuple[Array, Array]:
    """The least of a curve given angle by angle, and where it first is; not covered at either end of what is known."""
    least, at = np.full(shape, np.inf), np.full(shape, np.nan)
    first, last = np.full(shape, np.inf), np.full(shape, -np.inf)
    for angle, value, known in points:
        known = np.broadcast_to(np.asarray(known, dtype=np.bool_), shape)
        first = np.where(known, np.minimum(first, angle), first)
        last = np.where(known, angle, last)
        lower = known & (value < least)
        least, at = np.where(lower, value, least), np.where(lower, angle, at)
    inside = (at > first) & (at < last)
    return np.where(inside, least, NOT_COVERED), np.where(inside, at, NOT_COVERED)
