"""What a call in an expression means: a function, a reduction, another view of a characteristic, or what is known."""

from __future__ import annotations

import ast
from collections.abc import Sequence

from checker.errors import nearest
from checker.expressions import truth
from checker.expressions.facts import is_fact, other_fact
from checker.expressions.functions import KNOWN, Free, Function, Kind
from checker.expressions.intervals import Interval, hull
from checker.expressions.names import Column, Symbol
from checker.expressions.reductions import reduction_term
from checker.expressions.signatures import dimension_of_result, fits, result_term
from checker.expressions.stations import neighbour
from checker.expressions.steps import Group, Part, step
from checker.expressions.subsets import of_known
from checker.expressions.terms import WRONG, Neighbour, Term, symbol_term
from checker.expressions.walk import Walk
from checker.frozen import Applied

_ELSEWHERE = {
    "max": "greatest over stations, larger_of for two values",
    "min": "least over stations, smaller_of for two values",
    **dict.fromkeys(("average", "avg"), "mean"),
    "sum": "total",
    "round": "floor, ceiling, or round_up to a step",
}
"""What is meant by names that such functions have in other languages."""


def call_term(walk: Walk, node: ast.Call) -> Term:
    """A function applied to its arguments."""
    function = _function(walk, node)
    if function is None:
        for argument in node.args:
            if not _is_quoted(argument):
                walk.term(argument)
        return WRONG
    walk.names.add(function.name)
    if node.keywords and (not function.across or function.of_known):
        return walk.problem(node, f"where picks stations: {function.name} takes none", "as in mean(...) and count(...)")
    if function.of_known:
        return _of_known(walk, node, function)
    parent = node.args[-1] if function.across and len(node.args) > 1 and _is_quoted(node.args[-1]) else None
    arguments = node.args[:-1] if parent else node.args
    needed = len(function.arguments)
    if len(arguments) != needed:
        found = f"{function.name} takes {needed} argument{'s' * (needed != 1)}, not {len(arguments)}"
        hint = 'and a kind of stations in quotes, as in mean(..., "shaft")' if function.across else ""
        return walk.problem(node, found, hint)
    if function.arguments == (Kind.VALUE,):
        return _known(walk, function, arguments[0])
    if function.view:
        return _view(walk, function, arguments[0])
    if function.neighbour:
        return _neighbouring(walk, node, function)
    if not function.across:
        return _applied(walk, node, function, arguments)
    with walk.reducing():
        return reduction_term(walk, node, function, arguments, parent)


def _function(walk: Walk, node: ast.Call) -> Function | None:
    name = node.func.id if isinstance(node.func, ast.Name) else ""
    function = walk.scope.functions.get(name)
    if function is None and name not in walk.scope.unusable:
        hint = _ELSEWHERE.get(name) or nearest(name, walk.scope.functions)
        walk.problem(node, f"no function is called {name!r}", hint)
    return function


