"""Reductions in an expression: across all stations, those of each parent, or those of which a condition holds."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from checker.errors import nearest
from checker.expressions import truth
from checker.expressions.functions import Function
from checker.expressions.signatures import fits, result_term
from checker.expressions.stations import by_parent
from checker.expressions.steps import Group, step
from checker.expressions.subsets import of_those
from checker.expressions.terms import WRONG, Neighbour, Term, there_is
from checker.expressions.truth import Array
from checker.expressions.walk import Walk
from checker.frozen import Applied
from checker.graph import lineage


def reduction_term(
    walk: Walk, node: ast.Call, function: Function, arguments: Sequence[ast.expr], parent: ast.expr | None
) -> Term:
    """A function across all stations, or across those of each parent; of those alone for which a condition holds."""
    with _own_neighbours(walk) as neighbours:
        picked, terms = _picked(walk, node, arguments)
    if not fits(walk, function, arguments, terms) or _stands_in(walk, function, arguments[0]):
        return WRONG
    if any(term.nature != "truth" for term in picked):
        return WRONG
    picked += [there_is(wanted) for wanted in neighbours]
    stations = walk.meet(node, (*terms, *picked))
    if stations is None:
        return walk.problem(node, f"{walk.source(node)}: {function.name} needs values at several stations")
    trees = [walk.read(term, stations) for term in terms]
    reduction: Callable[..., Array] = function
    if picked:
        members = [walk.read(term, stations) for term in picked]
        trees.append(members[0] if len(members) == 1 else step(truth.all_of, *members))
        reduction = Applied(of_those, (function, function.is_monotone))
    if parent is None:
        return result_term(walk, node, function, terms, step(reduction, *trees), None)
    name, ancestors = ast.literal_eval(parent), lineage(stations, walk.scope.parents)[1:]
    if name not in ancestors:
        belonging = f"{stations} belongs to {' and '.join(ancestors)}" if ancestors else "leave it out"
        hint = nearest(name, ancestors) or belonging
        return walk.problem(parent, f"no {stations} belongs to a {name!r}", hint)
    tree = step(Applied(by_parent, (reduction,)), Group(stations, name), *trees)
    return result_term(walk, node, function, terms, tree, name)


@contextmanager
def _own_neighbours(walk: Walk) -> Iterator[dict[Neighbour, None]]:
    """The neighbours asked for meanwhile: the ends, which have none, are left out of this reduction."""
    outer, walk.neighbours = walk.neighbours, {}
    yield walk.neighbours
    walk.neighbours = outer


def _picked(walk: Walk, node: ast.Call, arguments: Sequence[ast.expr]) -> tuple[list[Term], list[Term]]:
    """The condition that picks stations, if there is one, and what is reduced where it holds."""
    if not node.keywords:
        return [], [walk.term(argument) for argument in arguments]
    condition = node.keywords[0].value
    picked = [walk.term(condition)]
    walk.are("truth", [condition], picked)
    with walk.given(condition, True):
        return picked, [walk.term(argument) for argument in arguments]


def _stands_in(walk: Walk, function: Function, argument: ast.expr) -> bool:
    """Whether a nought stands in for stations that are not meant; a problem where it does."""
    choice = _with_nought(argument)
    if choice is None:
        return False
    is_else = _is_nought(choice.orelse)
    value, condition = walk.source(choice.body if is_else else choice.orelse), walk.source(choice.test)
    picked = condition if is_else else f"not ({condition})"
    message = f"{walk.source(choice)}: the stations left out would count as 0"
    hint = f"write {function.name}({value} where {picked})" if choice is argument else f"{value} where {picked}"
    walk.problem(choice, message, hint)
    return True


def _with_nought(node: ast.expr) -> ast.IfExp | None:
    match node:
        case ast.IfExp():
            if _is_nought(node.body) or _is_nought(node.orelse):
                return node
            return _with_nought(node.body) or _with_nought(node.orelse)
        case ast.BinOp(op=ast.Mult()):
            return _with_nought(node.left) or _with_nought(node.right)
        case ast.BinOp(op=ast.Div()):
            return _with_nought(node.left)
        case ast.UnaryOp(op=ast.USub()):
            return _with_nought(node.operand)
    return None


def _is_nought(node: ast.expr) -> bool:
    match node:
        case ast.Constant(value=value):
            return value == 0
        case ast.UnaryOp(op=ast.USub()):
            return _is_nought(node.operand)
        case ast.BinOp(op=ast.Mult()):
            return _is_nought(node.left) or _is_nought(node.right)
    return False
