"""Holding what a function is given to what it takes: natures, dimensions and ranges."""

from __future__ import annotations

import ast
from collections.abc import Mapping, Sequence

from checker.expressions.functions import Argument, Free, Function, Kind
from checker.expressions.steps import Part
from checker.expressions.terms import Term
from checker.expressions.walk import TEMPERATURE, Walk
from checker.units import dimensions
from checker.units.dimensions import DIMENSIONLESS, Dimension, describe


def fits(walk: Walk, function: Function, arguments: Sequence[ast.expr], terms: Sequence[Term]) -> bool:
    """Whether each argument is what the function takes; a problem for each that is not."""
    fit = True
    for kind, argument, term in zip(function.arguments, arguments, terms, strict=True):
        if kind is Kind.CONDITION:
            fit &= walk.are("truth", [argument], [term])
        else:
            fit &= walk.are("number", [argument], [term]) and _has_dimension(walk, function, kind, argument, term)
    return fit


def _has_dimension(walk: Walk, function: Function, kind: Argument, argument: ast.expr, term: Term) -> bool:
    if isinstance(kind, (Free, Kind)) or term.dimension == kind:
        return True
    if term.is_bare_zero and kind != TEMPERATURE:
        return True
    needed, given = describe(kind), describe(term.settled_dimension)
    hint = "multiply by 1 rad or 1 deg" if needed == "angle" and given == "bare number" else ""
    walk.problem(argument, f"{function.name} takes {needed}, {walk.source(argument)} is {given}", hint)
    return False


def result_term(
    walk: Walk, node: ast.Call, function: Function, terms: Sequence[Term], tree: Part, stations: str | None
) -> Term:
    """What a function gives, of the terms it takes."""
    letters = _letters(walk, node, function, terms)
    if function.result is Kind.CONDITION:
        return Term("truth", tree, stations=stations)
    dimension = dimension_of_result(function.result, letters)
    interval = walk.interval(node, function.range_of, *terms)
    ends = function.ends or any(term.ends for term in terms)
    return Term("number", tree, dimension, stations, interval, ends)


def _letters(walk: Walk, node: ast.Call, function: Function, terms: Sequence[Term]) -> dict[str, Dimension]:
    """What dimension each letter of the signature stands for here."""
    alike: dict[str, list[Term]] = {}
    for kind, term in zip(function.arguments, terms, strict=True):
        if isinstance(kind, Free):
            root = None if term.dimension is None else dimensions.power(term.dimension, 1 / kind.power)
            alike.setdefault(kind.letter, []).append(term._replace(dimension=root))
    by_letter = {letter: walk.common_dimension(node, group, "used together") for letter, group in alike.items()}
    return {letter: DIMENSIONLESS if dimension is None else dimension for letter, dimension in by_letter.items()}


def dimension_of_result(result: Argument, letters: Mapping[str, Dimension]) -> Dimension:
    """The dimension of a result, where the letters stand for these."""
    if isinstance(result, Free):
        return dimensions.power(letters[result.letter], result.power)
    return DIMENSIONLESS if isinstance(result, Kind) else result