def _is_quoted(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def _view(walk: Walk, function: Function, argument: ast.expr) -> Term:
    """A characteristic read in another way than by its plain name."""
    symbol = walk.scope.symbols.get(argument.id) if isinstance(argument, ast.Name) else None
    if isinstance(argument, ast.Name) and argument.id in walk.scope.unusable:
        return WRONG
    if symbol is None:
        return walk.problem(argument, f"{function.name} takes the plain name of a characteristic")
    walk.names.add(symbol.name)
    refusal = _refusal(function, symbol)
    if refusal:
        return walk.problem(argument, refusal)
    column = Column(symbol.name, function.view, symbol.stations)
    if function.result is Kind.CONDITION:
        read = walk.read(Term("truth", stations=symbol.stations, column=column), symbol.stations)
        return Term("truth", step(truth.told, read), stations=symbol.stations)
    dimension = symbol.dimension if isinstance(function.result, Free) else dimension_of_result(function.result, {})
    interval = function.range_of(Interval(symbol.low, symbol.high))
    return Term("number", WRONG.tree, dimension, symbol.stations, interval, symbol.derived, column)


def _refusal(function: Function, symbol: Symbol) -> str:
    """Why a characteristic cannot be read in this way, if so."""
    if symbol.dimension is None:
        return f"{function.name} takes a characteristic with a unit, {symbol.name} has choices"
    if function.arguments[0] is Kind.SERIES and not symbol.series:
        return f"{symbol.name} is not a series: the order of its readings means nothing"
    if function.view == "computed" and not symbol.derived:
        return f"{symbol.name} is not derived from others"
    return ""


def _applied(walk: Walk, node: ast.Call, function: Function, arguments: Sequence[ast.expr]) -> Term:
    """A function at each station."""
    terms = [walk.term(argument) for argument in arguments]
    if not fits(walk, function, arguments, terms):
        return WRONG
    stations = walk.meet(node, terms)
    tree = step(function, *(walk.read(term, stations) for term in terms))
    return result_term(walk, node, function, terms, tree, stations)


def _neighbouring(walk: Walk, node: ast.Call, function: Function) -> Term:
    """What is calculated at a neighbouring station, seen from each; at the end of a line there is none."""
    if any(isinstance(part, ast.Call) and _is_neighbour(walk, part) for part in ast.walk(node.args[0])):
        return walk.problem(node, f"{walk.source(node)}: a neighbour of a neighbour cannot be named")
    with walk.reducing():
        term = walk.term(node.args[0])
        if not fits(walk, function, node.args, [term]):
            return WRONG
        if term.stations is None:
            return walk.problem(node, f"{walk.source(node)}: {function.name} needs a value at several stations")
        read = walk.read(term, term.stations)
    key = Neighbour(term.stations, walk.scope.parents.get(term.stations), function.neighbour)
    walk.neighbours[key] = None
    tree = step(Applied(neighbour, (function.neighbour,)), read, Group(key.stations, key.parent))
    return result_term(walk, node, function, [term], tree, term.stations)


def _is_neighbour(walk: Walk, node: ast.Call) -> bool:
    function = walk.scope.functions.get(node.func.id) if isinstance(node.func, ast.Name) else None
    return function is not None and function.neighbour != 0


def _known(walk: Walk, function: Function, argument: ast.expr) -> Term:
    """Whether there is a value: what was written down but does not count leaves that open.

    Of a fact compared with words, whether it is known to be as said: where nothing was written down it is not.
    """
    term = walk.term(argument)
    if term.nature is None:
        return WRONG
    if isinstance(argument, ast.Compare) and is_fact(argument):
        return _known_to_be(walk, argument, term)
    if term.column is None:
        message = f"{function.name} takes a characteristic by its name, or one view of it, or a fact and what it is"
        return walk.problem(argument, message, "join several with and")
    return Term("truth", _is_known(walk, term, term.stations), stations=term.stations)


def _known_to_be(walk: Walk, argument: ast.Compare, term: Term) -> Term:
    facts = [walk.term(argument.left)]
    if other := other_fact(walk, argument):
        facts.append(symbol_term(other))
    known = [_is_known(walk, fact, term.stations) for fact in facts]
    return Term("truth", step(truth.all_of, *known, term.tree), stations=term.stations)


def _is_known(walk: Walk, term: Term, at: str | None) -> Part:
    if term.column is None:
        raise TypeError("only what stands in a column can be known")
    asked = term._replace(column=term.column._replace(view=KNOWN + term.column.view))
    return step(truth.told, walk.read(asked, at))


def _of_known(walk: Walk, node: ast.Call, function: Function) -> Term:
    """The least, the greatest or the mean of those names that are known."""
    terms = [walk.term(argument) for argument in node.args]
    if len(terms) < 2:
        return walk.problem(node, f"{function.name} takes two names or more")
    pairs = list(zip(node.args, terms, strict=True))
    unfit = [argument for argument, term in pairs if not fits(walk, function, [argument], [term])]
    if unfit:
        return WRONG
    for argument, term in pairs:
        if term.column is None:
            message = f"{function.name} takes characteristics by their names, or views of them"
            return walk.problem(argument, message, "give what is calculated a name of its own")
    dimension = walk.common_dimension(node, terms, "used together")
    stations = walk.meet(node, terms)
    trees = [tree for term in terms for tree in (_is_known(walk, term, stations), walk.read(term, stations))]
    tree = step(Applied(of_known, (function, function.is_monotone)), *trees)
    result = terms[0]._replace(dimension=dimension, interval=hull(*(term.interval for term in terms)))
    return result_term(walk, node, function, [result], tree, stations)._replace(ends=any(term.ends for term in terms))
