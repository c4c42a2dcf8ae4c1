"""What each part of an expression means, calls excepted: names, arithmetic, comparisons, conditions."""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np

from checker.errors import nearest
from checker.expressions import intervals, mathematics, truth
from checker.expressions.facts import fact_term, is_fact
from checker.expressions.intervals import Interval, hull
from checker.expressions.quantities import unit_of
from checker.expressions.steps import Part, constant, step
from checker.expressions.terms import WRONG, Term, number, symbol_term
from checker.expressions.walk import Walk
from checker.frozen import Applied
from checker.units import dimensions
from checker.units.dimensions import DIMENSIONLESS, Dimension
from checker.units.units import NAMED_UNITS, UNITS

PI = 3.141592653589793

_COMPARISONS: Mapping[type[ast.cmpop], Callable[..., truth.Array]] = {
    ast.Lt: truth.less,
    ast.LtE: truth.at_most,
    ast.Gt: truth.greater,
    ast.GtE: truth.at_least,
}

_BOUNDS: Mapping[type[ast.operator], Callable[[Interval, Interval], Interval]] = {
    ast.Add: intervals.add,
    ast.Sub: intervals.subtract,
    ast.Mult: intervals.multiply,
    ast.Div: intervals.divide,
}


_ARITHMETIC: Mapping[type[ast.operator], Callable[..., truth.Array]] = {
    ast.Add: np.add,
    ast.Sub: np.subtract,
    ast.Mult: np.multiply,
    ast.Div: np.divide,
}


def constant_term(walk: Walk, node: ast.Constant) -> Term:
    """A number or a quantity as written; zero without a unit is a zero of any unit."""
    if not isinstance(node.value, (int, float)):
        return walk.problem(node, f"{walk.source(node)} is neither a choice nor a station set here")
    if node.kind is None:
        return number(float(node.value), DIMENSIONLESS if node.value else None)
    known = unit_of(node.kind)
    if known is None:
        return walk.problem(node, f"{node.kind} cannot be calculated with", "K is the unit of temperature here")
    factor, dimension = known
    return number(float(node.value) * factor, dimension)


def name_term(walk: Walk, node: ast.Name) -> Term:
    """A characteristic, a constant or pi."""
    name = node.id
    if name in walk.scope.symbols:
        walk.names.add(name)
        return symbol_term(walk.scope.symbols[name])
    if name in walk.scope.constants:
        walk.names.add(name)
        constant = walk.scope.constants[name]
        return number(constant.value, constant.dimension)
    if name == "pi":
        return number(PI, DIMENSIONLESS)
    return _unknown_name(walk, node)


def _unknown_name(walk: Walk, node: ast.Name) -> Term:
    if node.id in walk.scope.unusable:
        return WRONG
    if node.id in walk.scope.functions:
        return walk.problem(node, f"{node.id} is a function and needs its arguments", f"{node.id}(...)")
    if meant := NAMED_UNITS.get(node.id) or UNITS.get(node.id):
        return walk.problem(node, f"{node.id} is a unit", f"it stands behind a number, as in 0.5 {meant.name}")
    known = (*walk.scope.symbols, *walk.scope.constants, "pi")
    return walk.problem(node, f"nothing is called {node.id!r}", nearest(node.id, known))


def unary_term(walk: Walk, node: ast.UnaryOp) -> Term:
    """A sign, or the negation of a condition."""
    term = walk.term(node.operand)
    if isinstance(node.op, ast.Not):
        if not walk.are("truth", [node.operand], [term]):
            return WRONG
        tree = step(truth.negation, walk.read(term, term.stations))
        return Term("truth", tree, stations=term.stations)
    if not walk.are("number", [node.operand], [term]):
        return WRONG
    tree = step(np.multiply, constant(-1.0), walk.read(term, term.stations))
    interval = intervals.negate(term.interval)
    return Term("number", tree, term.dimension, term.stations, interval, term.ends)


def arithmetic_term(walk: Walk, node: ast.BinOp) -> Term:
    """A sum, a difference, a product, a quotient or a power."""
    if isinstance(node.op, ast.Pow):
        return _power(walk, node)
    if meant := _with_underscores(walk, node):
        return walk.problem(node, f"nothing is called {walk.source(node)!r}", f"did you mean {meant!r}?")
    sides = [node.left, node.right]
    terms = [walk.term(side) for side in sides]
    if not walk.are("number", sides, terms):
        return WRONG
    stations = walk.meet(node, terms)
    tree = _joined(node.op, *(walk.read(term, stations) for term in terms))
    interval = walk.interval(node, _BOUNDS[type(node.op)], *terms)
    return Term("number", tree, _dimension(walk, node, *terms), stations, interval, any(term.ends for term in terms))


