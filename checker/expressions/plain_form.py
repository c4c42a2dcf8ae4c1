"""A checked expression as plain data, as JSON holds it, and back: what is shipped of it beside a released pack."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np

from checker.expressions import truth
from checker.expressions.expression import Expression
from checker.expressions.functions import Function
from checker.expressions.mathematics import quotient
from checker.expressions.names import VALUE, Column
from checker.expressions.stations import by_parent, has_neighbour, lifted, neighbour
from checker.expressions.steps import Call, Group, Leaf, Program, constant
from checker.expressions.subsets import of_known, of_those
from checker.expressions.terms import Neighbour
from checker.frozen import Applied
from checker.units.dimensions import Dimension

Plain: TypeAlias = list[Any]
"""The fields of an expression in their order, but for its text; of the program the leaves and the steps."""

_CALLS: Mapping[str, Call] = {
    call.__name__: call
    for call in (
        *(np.add, np.subtract, np.multiply, np.divide, np.power, quotient),
        *(truth.less, truth.at_most, truth.greater, truth.at_least, truth.in_order, truth.told, truth.same),
        *(truth.all_of, truth.any_of, truth.negation, truth.choose),
        *(lifted, neighbour, has_neighbour, by_parent, of_those, of_known),
    )
}
"""What steps call besides the functions that packs name, which are written with parentheses behind."""


def plain_form(expression: Expression) -> Plain:
    """What is kept of an expression that calls no function of a plugin."""
    program = expression.program
    return [
        expression.nature,
        None if expression.dimension is None else " ".join(f"{base}:{power}" for base, power in expression.dimension),
        expression.stations,
        expression.low,
        expression.high,
        [_plain_leaf(leaf) for leaf in program.leaves],
        [[_plain_call(call), *given] for call, given in program.steps],
        [number for number, leaf in enumerate(program.leaves) if leaf in expression.across],
        sorted(expression.names),
        expression.ends,
        [list(wanted) for wanted in expression.neighbours],
    ]


def expression_of(text: str, plain: Plain, functions: Mapping[str, Function]) -> Expression:
    """The expression that a text was compiled to, where these functions can be named."""
    nature, dimension, stations, low, high, stated, taken, across, names, ends, neighbours = plain
    leaves = tuple([_leaf(leaf) for leaf in stated])
    steps = tuple([(_call(call, functions), tuple(given)) for call, *given in taken])
    return Expression(
        text=text,
        nature=nature,
        dimension=None if dimension is None else _dimension(dimension),
        stations=stations,
        low=low,
        high=high,
        program=Program(tuple([leaf for leaf in leaves if isinstance(leaf, Column)]), leaves, steps),
        across=frozenset([leaves[number] for number in across]),
        names=frozenset(names),
        ends=ends,
        neighbours=tuple([Neighbour(*wanted) for wanted in neighbours]),
    )


@lru_cache(maxsize=1024)  # there are few
def _dimension(plain: str) -> Dimension:
    bases = (each.split(":") for each in plain.split())
    return tuple((base, int(power) if power.lstrip("-").isdigit() else Fraction(power)) for base, power in bases)


def _plain_leaf(leaf: Leaf) -> float | str | list[str | None]:
    if isinstance(leaf, Column):
        return leaf.name + (f"@{leaf.at}" if leaf.at else "") + (f" {leaf.view}" if leaf.view != VALUE else "")
    return list(leaf) if isinstance(leaf, Group) else leaf


def _leaf(plain: float | str | list[Any]) -> Leaf:
    if isinstance(plain, str):
        return _column(plain)
    return Group(*plain) if isinstance(plain, list) else constant(plain)


@lru_cache(maxsize=4096)  # many expressions read the same
def _column(plain: str) -> Column:
    own, _, view = plain.partition(" ")
    name, _, at = own.partition("@")
    return Column(name, view or VALUE, at or None)


def _plain_call(call: Any) -> Any:
    if isinstance(call, Applied):
        return [_plain_call(call.function), *map(_plain_call, call.first)]
    if isinstance(call, Function):
        return f"{call.name}()"
    return call.__name__ if callable(call) else call


def _call(plain: Any, functions: Mapping[str, Function]) -> Any:
    if isinstance(plain, str):
        return _CALLS[plain] if plain in _CALLS else functions[plain.removesuffix("()")]
    if isinstance(plain, list):
        function, *first = plain
        return Applied(_call(function, functions), tuple([_call(each, functions) for each in first]))
    return plain
