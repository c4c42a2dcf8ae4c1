"""Where the piston is, and when its crown passes an edge: the slider-crank with an offset pin, in closed form.

Lengths in metres, angles in radians from top dead centre in the sense of rotation. The stroke is twice the throw of the
crank. The offset is how far the pin runs beside the line through the crank's centre along the bore, positive towards
the side on which the crankpin comes down. A rod that is too short to go round gives nothing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
TURN = 2 * np.pi


def piston_travel(stroke: Array, rod_length: Array, pin_offset: Array, angle: Array) -> Array:
    """How far the piston stands below top dead centre."""
    throw = stroke / 2
    turned = angle + _angle_at_top(throw, rod_length, pin_offset)
    with np.errstate(invalid="ignore"):
        height = throw * np.cos(turned) + np.sqrt(rod_length**2 - (throw * np.sin(turned) - pin_offset) ** 2)
        travel: Array = _height_at_top(throw, rod_length, pin_offset) - height
    return _where_it_turns(stroke, rod_length, pin_offset, travel)


def whole_travel(stroke: Array, rod_length: Array, pin_offset: Array) -> Array:
    """How far the piston goes: the stroke, and a little more where the pin runs out of line."""
    throw = stroke / 2
    return _height_at_top(throw, rod_length, pin_offset) - _height_at_bottom(throw, rod_length, pin_offset)


def port_opening_angle(stroke: Array, rod_length: Array, pin_offset: Array, depth: Array) -> Array:
    """When the crown has come down to an edge at this depth below its place at top dead centre.

    None for an edge above it; the angle of bottom dead centre for an edge that it never reaches.
    """
    towards, apart = _lean(stroke, rod_length, pin_offset, depth)
    return _where_it_turns(stroke, rod_length, pin_offset, towards + apart)


def port_closing_angle(stroke: Array, rod_length: Array, pin_offset: Array, depth: Array) -> Array:
    """When the crown has gone up to that edge again: a whole turn after top dead centre for an edge above it."""
    towards, apart = _lean(stroke, rod_length, pin_offset, depth)
    return _where_it_turns(stroke, rod_length, pin_offset, TURN + towards - apart)


def open_angle(stroke: Array, rod_length: Array, pin_offset: Array, depth: Array) -> Array:
    """For how much of a turn the crown is below an edge."""
    _, apart = _lean(stroke, rod_length, pin_offset, depth)
    return _where_it_turns(stroke, rod_length, pin_offset, TURN - 2 * apart)


def piston_speed(stroke: Array, rod_length: Array, angle: Array, engine_speed: Array) -> Array:
    """How fast the piston moves at a crank angle, its pin in line; engine speed in revolutions per second."""
    throw = stroke / 2
    with np.errstate(invalid="ignore"):
        upright = np.sqrt(rod_length**2 - (throw * np.sin(angle)) ** 2)
    return TURN * engine_speed * throw * np.sin(angle) * (1 + throw * np.cos(angle) / upright)


def _lean(stroke: Array, rod_length: Array, pin_offset: Array, depth: Array) -> tuple[Array, Array]:
    """Which way the pin lies from the crank's centre, from top dead centre; and how far the throw stands off that.

    Throw, rod and the line from the crank's centre to the pin are the sides of a triangle.
    """
    throw = stroke / 2
    with np.errstate(invalid="ignore", divide="ignore"):
        top = _height_at_top(throw, rod_length, pin_offset)
        height = np.clip(top - depth, _height_at_bottom(throw, rod_length, pin_offset), top)
        away = np.hypot(pin_offset, height)
        cosine = (throw**2 + away**2 - rod_length**2) / (2 * throw * away)
        towards: Array = np.arctan2(pin_offset, height) - _angle_at_top(throw, rod_length, pin_offset)
        apart: Array = np.arccos(np.clip(cosine, -1.0, 1.0))
    return towards, apart


def _height_at_top(throw: Array, rod_length: Array, pin_offset: Array) -> Array:
    height: Array = np.sqrt((rod_length + throw) ** 2 - pin_offset**2)
    return height


def _height_at_bottom(throw: Array, rod_length: Array, pin_offset: Array) -> Array:
    with np.errstate(invalid="ignore"):
        height: Array = np.sqrt((rod_length - throw) ** 2 - pin_offset**2)
    return height


def _angle_at_top(throw: Array, rod_length: Array, pin_offset: Array) -> Array:
    with np.errstate(invalid="ignore"):
        angle: Array = np.arcsin(pin_offset / (rod_length + throw))
    return angle


def _where_it_turns(stroke: Array, rod_length: Array, pin_offset: Array, found: Array) -> Array:
    return np.where(rod_length > stroke / 2 + np.abs(pin_offset), found, np.nan)