def _with_underscores(walk: Walk, node: ast.BinOp) -> str:
    """The name that was written with hyphens, which subtract; empty where it is a difference of what is known."""
    if not isinstance(node.op, ast.Sub):
        return ""
    written = walk.source(node)
    meant = written.replace("-", "_")
    return meant if meant in walk.scope.symbols and not set(written.split("-")) <= walk.scope.symbols.keys() else ""


def _joined(operator: ast.operator, left: Part, right: Part) -> Part:
    if isinstance(operator, ast.Div) and not isinstance(right, float):
        return step(mathematics.quotient, left, right)
    return step(_ARITHMETIC[type(operator)], left, right)


def _dimension(walk: Walk, node: ast.BinOp, left: Term, right: Term) -> Dimension | None:
    match node.op:
        case ast.Add():
            return walk.common_dimension(node, (left, right), "added")
        case ast.Sub():
            return walk.common_dimension(node, (left, right), "subtracted")
        case ast.Mult():
            return dimensions.multiply(left.settled_dimension, right.settled_dimension)
        case _:
            return dimensions.divide(left.settled_dimension, right.settled_dimension)


def _power(walk: Walk, node: ast.BinOp) -> Term:
    base = walk.term(node.left)
    if not walk.are("number", [node.left], [base]):
        return WRONG
    exponent = _exponent(node.right)
    tree = step(np.power, walk.read(base, base.stations), constant(abs(exponent)))
    if exponent < 0:
        tree = step(mathematics.quotient, constant(1.0), tree)
    dimension = dimensions.power(base.settled_dimension, exponent)
    interval = walk.interval(node, partial(intervals.power, exponent=exponent), base)
    return Term("number", tree, dimension, base.stations, interval, base.ends)


def _exponent(node: ast.expr) -> float:
    """The number the syntax has made sure of, with its sign."""
    if isinstance(node, ast.UnaryOp):
        return -_exponent(node.operand) if isinstance(node.op, ast.USub) else _exponent(node.operand)
    return float(ast.literal_eval(node))


def comparison_term(walk: Walk, node: ast.Compare) -> Term:
    """Two or three numbers in order, or a choice and one of its names."""
    if is_fact(node):
        return fact_term(walk, node)
    sides = [node.left, *node.comparators]
    terms = [walk.term(side) for side in sides]
    if not walk.are("number", sides, terms):
        return WRONG
    walk.common_dimension(node, terms, "compared")
    stations = walk.meet(node, terms)
    trees = [walk.read(term, stations) for term in terms]
    ways = [_COMPARISONS[type(operator)] for operator in node.ops]
    function = ways[0] if len(ways) == 1 else Applied(truth.in_order, (ways[0], ways[1]))
    return Term("truth", step(function, *trees), stations=stations)


def boolean_term(walk: Walk, node: ast.BoolOp) -> Term:
    """Conditions joined by `and` or `or`; each may rely on those before it."""
    is_and = isinstance(node.op, ast.And)
    terms = _each_given_the_last(walk, node.values, is_and)
    if not walk.are("truth", node.values, terms):
        return WRONG
    stations = walk.meet(node, terms)
    trees = [walk.read(term, stations) for term in terms]
    tree = step(truth.all_of if is_and else truth.any_of, *trees)
    return Term("truth", tree, stations=stations)


def _each_given_the_last(walk: Walk, values: Sequence[ast.expr], outcome: bool) -> list[Term]:
    first = walk.term(values[0])
    if len(values) == 1:
        return [first]
    with walk.given(values[0], outcome):
        return [first, *_each_given_the_last(walk, values[1:], outcome)]


def conditional_term(walk: Walk, node: ast.IfExp) -> Term:
    """One of two numbers, as a condition says."""
    test = walk.term(node.test)
    with walk.given(node.test, True):
        then = walk.term(node.body)
    with walk.given(node.test, False):
        otherwise = walk.term(node.orelse)
    alternatives = [then, otherwise]
    fits = walk.are("truth", [node.test], [test])
    if not walk.are("number", [node.body, node.orelse], alternatives) or not fits:
        return WRONG
    dimension = walk.common_dimension(node, alternatives, "alternatives")
    stations = walk.meet(node, (test, *alternatives))
    tree = step(truth.choose, *(walk.read(term, stations) for term in (test, *alternatives)))
    interval = hull(then.interval, otherwise.interval)
    return Term("number", tree, dimension, stations, interval, then.ends or otherwise.ends)
