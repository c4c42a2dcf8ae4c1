"""How much of a window is open, and for how long: areas in closed form, time-areas by Gauss-Legendre quadrature.

A window is as wide as its chord, straight across from wall to wall, from its roof down to its floor, both below the
crown's edge at top dead centre; its four corners are rounded alike. Metres, radians, revolutions per second.

The time-area is summed over the height of the window, each strip of it for as long as the crown is below: the strips
are open for a time that is known in closed form, whereas the open area over time has a corner wherever the window has.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from checker_two_stroke.motion import TURN, Array, open_angle, port_opening_angle, whole_travel

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
# From one edge of a strip to the other as the square of a sine: how long an edge stays open begins as a root.
_ALONG = np.sin(np.pi / 4 * (_NODES + 1)) ** 2
_SHARES = _WEIGHTS * np.pi / 4 * np.sin(np.pi / 2 * (_NODES + 1))


def uncovered_area(chord: Array, corner_radius: Array, roof: Array, floor: Array, travel: Array) -> Array:
    """How much of a window the crown has uncovered when it stands this far below top dead centre."""
    height = np.maximum(floor - roof, 0.0)
    corner = _corner(chord, corner_radius, height)
    down = np.clip(travel - roof, 0.0, height)
    lost = _lost_by(corner, down) + _lost_by(corner, height) - _lost_by(corner, height - down)
    area: Array = chord * down - lost
    return area


def specific_time_area(
    stroke: Array,
    rod_length: Array,
    pin_offset: Array,
    chord: Array,
    corner_radius: Array,
    roof: Array,
    floor: Array,
    swept_volume: Array,
    engine_speed: Array,
) -> Array:
    """Open area of a window over the whole time that it is open in one turn, per swept volume: seconds per metre."""

    def turned(depth: Array) -> Array:
        return open_angle(_inner(stroke), _inner(rod_length), _inner(pin_offset), depth)

    # No strip below the crown at bottom dead centre is ever open.
    until = np.minimum(floor, whole_travel(stroke, rod_length, pin_offset))
    return _summed(turned, chord, corner_radius, roof, floor, until) / (TURN * engine_speed * swept_volume)


def specific_blowdown_time_area(
    stroke: Array,
    rod_length: Array,
    pin_offset: Array,
    chord: Array,
    corner_radius: Array,
    roof: Array,
    floor: Array,
    transfer_roof: Array,
    swept_volume: Array,
    engine_speed: Array,
) -> Array:
    """The same of an exhaust window, from when it opens until the crown comes to the first transfer roof."""

    opens = port_opening_angle(stroke, rod_length, pin_offset, transfer_roof)
    window = (chord, corner_radius, roof, floor)
    return specific_time_area_until(
        stroke, rod_length, pin_offset, *window, transfer_roof, swept_volume, engine_speed, opens
    )


def specific_time_area_until(
    stroke: Array,
    rod_length: Array,
    pin_offset: Array,
    chord: Array,
    corner_radius: Array,
    roof: Array,
    floor: Array,
    deepest: Array,
    swept_volume: Array,
    engine_speed: Array,
    angle: Array,
) -> Array:
    """The same of a window from when it opens until this angle, of no strip that lies deeper than that."""

    def turned(depth: Array) -> Array:
        opens = port_opening_angle(_inner(stroke), _inner(rod_length), _inner(pin_offset), depth)
        return np.maximum(_inner(angle) - opens, 0.0)

    until = np.minimum(floor, deepest)
    return _summed(turned, chord, corner_radius, roof, floor, until) / (TURN * engine_speed * swept_volume)


def _summed(
    turned: Callable[[Array], Array], chord: Array, corner_radius: Array, roof: Array, floor: Array, until: Array
) -> Array:
    """Width of a window by depth, times how much of a turn that depth is open, from its roof down to `until`."""
    height = np.maximum(floor - roof, 0.0)
    corner = _corner(chord, corner_radius, height)
    deepest = np.clip(until - roof, 0.0, height)
    edges = [np.zeros_like(height), corner, height - corner, height]
    whole: Array = np.zeros(())
    for upper, lower in pairwise(edges):
        first, last = np.minimum(upper, deepest), np.minimum(lower, deepest)
        down = _inner(first) + _inner(last - first) * _ALONG
        width = _inner(chord) - 2 * _inset(_inner(corner), np.minimum(down, _inner(height) - down))
        whole = whole + (last - first) * ((width * turned(_inner(roof) + down)) @ _SHARES)
    return whole


def _inner(values: Array) -> Array:
    """With an axis for the nodes."""
    return np.asarray(values)[..., np.newaxis]


def _corner(chord: Array, corner_radius: Array, height: Array) -> Array:
    """A corner is at most as large as makes the window round."""
    return np.minimum(corner_radius, np.minimum(chord, height) / 2)


def _inset(corner: Array, down: Array) -> Array:
    """How far a rounded corner stands inwards at this distance from the roof or the floor."""
    up = np.clip(corner - down, 0.0, corner)
    inset: Array = corner - np.sqrt(corner**2 - up**2)
    return inset


def _lost_by(corner: Array, down: Array) -> Array:
    """What both corners of one edge take off the area down to there."""
    up = np.clip(corner - down, 0.0, corner)
    with np.errstate(invalid="ignore", divide="ignore"):
        angle = np.where(corner > 0.0, np.arcsin(up / corner), 0.0)
    whole = np.pi / 2 * corner**2
    left: Array = whole - up * np.sqrt(corner**2 - up**2) - corner**2 * angle
    return 2 * corner * (corner - up) - left
