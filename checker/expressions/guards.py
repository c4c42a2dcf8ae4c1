"""What a condition says about the ranges of its own parts, so that it can guard a division or a root."""

from __future__ import annotations

import ast
import math
from collections.abc import Iterator, Mapping
from itertools import pairwise

from checker.expressions.intervals import Interval, point
from checker.expressions.truth import greatest_equal, least_equal

Ranges = Mapping[ast.expr, Interval]
"""The range found for each part of the condition."""

_OPPOSITE: Mapping[type[ast.cmpop], ast.cmpop] = {
    ast.Lt: ast.GtE(),
    ast.LtE: ast.Gt(),
    ast.Gt: ast.LtE(),
    ast.GtE: ast.Lt(),
}


def narrowed(condition: ast.expr, outcome: bool, ranges: Ranges) -> Iterator[tuple[str, Interval]]:
    """For each part compared, by its key, where it lies when the condition has this outcome."""
    match condition:
        case ast.UnaryOp(op=ast.Not()):
            yield from narrowed(condition.operand, not outcome, ranges)
        case ast.BoolOp():
            if isinstance(condition.op, ast.And) == outcome:
                for value in condition.values:
                    yield from narrowed(value, outcome, ranges)
        case ast.Compare():
            yield from _compared(condition, outcome, ranges)


def key(node: ast.expr) -> str:
    """The same for two parts of an expression that read alike."""
    return ast.dump(node)


def narrow(interval: Interval, limits: Interval) -> Interval:
    """The part of an interval within limits; their end when it lies outside."""
    low, high = max(interval.low, limits.low), min(interval.high, limits.high)
    if low > high:
        return point(limits.low if math.isfinite(limits.low) else limits.high)
    return Interval(low, high)


def _compared(condition: ast.Compare, outcome: bool, ranges: Ranges) -> Iterator[tuple[str, Interval]]:
    if not outcome and len(condition.ops) > 1:
        return
    pairs = pairwise((condition.left, *condition.comparators))
    for (left, right), operator in zip(pairs, condition.ops, strict=True):
        sign = operator if outcome else _OPPOSITE.get(type(operator))
        if left in ranges and right in ranges:
            yield from _limits(left, sign, right, ranges)


def _limits(
    left: ast.expr, operator: ast.cmpop | None, right: ast.expr, ranges: Ranges
) -> Iterator[tuple[str, Interval]]:
    match operator:
        case ast.Gt() | ast.GtE():
            smaller, larger = right, left
        case ast.Lt() | ast.LtE():
            smaller, larger = left, right
        case _:
            return
    # "Above" means above what still counts as equal, "at least" includes it.
    strict = isinstance(operator, (ast.Gt, ast.Lt))
    low, high = ranges[smaller].low, ranges[larger].high
    yield key(larger), Interval(float(greatest_equal(low) if strict else least_equal(low)), math.inf)
    yield key(smaller), Interval(-math.inf, float(least_equal(high) if strict else greatest_equal(high)))
