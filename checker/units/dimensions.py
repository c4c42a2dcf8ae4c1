"""Dimensions and their algebra, and the factors of our own short unit file."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from hashlib import sha256
from itertools import product
from pathlib import Path
from typing import Any, TypeAlias

from checker.errors import Problem, UsageError, nearest
from checker.units.names import spelt

Dimension: TypeAlias = tuple[tuple[str, int | Fraction], ...]
"""Base dimensions with their exponents, none of them zero, in alphabetical order."""

DIMENSIONLESS: Dimension = ()

_UNIT_FILE = Path(__file__).with_name("units.txt")

# Words for dimensions, each with a unit that has it; words for others are put together from the first group.
_PARTS = {
    "force": "N",
    "pressure": "Pa",
    "mass": "kg",
    "area": "square_mm",
    "volume": "cc",
    "length": "m",
    "time": "s",
    "angle": "rad",
    "temperature": "K",
}
_WHOLES = {
    "speed": "m_per_s",
    "acceleration": "m_per_s2",
    "rotational speed": "rpm",
    "power": "W",
    "density": "kg_per_m3",
}


def definitions_of(unit_file: bytes, worked_out: bytes) -> Mapping[str, Mapping[str, Any]]:
    """What is kept of a unit file, or what pint makes of it where that is of another one."""
    kept = json.loads(worked_out)
    if kept["made_from"] == sha256(unit_file).hexdigest():
        units: Mapping[str, Mapping[str, Any]] = kept["units"]
        return units
    # Imported only here: it would be a quarter of every check.
    from checker.units.definitions import definitions_in

    return definitions_in(unit_file.decode("ascii"))


_DEFINITIONS = definitions_of(_UNIT_FILE.read_bytes(), _UNIT_FILE.with_suffix(".json").read_bytes())


@cache
def dimension_of(name: str) -> Dimension:
    """The dimension of a unit, by its name in the unit file such as inch, or as the trade writes it.

    Raises UsageError naming the nearest unit.
    """
    if name in _DEFINITIONS:
        return tuple(_DEFINITIONS[name]["dimension"].items())
    named = {spelling: own for _, own, spellings in spelt() for spelling in spellings}
    if name in named:
        return dimension_of(named[name])
    raise UsageError(Problem(f"no unit {name!r}", hint=nearest(str(name), {*named, *_DEFINITIONS})))


def conversion(name: str) -> tuple[float, float]:
    """Factor and offset that take a value in this unit to SI."""
    definition = _DEFINITIONS[name]
    return definition["factor"], definition["offset"]


@cache
def multiply(left: Dimension, right: Dimension) -> Dimension:
    """The dimension of a product."""
    exponents = dict(left)
    for base, exponent in right:
        exponents[base] = exponents.get(base, 0) + exponent
    return tuple((base, exponents[base]) for base in sorted(exponents) if exponents[base])


@cache
def divide(left: Dimension, right: Dimension) -> Dimension:
    """The dimension of a quotient."""
    return multiply(left, power(right, -1))


@cache
def power(dimension: Dimension, exponent: float) -> Dimension:
    """The dimension of a power; exponents such as 1/3 are taken as exactly that, so that a root undoes its power."""
    near = Fraction(exponent).limit_denominator(1000)
    fraction = near if math.isclose(near, exponent, rel_tol=1e-12) else Fraction(exponent)
    return tuple((base, each * fraction) for base, each in dimension) if fraction else DIMENSIONLESS


@cache
def describe(dimension: Dimension) -> str:
    """A dimension in words, such as "force per length"."""
    if dimension == DIMENSIONLESS:
        return "bare number"
    parts = {words: dimension_of(name) for words, name in _PARTS.items()}
    wholes = {words: dimension_of(name) for words, name in _WHOLES.items()}
    for words, known in (parts | wholes).items():
        if known == dimension:
            return words
    for joiner, join in ((" per ", divide), (" times ", multiply)):
        for (left, first), (right, second) in product(parts.items(), repeat=2):
            if join(first, second) == dimension:
                return left + joiner + right
    return " ".join(f"{base}^{exponent}" for base, exponent in dimension)
