"""A small scope and layout for the tests of expressions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from checker.expressions.compiling import compile_expression
from checker.expressions.evaluate import evaluate
from checker.expressions.names import Column, Scope, Symbol
from checker.expressions.truth import Array
from checker.units.dimensions import DIMENSIONLESS, dimension_of

LENGTH = dimension_of("m")
MASS = dimension_of("kg")
ANGLE = dimension_of("rad")


def symbol(name: str, unit: str, per: str | None, low: float, high: float) -> Symbol:
    return Symbol(name, dimension_of(unit), per, low, high)


def number(name: str, low: float, high: float) -> Symbol:
    return Symbol(name, DIMENSIONLESS, None, low, high)


def scope_of(*symbols: Symbol, **changes: object) -> Scope:
    parents = {"main": None, "crankpin": None, "rod": "crankpin", "cylinder": None, "intake-valve": "cylinder"}
    scope = Scope({item.name: item for item in symbols}, {**parents, "exhaust-valve": "cylinder"})
    return replace(scope, **changes)  # type: ignore[arg-type]


ENGINE = scope_of(
    symbol("main_journal_diameter", "m", "main", 0.02, 0.2),
    symbol("main_bearing_bore", "m", "main", 0.02, 0.2),
    symbol("rod_width", "m", "rod", 0.01, 0.05),
    symbol("rod_mass", "kg", "rod", 0.1, 2.0),
    symbol("crankpin_width", "m", "crankpin", 0.01, 0.1),
    symbol("cylinder_bore", "m", "cylinder", 0.03, 0.2),
    symbol("intake_valve_lift", "m", "intake-valve", 0.0, 0.03),
    symbol("exhaust_valve_lift", "m", "exhaust-valve", 0.0, 0.03),
    symbol("deck_clearance", "m", None, -0.005, 0.005),
    symbol("stroke", "m", None, 0.02, 0.2),
    symbol("intake_centreline", "rad", None, 1.0, 3.0),
    symbol("coolant_temperature", "K", None, 250.0, 450.0),
    symbol("ring_gap", "m", "cylinder", 0.0, 0.01)._replace(derived=True),
    symbol("head_bolt_torque", "N_m", "cylinder", 0.0, 500.0)._replace(series=True),
    Symbol("piston_alloy", None, "cylinder", 0.0, 2.0, choices=("cast", "4032", "2618")),
)


class Stations:
    """So many stations of each kind, the children dealt out to their parents in order."""

    def __init__(self, counts: Mapping[str, int], belongs: Mapping[tuple[str, str], Sequence[int]]) -> None:
        self.counts = counts
        self.belongs = belongs

    def count(self, stations: str | None) -> int:
        return 1 if stations is None else self.counts[stations]

    def children(self, child: str, ancestor: str) -> npt.NDArray[np.intp]:
        return np.array(self.belongs[child, ancestor], dtype=np.intp)


NO_STATIONS = Stations({}, {})
SIX = Stations(
    {"main": 4, "rod": 6, "crankpin": 3, "cylinder": 6, "intake-valve": 12},
    {("rod", "crankpin"): [0, 1, 2, 0, 1, 2], ("intake-valve", "cylinder"): [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5]},
)


def value_of(
    text: str, scope: Scope = ENGINE, layout: Stations = SIX, **values: float | Sequence[float] | Array
) -> Array:
    """Evaluate an expression; a list gives the stations of one row. `name__view` gives another view of a name."""
    expression = compile_expression(text, scope)

    def fetch(column: Column) -> Array:
        name = column.name if column.view == "value" else f"{column.name}__{column.view}"
        found = np.atleast_2d(np.asarray(values[name], dtype=np.float64))
        own = scope.symbols[column.name].stations
        return found if column.at == own or own is None else found[:, layout.children(str(column.at), own)]

    return evaluate(expression, fetch, layout)
