"""A checked expression under construction: what each part of it is, and the tree that will be evaluated."""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from checker.expressions.intervals import TRUTH, Interval, point
from checker.expressions.names import Column, Symbol
from checker.expressions.stations import by_parent, has_neighbour, lifted
from checker.frozen import Applied, FrozenList
from checker.units.dimensions import DIMENSIONLESS, Dimension

Nature: TypeAlias = Literal["number", "truth", "choice"]


def constant(value: float) -> ast.Constant:
    """A number in the tree: always a float of numpy, so that no arithmetic is done in Python's integers."""
    node = ast.Constant(0.0)
    node.value = np.float64(value)
    return node


_NOTHING = constant(np.nan)


class Term(NamedTuple):
    """One part of an expression. A `column` is not yet in the tree: first its stations must be settled."""

    nature: Nature | None
    tree: ast.expr = _NOTHING
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


@dataclass(slots=True)
class Draft:
    """The names that the tree under construction uses, and what they stand for."""

    columns: dict[Column, str] = field(default_factory=dict)
    groups: dict[tuple[str, str | None], str] = field(default_factory=dict)
    calls: dict[Callable[..., Any], str] = field(default_factory=dict)
    across: set[Column] = field(default_factory=set)
    neighbours: dict[Neighbour, None] = field(default_factory=dict)
    reducing: bool = False

    def read(self, term: Term, at: str | None) -> ast.expr:
        """The tree of a term, its values seen from the given stations."""
        if term.column is not None:
            column = term.column._replace(at=at if term.stations else None)
            if self.reducing:
                self.across.add(column)
            return self.column(column)
        if term.stations in (None, at) or at is None:
            return term.tree
        return self.call(lifted, term.tree, self.group(at, term.stations))

    def column(self, column: Column) -> ast.expr:
        """A column in the tree."""
        return _name(self.columns.setdefault(column, f"c{len(self.columns)}"))

    def call(self, function: Callable[..., Any], *arguments: ast.expr) -> ast.expr:
        """A call in the tree."""
        name = _name(self.calls.setdefault(function, f"f{len(self.calls)}"))
        return ast.Call(name, FrozenList(arguments), FrozenList())

    def reduce(self, function: Callable[..., Any], child: str, parent: str, arguments: list[ast.expr]) -> ast.expr:
        """A call in the tree that reduces the children of each parent station."""
        return self.call(Applied(by_parent, (function,)), self.group(child, parent), *arguments)

    def group(self, child: str, parent: str | None) -> ast.expr:
        """In the tree, which of the child stations belong to which parent; without one, all to the assembly."""
        return _name(self.groups.setdefault((child, parent), f"g{len(self.groups)}"))

    def has_neighbour(self, wanted: Neighbour) -> Term:
        """At which stations there is such a neighbour."""
        group = self.group(wanted.stations, wanted.parent)
        return Term("truth", self.call(Applied(has_neighbour, (wanted.step,)), group), stations=wanted.stations)


def _name(name: str) -> ast.Name:
    return ast.Name(name, ast.Load())


def binary(left: ast.expr, operator: ast.operator, right: ast.expr) -> ast.expr:
    """An operation in the tree, done at once between two constants."""
    if isinstance(left, ast.Constant) and isinstance(right, ast.Constant):
        with np.errstate(all="ignore"):
            return constant(_AT_ONCE[type(operator)](left.value, right.value))
    return ast.BinOp(left, operator, right)


_AT_ONCE: Mapping[type[ast.operator], Callable[[Any, Any], float]] = {
    ast.Add: np.add,
    ast.Sub: np.subtract,
    ast.Mult: np.multiply,
    ast.Div: np.divide,
    ast.Pow: np.power,
}
