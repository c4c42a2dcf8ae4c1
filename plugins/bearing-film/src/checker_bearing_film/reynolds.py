"""The Reynolds equation of a full plain journal bearing of finite width: the solution that the table is made from.

In h = 1 + eccentricity cos(angle), the angle from the widest film, and z from -1 to 1 across the width:

    d/da (h^3 dp/da) + (D/L)^2 d/dz (h^3 dp/dz) = dh/da,    pressure in units of 6 viscosity omega (R/c)^2

The film begins full where it is widest, and breaks where pressure and its slope are nought (Reynolds' condition).
Finite volumes on a grid that is fine where the film is thin, solved directly, line by line; what is full is found by
turns.
Sources: O. Reynolds, Phil. Trans. R. Soc. 177 (1886); A. A. Raimondi and J. Boyd, ASLE Transactions 1 (1958), whose
variables are used.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

Array: TypeAlias = npt.NDArray[np.float64]
Truths: TypeAlias = npt.NDArray[np.bool_]

MOST_TURNS = 200

HAIR = 1e-10
"""Of the greatest drive: less than this of suction fills no node, or which are full would never settle."""


class Film(NamedTuple):
    """The variables of Raimondi and Boyd, each without dimension; c and R are radial, N in turns a second."""

    sommerfeld_number: float
    """viscosity N (R/c)^2 / (load on the projected area)"""
    friction: float
    """coefficient of friction times R/c, the whole circumference dragging"""
    flow: float
    """what enters at the widest film, by R c N L"""
    side_flow: float
    """what leaves at both sides, by the same"""


class _Grid(NamedTuple):
    """Nodes and the faces between them around half of the width; the last row of z is the edge, where pressure is 0."""

    angle: Array
    face: Array
    z: Array
    z_face: Array


def _grid(eccentricity: float, around: int, across: int) -> _Grid:
    narrow = 2.0 * np.sqrt(1.0 - eccentricity)
    reach = np.arcsinh(np.pi / narrow)
    angle = np.pi + narrow * np.sinh(np.linspace(-reach, reach, around + 1))
    z = np.sin(np.linspace(0.0, np.pi / 2, across + 1))
    return _Grid(angle, (angle[1:] + angle[:-1]) / 2, z, (z[1:] + z[:-1]) / 2)


def solved(eccentricity: float, width_over_diameter: float, around: int = 240, across: int = 16) -> Film:
    """The film at an eccentricity above 0 and below 1; the default grid is within 0.3 % of one twice as fine."""
    grid = _grid(eccentricity, around, across)
    wide = 1.0 + eccentricity * np.cos(grid.angle[1:-1])
    at_face = (1.0 + eccentricity * np.cos(grid.face)) ** 3 / np.diff(grid.angle)
    cell, z_cell = np.diff(grid.face), np.diff(grid.z_face, prepend=0.0)
    around_part = at_face[:, np.newaxis] * z_cell
    side = (cell * wide**3)[:, np.newaxis] / np.diff(grid.z) / width_over_diameter**2
    drive = eccentricity * np.diff(np.cos(grid.face))[:, np.newaxis] * z_cell
    pressure = _pressure(around_part, side, drive)
    share = 2.0 * z_cell
    along = float(((pressure @ share) * cell * np.cos(grid.angle[1:-1])).sum())
    square_to = float(((pressure @ share) * cell * np.sin(grid.angle[1:-1])).sum())
    load = float(np.hypot(along, square_to))
    drag = 2.0 * np.pi / np.sqrt(1.0 - eccentricity**2) + 1.5 * eccentricity * square_to
    # Half a cell from the start, the flow that has left at the side is small beside what comes in.
    enters = np.pi * (1.0 + eccentricity * np.cos(grid.face[0])) - np.pi * float(around_part[0] @ pressure[0])
    leaves = np.pi * float((side[:, -1] * pressure[:, -1]).sum())
    return Film(1.0 / (3.0 * np.pi * load), drag / (3.0 * load), float(enters), leaves)


def _pressure(around_part: Array, side: Array, drive: Array) -> Array:
    """Which nodes are full is settled by turns: none is full with suction, none broken that pressure would fill."""
    full = np.ones(drive.shape, dtype=np.bool_)
    for _ in range(MOST_TURNS):
        pressure = _by_lines(around_part, side, drive, full)
        left = _left_over(around_part, side, drive, pressure)
        now = np.where(full, pressure > 0.0, left < -HAIR * np.abs(drive).max())
        if (now == full).all():
            return pressure
        full = now
    raise ArithmeticError("where the film breaks was not found")


def _left_over(around_part: Array, side: Array, drive: Array, pressure: Array) -> Array:
    """What is left of the equation at each node; below nought where the node would fill."""
    padded = np.pad(pressure, ((1, 1), (0, 1)))
    flows = around_part * np.diff(padded, axis=0)[:, :-1]
    across = side * np.diff(padded, axis=1)[1:-1]
    return drive - np.diff(flows, axis=0) - np.diff(across, axis=1, prepend=0.0)


def _by_lines(around_part: Array, side: Array, drive: Array, full: Truths) -> Array:
    """Elimination from line to line around the bearing; a node that is not full has pressure 0."""
    lines, count = drive.shape
    eye = np.eye(count)
    carried = np.zeros((lines + 1, count, count))
    constant = np.zeros((lines + 1, count))
    for line in range(lines):
        here = np.diag(around_part[line] + around_part[line + 1] + side[line])
        here[np.arange(1, count), np.arange(1, count)] += side[line, :-1]
        here -= np.diag(side[line, :-1], 1) + np.diag(side[line, :-1], -1)
        matrix = here - around_part[line][:, np.newaxis] * carried[line]
        right = -drive[line] + around_part[line] * constant[line]
        onward = np.diag(around_part[line + 1])
        matrix = np.where(full[line][:, np.newaxis], matrix, eye)
        right = np.where(full[line], right, 0.0)
        onward = np.where(full[line][:, np.newaxis], onward, 0.0)
        both = np.linalg.solve(matrix, np.column_stack([onward, right]))
        carried[line + 1], constant[line + 1] = both[:, :-1], both[:, -1]
    pressure = np.zeros((lines, count))
    after = np.zeros(count)
    for line in range(lines - 1, -1, -1):
        after = pressure[line] = carried[line + 1] @ after + constant[line + 1]
    return pressure
