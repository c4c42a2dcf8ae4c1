"""The film as functions for expressions, each with its dimensions and where its result lies.

Film grows with viscosity, speed, diameter and width and falls with load; with the clearance it grows and falls again,
so that a range of clearances is cut into pieces. All other ranges are those of the table itself, read exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
from checker import Function, Interval, RangeError, dimension_of

from checker_bearing_film import bearing, table
from checker_bearing_film.reynolds import Array

LENGTH, FORCE, TURNS, VISCOSITY = (dimension_of(name) for name in ("m", "N", "rpm", "Pa_s"))
NUMBER, KINEMATIC, TEMPERATURE = (dimension_of(name) for name in ("ratio", "cst", "K"))

PIECES = 64


def _film_range(
    viscosity: Interval, speed: Interval, load: Interval, diameter: Interval, width: Interval, clearance: Interval
) -> Interval:
    if min(viscosity.low, speed.low, load.low, diameter.low, width.low) <= 0.0:
        raise RangeError("viscosity, speed, load, diameter and width must be greater than zero")
    ends = np.linspace(max(clearance.low, 0.0), max(clearance.high, 0.0), PIECES + 1)
    thin = _share((viscosity.low, speed.low, load.high, diameter.low, width.low), ends[1:])
    thick = _share((viscosity.high, speed.high, load.low, diameter.high, width.high), ends[:-1])
    return Interval(float((ends[:-1] / 2 * thin).min()), float((ends[1:] / 2 * thick).max()))


def _share(of: tuple[float, float, float, float, float], clearance: Array) -> Array:
    """Film over clearance, none below the table: how thin it is there is not known."""
    viscosity, speed, load, diameter, width = (np.asarray(each) for each in of)
    number = bearing.sommerfeld_number(viscosity, speed, load, diameter, width, clearance)
    found = table.film_share(table.logarithm(number), np.asarray(np.log(width / diameter)))
    return np.where(number < table.LEAST_NUMBER, 0.0, found)


def _range_of(read: table.Table, shown: Callable[[float], float]) -> Callable[[Interval, Interval], Interval]:
    """Where what is shown of a value in the table lies."""

    def bounds(number: Interval, width: Interval) -> Interval:
        if min(number.low, width.low) <= 0.0:
            raise RangeError("Sommerfeld number and width must be greater than zero")
        logs = [(float(np.log(each.low)), float(np.log(each.high))) for each in (number, width)]
        ends = [shown(each) for each in read.between(logs[0], logs[1])]
        return Interval(min(ends), max(ends))

    return bounds


def _friction_range(number: Interval, width: Interval) -> Interval:
    found = _range_of(table.FRICTION, _exponential)(number, width)
    return Interval(found.low, found.high * max(1.0, number.high / table.GREATEST_NUMBER))


def _exponential(value: float) -> float:
    return float(np.exp(value))


def _eccentricity_range(number: Interval, width: Interval) -> Interval:
    line = _range_of(table.FILM, _same)(number, width)
    ends = [np.asarray(each) for each in (line.low, line.high)]
    beyond = [table.above(np.asarray(np.log(each))) for each in number]
    thin, thick = (1.0 / (1.0 + np.exp(end + more)) for end, more in zip(ends, beyond, strict=True))
    return Interval(float(thick), float(thin))


def _same(value: float) -> float:
    return value


def _best_range(width: Interval) -> Interval:
    grid = np.exp(table.FILM.log_width)
    inside = grid[(grid > width.low) & (grid < width.high)]
    at = np.clip([width.low, *inside, width.high], table.NARROWEST, table.WIDEST)
    found = bearing.best_sommerfeld_number(at)
    return Interval(float(found.min()), float(found.max()))


def _viscosity_range(at_40: Interval, at_100: Interval, temperature: Interval) -> Interval:
    if min(at_40.low, at_100.low) <= 1e-6 or temperature.low <= 0.0:
        raise RangeError("the viscosities must be greater than 1 mm2/s")
    cold, hot, warm = (np.asarray(each) for each in (at_40, at_100, temperature))
    found = bearing.kinematic_viscosity(cold[:, None, None], hot[:, None], warm)
    return Interval(float(found.min()), float(found.max()))


_FILM = (VISCOSITY, TURNS, FORCE, LENGTH, LENGTH, LENGTH)
_AT = (NUMBER, NUMBER)

FUNCTIONS: Mapping[str, Function] = MappingProxyType(
    {
        function.name: function
        for function in (
            Function("least_film", _FILM, LENGTH, call=bearing.least_film, bounds=_film_range, ends=True),
            Function(
                "eccentricity_ratio",
                _AT,
                NUMBER,
                call=table.eccentricity_ratio,
                bounds=_eccentricity_range,
                ends=True,
            ),
            Function("film_friction", _AT, NUMBER, call=table.friction_variable, bounds=_friction_range, ends=True),
            Function(
                "film_flow", _AT, NUMBER, call=table.flow_variable, bounds=_range_of(table.FLOW, _same), ends=True
            ),
            Function(
                "side_flow_share",
                _AT,
                NUMBER,
                call=table.side_flow_share,
                bounds=_range_of(table.SIDE_SHARE, _same),
                ends=True,
            ),
            Function(
                "best_sommerfeld_number",
                (NUMBER,),
                NUMBER,
                call=bearing.best_sommerfeld_number,
                bounds=_best_range,
                ends=True,
            ),
            Function(
                "kinematic_viscosity",
                (KINEMATIC, KINEMATIC, TEMPERATURE),
                KINEMATIC,
                call=bearing.kinematic_viscosity,
                bounds=_viscosity_range,
            ),
        )
    }
)
"""What the pack's expressions may call besides the built-in functions."""
