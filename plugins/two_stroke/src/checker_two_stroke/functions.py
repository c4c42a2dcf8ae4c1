"""The geometry as functions for expressions, each with its dimensions and where its result lies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from checker import Function, Interval, RangeError, dimension_of

from checker_two_stroke.geometry import piston_travel, port_opening_angle, squish_velocity

LENGTH, VOLUME, ANGLE, TURNS = (dimension_of(name) for name in ("m", "cc", "rad", "rpm"))
SPEED = dimension_of("m_per_s")

FASTEST = 1000.0
"""No squish is anywhere near as fast."""


def _travel_range(stroke: Interval, rod_length: Interval, angle: Interval) -> Interval:
    return Interval(0.0, stroke.high)


def _opening_range(stroke: Interval, rod_length: Interval, depth: Interval) -> Interval:
    return Interval(0.0, math.pi)


def _squish_range(
    stroke: Interval,
    rod_length: Interval,
    bore: Interval,
    bowl_diameter: Interval,
    bowl_volume: Interval,
    clearance: Interval,
    engine_speed: Interval,
) -> Interval:
    if min(bore.low, bowl_diameter.low, bowl_volume.low, clearance.low) <= 0.0:
        raise RangeError("bore, bowl and clearance must be greater than zero")
    return Interval(0.0, FASTEST)


FUNCTIONS: Mapping[str, Function] = MappingProxyType(
    {
        function.name: function
        for function in (
            Function("piston_travel", (LENGTH, LENGTH, ANGLE), LENGTH, call=piston_travel, bounds=_travel_range),
            Function(
                "port_opening_angle", (LENGTH, LENGTH, LENGTH), ANGLE, call=port_opening_angle, bounds=_opening_range
            ),
            Function(
                "greatest_squish_velocity",
                (LENGTH, LENGTH, LENGTH, LENGTH, VOLUME, LENGTH, TURNS),
                SPEED,
                call=squish_velocity,
                bounds=_squish_range,
            ),
        )
    }
)
"""What the pack's expressions may call besides the built-in functions."""
