"""A plain journal bearing under a steady load: its least film, the clearance that is best for it, and the oil.

SI units; clearances are those of the trade, on the diameter. The load stands still and the oil is as thick everywhere
as at the temperature stated: an indication, to compare builds by.
"""

from __future__ import annotations

import numpy as np

from checker_bearing_film.reynolds import Array
from checker_bearing_film.table import FILM, film_over_clearance

ZERO_CELSIUS = 273.15
FINE = 2001


def sommerfeld_number(
    viscosity: Array, speed: Array, load: Array, diameter: Array, width: Array, clearance: Array
) -> Array:
    """Pa s, turns a second, N, m; infinite where there is no clearance or no load."""
    with np.errstate(divide="ignore", invalid="ignore"):
        found = viscosity * speed * diameter * width / load * (diameter / clearance) ** 2
    return np.asarray(np.where((clearance <= 0.0) | (load <= 0.0), np.inf, found))


def least_film(viscosity: Array, speed: Array, load: Array, diameter: Array, width: Array, clearance: Array) -> Array:
    """The least film in m, nought where there is no clearance; infinite where the table says nothing."""
    number = sommerfeld_number(viscosity, speed, load, diameter, width, clearance)
    return np.asarray(np.maximum(clearance, 0.0) / 2.0 * film_over_clearance(number, width / diameter))


def best_sommerfeld_number(width_over_diameter: Array) -> Array:
    """The one at which a bearing has its thickest film, all else but the clearance alike; not covered off the table."""
    found = np.interp(np.log(np.maximum(width_over_diameter, 1e-9)), FILM.log_width, _BEST)
    covered = np.isfinite(film_over_clearance(np.ones_like(found), width_over_diameter))
    return np.where(covered, found, np.inf)


def _best() -> Array:
    """With all else alike the film goes with film over clearance by the root of the Sommerfeld number."""
    log_number = np.linspace(FILM.log_number[0], FILM.log_number[-1], FINE)
    share = 1.0 / (1.0 + np.exp(-FILM.at(log_number[np.newaxis], FILM.log_width[:, np.newaxis])))
    return np.asarray(np.exp(log_number[np.argmax(share / np.exp(log_number / 2.0), axis=-1)]))


_BEST = _best()


def kinematic_viscosity(at_40: Array, at_100: Array, temperature: Array) -> Array:
    """m2/s at a temperature in K, from those at 40 and 100 degrees C (ASTM D341, above 2 mm2/s; fair down to 1)."""
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        return np.asarray(viscosity_of(line_of(at_40, at_100, part_of(temperature))))


def line_of(at_40: Array, at_100: Array, part: Array) -> Array:
    """log log (v + 0.7), v in mm2/s; `part` is how far from 100 to 40 degrees C, along log T."""
    thin, thick = (np.log10(np.log10(each * 1e6 + 0.7)) for each in (at_100, at_40))
    return np.asarray(thin + part * (thick - thin))


def part_of(temperature: Array) -> Array:
    """1 at 40 degrees C and 0 at 100."""
    cold, hot = np.log10(ZERO_CELSIUS + 40.0), np.log10(ZERO_CELSIUS + 100.0)
    return np.asarray((hot - np.log10(temperature)) / (hot - cold))


def viscosity_of(line: Array) -> Array:
    """m2/s again."""
    return np.asarray((10.0 ** (10.0**line) - 0.7) * 1e-6)
