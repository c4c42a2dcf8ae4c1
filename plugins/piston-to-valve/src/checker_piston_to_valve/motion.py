"""What the piston and the lobe do over crank angle.

SI units and radians, elementwise on whole arrays. Crank angle is counted after top dead centre of the overlap.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Array: TypeAlias = npt.NDArray[np.float64]

NOT_COVERED = np.inf

MOST_EVENT_LIFT = 0.5
"""Of the lobe's lift: events at a higher lift say too little of the flank."""


def piston_drop(crank_angle: Array, stroke: Array, rod_length: Array) -> Array:
    """How far the piston lies below its top, by slider and crank; not covered for a rod no longer than the throw.

    The pin is taken on the bore's axis. With an offset the wheel is still zeroed where the piston is highest, and
    1/16 in of offset then moves the drop within 40 degrees by less than 0.001 in.
    """
    return np.asarray(np.where(rod_length > stroke / 2.0, slider(crank_angle, stroke, rod_length), NOT_COVERED))


def slider(crank_angle: Array, stroke: Array | float, rod_length: Array | float) -> Array:
    """The same for a rod known to be longer than the throw."""
    throw = stroke / 2.0
    reach = rod_length**2 - (throw * np.sin(crank_angle)) ** 2
    return np.asarray(throw * (1.0 - np.cos(crank_angle)) + rod_length - np.sqrt(np.maximum(reach, 0.0)))


def lobe_lift_at(
    crank_angle: Array, centreline: Array, duration: Array, event_lift: Array, greatest_lift: Array
) -> Array:
    """Lift of a lobe alike on both sides, by the square of a cosine: greatest at its centreline, and `event_lift` at
    both events, which lie `duration` apart. All angles of the crank. Not covered above half of the greatest lift.
    """
    found = flank(np.abs(crank_angle - centreline), duration, event_lift, greatest_lift)
    return np.asarray(np.where(event_lift <= MOST_EVENT_LIFT * greatest_lift, found, NOT_COVERED))


def flank(off_centreline: Array, duration: Array, event_lift: Array, greatest_lift: Array) -> Array:
    """The same by the angle off the centreline; it falls with that, and rises with duration and event lift.

    It rises with the greatest lift between the events, and falls with it outside of them: of the logarithm, the slope
    by the arc `at_event` is twice tan(at_event) - y tan(y at_event), where y is the angle over half the duration.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        at_event = np.arccos(np.sqrt(np.clip(event_lift / greatest_lift, 0.0, 1.0)))
        turned = np.minimum(at_event * off_centreline / (duration / 2.0), np.pi / 2.0)
    return np.asarray(greatest_lift * np.cos(turned) ** 2)
