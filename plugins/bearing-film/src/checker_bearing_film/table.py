"""The table of films, and straight lines in it: by Sommerfeld number and width over diameter, on whole arrays.

Film over clearance is held as log(film / (clearance - film)), friction as its logarithm: both are nearly straight lines
of the logarithm of the Sommerfeld number. Covered are widths of 0.2 to 1.6 diameters and Sommerfeld numbers from 0.001
to 60; above that film and friction go on as they must as the journal nears its centre. Against the solution film
and friction are within 0.4 %, the flow within 0.01, the share of the side flow within 0.004; tests hold it to that.
"""

from __future__ import annotations

import json
from typing import NamedTuple

import numpy as np

from checker_bearing_film.reynolds import Array
from checker_bearing_film.tabulation import TABLE

NOT_COVERED = np.inf


class Table(NamedTuple):
    """Values by logarithm of the width over diameter and of the Sommerfeld number, both in even steps."""

    log_width: Array
    log_number: Array
    values: Array

    def at(self, log_number: Array, log_width: Array) -> Array:
        """Between the four values about each point; a point off the table is taken to its edge."""
        low, part = _steps(self.log_width, log_width)
        left, share = _steps(self.log_number, log_number)
        flat, at = self.values.ravel(), low * len(self.log_number) + left
        under = flat[at] + share * (flat[at + 1] - flat[at])
        at = at + len(self.log_number)
        over = flat[at] + share * (flat[at + 1] - flat[at])
        return np.asarray(under + part * (over - under))

    def between(self, log_number: tuple[float, float], log_width: tuple[float, float]) -> tuple[float, float]:
        """The least and the greatest in a rectangle: they lie at its corners, or where it crosses the grid's lines."""
        across, along = _crossed(self.log_number, *log_number), _crossed(self.log_width, *log_width)
        found = self.at(across[np.newaxis], along[:, np.newaxis])
        return float(found.min()), float(found.max())


def _steps(grid: Array, at: Array) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.intp]], Array]:
    """Which step of an even grid each lies in, and how far along it."""
    along = np.clip((at - grid[0]) / (grid[1] - grid[0]), 0.0, len(grid) - 1.0)
    along = np.where(np.isnan(along), 0.0, along)
    step = np.minimum(along.astype(np.intp), len(grid) - 2)
    return step, along - step


def _crossed(grid: Array, low: float, high: float) -> Array:
    return np.array([low, *grid[(grid > low) & (grid < high)], high])


_READ = {name: np.array(values) for name, values in json.loads(TABLE.read_text(encoding="utf-8")).items()}
FILM, FRICTION, FLOW, SIDE_SHARE = (
    Table(_READ["log_width"], _READ["log_number"], _READ[name]) for name in ("film", "friction", "flow", "side_share")
)

LEAST_NUMBER, GREATEST_NUMBER = (float(np.exp(_READ["log_number"][end])) for end in (0, -1))
NARROWEST, WIDEST = (float(np.exp(_READ["log_width"][end])) for end in (0, -1))
_EDGE = 1e-9
"""What rounding takes off a width that lies on the edge."""


def is_covered(sommerfeld_number: Array, width_over_diameter: Array) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Where the table says anything, or what lies above it follows."""
    wide_enough = (width_over_diameter >= NARROWEST - _EDGE) & (width_over_diameter <= WIDEST + _EDGE)
    return np.asarray((sommerfeld_number >= LEAST_NUMBER * (1.0 - _EDGE)) & wide_enough)


def logarithm(values: Array) -> Array:
    """Of nought and below it is minus infinity, which is off the table."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(values > 0.0, np.log(values), -np.inf))


def above(log_number: Array) -> Array:
    """How far above the table: from there the eccentricity falls as the Sommerfeld number rises."""
    return np.asarray(np.maximum(log_number - FILM.log_number[-1], 0.0))


def film_share(log_number: Array, log_width: Array) -> Array:
    """Least film by the radial clearance, 0 to 1, below the table as at its edge."""
    return np.asarray(1.0 / (1.0 + np.exp(-FILM.at(log_number, log_width) - above(log_number))))


def film_over_clearance(sommerfeld_number: Array, width_over_diameter: Array) -> Array:
    """The same of the numbers themselves; not covered off the table."""
    found = film_share(logarithm(sommerfeld_number), logarithm(width_over_diameter))
    return np.where(is_covered(sommerfeld_number, width_over_diameter), found, NOT_COVERED)


def eccentricity_ratio(sommerfeld_number: Array, width_over_diameter: Array) -> Array:
    """How far the journal is off the centre, by the radial clearance."""
    film = film_over_clearance(sommerfeld_number, width_over_diameter)
    return np.where(np.isfinite(film), 1.0 - film, film)


def friction_variable(sommerfeld_number: Array, width_over_diameter: Array) -> Array:
    """Coefficient of friction by the relative clearance; above the table as of a journal on its centre (Petroff)."""
    found = np.exp(FRICTION.at(logarithm(sommerfeld_number), logarithm(width_over_diameter)))
    found = np.where(sommerfeld_number > GREATEST_NUMBER, found * sommerfeld_number / GREATEST_NUMBER, found)
    return np.where(is_covered(sommerfeld_number, width_over_diameter), found, NOT_COVERED)


def flow_variable(sommerfeld_number: Array, width_over_diameter: Array) -> Array:
    """Oil drawn in, by radius, radial clearance, turns a second and width."""
    found = FLOW.at(logarithm(sommerfeld_number), logarithm(width_over_diameter))
    return np.where(is_covered(sommerfeld_number, width_over_diameter), found, NOT_COVERED)


def side_flow_share(sommerfeld_number: Array, width_over_diameter: Array) -> Array:
    """What part of the oil drawn in leaves at the sides."""
    found = SIDE_SHARE.at(logarithm(sommerfeld_number), logarithm(width_over_diameter))
    return np.where(is_covered(sommerfeld_number, width_over_diameter), found, NOT_COVERED)
