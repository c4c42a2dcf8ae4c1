"""Where the least clearance and its angle lie when what they are made of lies in ranges.

Angle by angle the clearance rises or falls with each of its parts alone, so that its ends are found exactly; the least
lies between the least of the low ends and the least of the high ends, and its angle only where a low end reaches down
to that. Nothing is sampled: a clearance within is within wherever the readings may lie. The least is that of
the angles covered: that doubt could move it past the last of them is not seen.
"""

from __future__ import annotations

import numpy as np
from checker import Interval

from checker_piston_to_valve import clearance
from checker_piston_to_valve.motion import Array, flank, slider

ANYWHERE = 1e30
"""A range that says nothing."""

Curve = tuple[Array, Array]
"""The low and the high end at each angle."""


def drop_range(near: Array, far: Array, stroke: Interval, rod_length: Interval) -> Curve:
    """Where the drop lies between two angles from top dead centre, 180 degrees at most.

    It grows with angle and stroke and falls with the rod; a rod too short to go round is taken as one that can.
    """

    long, short = max(rod_length.high, stroke.low / 2.0), max(rod_length.low, stroke.high / 2.0)
    return slider(near, stroke.low, long), slider(far, stroke.high, short)


def lift_range(
    low: Array, high: Array, centreline: Interval, duration: Interval, event_lift: Interval, lobe_lift: Interval
) -> Curve:
    """Where the lift lies between two crank angles.

    Its ends are those of each part, as `flank` has them: between its events a lobe grows with its lift, else it falls.
    """
    near = np.maximum(np.maximum(centreline.low - high, low - centreline.high), 0.0)
    far = np.maximum(high - centreline.low, centreline.high - low)

    def lift(off: Array, of_duration: float, of_event: float) -> list[Array]:
        return [flank(off, *map(np.asarray, (of_duration, of_event, each))) for each in lobe_lift]

    least, most = lift(far, duration.low, event_lift.low), lift(near, duration.high, event_lift.high)
    return np.minimum(*least), np.maximum(*most)


def by_the_cam(
    drop_at_top: Interval,
    valve_angle: Interval,
    stroke: Interval,
    rod_length: Interval,
    centreline: Interval,
    duration: Interval,
    event_lift: Interval,
    lobe_lift: Interval,
    rocker_ratio: Interval,
    lash: Interval,
) -> Curve:
    """The curve by the cam, angle by angle around the overlap."""
    at = clearance.AROUND_OVERLAP
    dropped = drop_range(np.abs(at), np.abs(at), stroke, rod_length)
    lift = lift_range(at, at, centreline, duration, event_lift, lobe_lift)
    leaning = sorted((float(np.cos(valve_angle.low)), float(np.cos(valve_angle.high))))
    open_low = np.maximum(lift[0] * rocker_ratio.low - lash.high, 0.0)
    open_high = np.maximum(lift[1] * rocker_ratio.high - lash.low, 0.0)
    low = drop_at_top.low + dropped[0] * leaning[0] - open_high
    high = drop_at_top.high + dropped[1] * leaning[1] - open_low
    return low, high


def in_table(*of: Interval) -> Curve:
    """The curve of the tables; infinite at the low end where no advance in its range leaves it in the table, at the
    high end where not every one does.
    """
    at = clearance.ALONG_TABLE
    drops, lifts, (ratio, lash, advance) = of[:7], of[7:14], of[14:]
    up, down = np.maximum(clearance.DROP_WEIGHTS, 0.0), np.minimum(clearance.DROP_WEIGHTS, 0.0)
    drop_low, drop_high = (np.array([getattr(each, end) for each in drops]) for end in ("low", "high"))
    # Between two stations the lift runs straight, so that it is least and greatest at a station or at the ends.
    ends = np.stack([at + advance.low, at + advance.high])
    knots = np.broadcast_to(clearance.STATIONS[:, np.newaxis], (len(clearance.STATIONS), len(at)))
    reached = np.concatenate([ends, np.clip(knots, *ends)])
    lift_low, lift_high = (
        clearance.lift_in_table(reached, tuple(np.asarray(getattr(each, end)) for each in lifts))
        for end in ("low", "high")
    )
    open_low = np.maximum(lift_low.min(axis=0) * ratio.low - lash.high, 0.0)
    open_high = np.maximum(lift_high.max(axis=0) * ratio.high - lash.low, 0.0)
    low = up @ drop_low + down @ drop_high - open_high
    high = up @ drop_high + down @ drop_low - open_low
    some = clearance.in_table(np.clip(0.0, *ends))
    every = clearance.in_table(ends).all(axis=0)
    return np.where(some, low, np.inf), np.where(every, high, np.inf)


def least_of(low: Array, high: Array) -> Interval:
    """Where the least of a curve lies, wherever the curve does between its ends."""
    return Interval(_least_end(low), _least_end(high))


def angle_of(angles: Array, low: Array, high: Array) -> Interval:
    """Where the angle of the least lies: not where the curve stays above what it comes down to elsewhere."""
    reached = angles[low <= _least_end(high)]
    return Interval(float(reached.min()), float(reached.max())) if len(reached) else Interval(*angles[[0, -1]])


def _least_end(end: Array) -> float:
    """Where nothing is known of a curve it may lie anywhere."""
    return float(end.min()) if np.isfinite(end).any() else ANYWHERE
