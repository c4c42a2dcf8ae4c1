"""Units as the trade names them: a closed, case-sensitive table of kinds and names."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from checker.errors import Problem, UsageError, nearest, require
from checker.units.dimensions import Dimension, conversion, dimension_of
from checker.units.names import FAMILIES, NAMES, REFUSED, Refusal, spelt


class Unit(NamedTuple):
    """A unit by the name it is shown with; SI value = value * factor + offset."""

    name: str
    kind: str
    dimension: Dimension
    factor: float
    offset: float

    @property
    def shown(self) -> str:
        """Its name behind a number: of a difference of temperatures as of the temperature, "20 degF"."""
        return self.name.removeprefix("delta ")

    def to_si(self, value: float) -> float:
        """A value in this unit, in SI."""
        return value * self.factor + self.offset

    def from_si(self, value: float) -> float:
        """A value in SI, in this unit."""
        return (value - self.offset) / self.factor

    def quantity(self, value: float, registry: Any) -> Any:
        """A value in SI as a quantity of a registry of units, such as pint's, in units of the SI."""
        powers = (f"{_SI[base]} ** {exponent}" for base, exponent in self.dimension)
        return registry.Quantity(value, " * ".join(powers) or "dimensionless")


_SI = {"length": "meter", "mass": "kilogram", "time": "second", "temperature": "kelvin", "angle": "radian"}


class UnitError(UsageError):
    """A name that is no unit, or that could be more than one."""

    @property
    def hint(self) -> str:
        """What would do instead."""
        return self.problems[0].hint


def _read_table() -> tuple[dict[str, Unit], dict[str, Unit]]:
    """Units by every name they are written with, and by their name in units.txt."""
    written: dict[str, Unit] = {}
    named: dict[str, Unit] = {}
    for kind, name, spellings in spelt():
        unit = Unit(spellings[0], kind, dimension_of(name), *conversion(name))
        written.update(dict.fromkeys(spellings, unit))
        named[name] = unit
    return written, named


UNITS: Mapping[str, Unit]
_NAMED: Mapping[str, Unit]
UNITS, _NAMED = _read_table()
NAMED_UNITS: Mapping[str, Unit] = {name: unit for name, unit in _NAMED.items() if not unit.offset}
KINDS: tuple[str, ...] = tuple(NAMES)


def unit(name: str) -> Unit:
    """The unit written with this name; raises UsageError naming the nearest one."""
    if name in UNITS:
        return UNITS[name]
    if name in REFUSED:
        raise UnitError(Problem(f"{name!r}: {REFUSED[name].reason}", hint=REFUSED[name].hint))
    require(name, 'give the name of one, as in unit("mm")', str)
    raise UnitError(Problem(f"no unit {name!r}", hint=other_case(name).hint or nearest(name, UNITS)))


def difference(unit: Unit) -> Unit:
    """The unit for a difference of two values in a unit: not the same where its zero lies elsewhere."""
    return UNITS[f"delta {unit.name}"] if unit.offset else unit


@lru_cache(maxsize=1024)
def bare_unit(own: Unit, stated: Unit | None) -> Unit | None:
    """The unit of bare numbers for what is usually read in `own`, where a record states one for their kind.

    A record chooses within the family of `own` only; a unit of another family says no more than inch bench or metric.
    """
    if stated is None:
        return None
    families = FAMILIES.get(own.kind, ())
    family = next((sides for sides in families if any(own.name in side for side in sides)), None)
    if family is None or any(stated.name in side for side in family):
        return stated
    is_metric = any(stated.name in metric for _, metric in families)
    side = family[is_metric]
    return own if own.name in side else UNITS[side[0]]


def other_case(name: str) -> Refusal:
    """Units whose name differs from this one in upper and lower case only."""
    names = {UNITS[known].name: None for known in UNITS if known.lower() == name.lower()}
    return Refusal("upper and lower case matter", tuple(names))


def units_of(kind: str) -> tuple[Unit, ...]:
    """The units of a kind, the commonest first."""
    return tuple(dict.fromkeys(unit for unit in UNITS.values() if unit.kind == kind))
