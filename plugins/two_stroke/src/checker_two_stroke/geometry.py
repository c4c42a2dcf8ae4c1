"""Where the piston is, when it opens a port, and how fast it squeezes the mixture inwards.

Lengths in metres, angles in radians from top dead centre, engine speed in revolutions per second. Pin and crank lie
in line with the bore.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SQUISH_ANGLES = np.deg2rad(np.arange(1.0, 90.25, 0.25))
"""The squish is fastest 5 to 15 degrees before top dead centre; this step finds it to 0.05 per cent."""


def piston_travel(stroke: Array, rod_length: Array, angle: Array) -> Array:
    """How far the piston stands below top dead centre."""
    crank = stroke / 2
    travel: Array = crank * (1 - np.cos(angle)) + rod_length - _upright(crank, rod_length, angle)
    return travel


def port_opening_angle(stroke: Array, rod_length: Array, depth: Array) -> Array:
    """When the crown has come down to an edge; 0 for an edge above it, half a turn for one it never reaches."""
    crank = stroke / 2
    height = crank + rod_length - np.clip(depth, 0.0, stroke)
    cosine = (height**2 + crank**2 - rod_length**2) / (2 * crank * height)
    angle = np.arccos(np.clip(cosine, -1.0, 1.0))
    return np.where(rod_length > crank, angle, np.nan)


def squish_velocity(
    stroke: Array,
    rod_length: Array,
    bore: Array,
    bowl_diameter: Array,
    bowl_volume: Array,
    clearance: Array,
    engine_speed: Array,
) -> Array:
    """The greatest speed at which mixture leaves the squish band, by the textbook form for a bowl in a flat head."""
    fastest: Array = np.zeros(1)
    for angle in SQUISH_ANGLES:
        gap = clearance + piston_travel(stroke, rod_length, angle)
        inflow = bowl_diameter / (4 * gap) * ((bore / bowl_diameter) ** 2 - 1)
        share = bowl_volume / (np.pi / 4 * bore**2 * gap + bowl_volume)
        speed = piston_speed(stroke, rod_length, angle, engine_speed) * inflow * share
        fastest = np.maximum(fastest, speed)
    return fastest


def piston_speed(stroke: Array, rod_length: Array, angle: Array, engine_speed: Array) -> Array:
    """How fast the piston moves at a crank angle."""
    crank = stroke / 2
    lean = crank * np.cos(angle) / _upright(crank, rod_length, angle)
    return 2 * np.pi * engine_speed * crank * np.sin(angle) * (1 + lean)


def _upright(crank: Array, rod_length: Array, angle: Array) -> Array:
    """How far along the bore the rod reaches; missing for a rod shorter than the crank."""
    with np.errstate(invalid="ignore"):
        length: Array = np.sqrt(rod_length**2 - (crank * np.sin(angle)) ** 2)
    return length
