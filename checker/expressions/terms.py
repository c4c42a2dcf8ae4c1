"""A checked expression under construction: what each part of it is, and what it calculates."""

from __future__ import annotations

from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from checker.expressions.intervals import TRUTH, Interval, point
from checker.expressions.names import Column, Symbol
from checker.expressions.stations import has_neighbour, lifted
from checker.expressions.steps import Group, Part, constant, step
from checker.frozen import Applied
from checker.units.dimensions import DIMENSIONLESS, Dimension

Nature: TypeAlias = Literal["number", "truth", "choice"]


class Term(NamedTuple):
    """One part of an expression. A `column` is read when its stations are settled."""

    nature: Nature | None
    tree: Part = np.nan
    dimension: Dimension | None = None
    stations: str | None = None
    interval: Interval = TRUTH
    ends: bool = False
    column: Column | None = None
    symbol: Symbol | None = None

    @property
    def is_bare_zero(self) -> bool:
        """A zero without a unit is a zero of any unit."""
        return self.nature == "number" and self.dimension is None

    @property
    def settled_dimension(self) -> Dimension:
        """Its dimension where nothing else says what a bare zero is."""
        return DIMENSIONLESS if self.dimension is None else self.dimension


WRONG = Term(None)
"""What a part is in which a problem was found; it causes no further ones."""


def number(value: float, dimension: Dimension | None) -> Term:
    """A number as written, a unit or a constant."""
    return Term("number", constant(value), dimension, interval=point(value))


def symbol_term(symbol: Symbol) -> Term:
    """A characteristic by its plain name."""
    return Term(
        nature="number" if symbol.dimension is not None else "choice",
        dimension=symbol.dimension,
        stations=symbol.stations,
        interval=Interval(symbol.low, symbol.high),
        ends=symbol.derived,
        column=Column(symbol.name, at=symbol.stations),
        symbol=symbol,
    )


class Neighbour(NamedTuple):
    """A neighbour whose value is asked for: at which stations, of which each parent has a line, and how far on."""

    stations: str
    parent: str | None
    step: int


def there_is(wanted: Neighbour) -> Term:
    """At which stations there is such a neighbour."""
    group = Group(wanted.stations, wanted.parent)
    return Term("truth", step(Applied(has_neighbour, (wanted.step,)), group), stations=wanted.stations)


def seen_from(at: str | None, part: Part, stations: str | None) -> Part:
    """What is calculated at some stations, seen from others that belong to them."""
    if stations in (None, at) or at is None:
        return part
    return step(lifted, part, Group(at, stations))
