"""Dimensions and conversion factors, from our own short unit file."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, TypeAlias

import pint
from pint.util import UnitsContainer

Dimension: TypeAlias = UnitsContainer

# Decimal keeps the factors exact until they become floats.
_REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry(None, cache_folder=None, non_int_type=Decimal)
# Loaded now, and not when it was made, pint works nothing out before it is asked.
_REGISTRY.load_definitions(str(Path(__file__).with_name("units.txt")))

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


@cache  # most units share theirs
def _exact(dimension: UnitsContainer) -> Dimension:
    """Exponents as fractions, so that a root of a square is the length again."""
    exponents = {name: Fraction(str(exponent)) for name, exponent in dimension.items()}
    return UnitsContainer(exponents, non_int_type=Fraction)


DIMENSIONLESS: Dimension = _exact(UnitsContainer())


@cache
def dimension_of(name: str) -> Dimension:
    """The dimension of a unit in the unit file."""
    return _exact(_REGISTRY.get_dimensionality({name: 1}))


def conversion(name: str) -> tuple[float, float]:
    """Factor and offset that take a value in this unit to SI."""
    if dimension_of(name) != dimension_of("K"):
        # As a container it need not be parsed.
        factor, _ = _REGISTRY.get_root_units(UnitsContainer({name: 1}))
        return float(str(factor)), 0.0
    zero, one = (_REGISTRY.Quantity(Decimal(number), name).to("K").magnitude for number in (0, 1))
    return float(one - zero), float(zero)


@cache
def multiply(left: Dimension, right: Dimension) -> Dimension:
    """The dimension of a product."""
    result: Dimension = left * right
    return result


@cache
def divide(left: Dimension, right: Dimension) -> Dimension:
    """The dimension of a quotient."""
    result: Dimension = left / right
    return result


@cache
def power(dimension: Dimension, exponent: float) -> Dimension:
    """The dimension of a power; exponents such as 1/3 are taken as exactly that."""
    fraction = Fraction(exponent).limit_denominator(1000)
    return dimension**fraction if fraction else DIMENSIONLESS


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
    return " ".join(f"{name.strip('[]')}^{exponent}" for name, exponent in sorted(dimension.items()))
