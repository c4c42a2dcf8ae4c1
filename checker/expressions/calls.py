"""What a call in an expression means: a function at each station, a reduction, or another view of a characteristic."""

from __future__ import annotations

import ast
from collections.abc import Mapping, Sequence

from checker.errors import nearest
from checker.expressions import truth
from checker.expressions.functions import Argument, Free, Function, Kind
from checker.expressions.intervals import Interval
from checker.expressions.names import Column, Symbol
from checker.expressions.terms import WRONG, Term
from checker.expressions.walk import TEMPERATURE, Walk
from checker.units import dimensions
from checker.units.dimensions import DIMENSIONLESS, Dimension, describe


def call_term(walk: Walk, node: ast.Call) -> Term:
    """A function applied to its arguments."""
    function = _function(walk, node)
    if function is None:
        for argument in node.args:
            if not _is_quoted(argument):
                walk.term(argument)
        return WRONG
    walk.names.add(function.name)
    parent = node.args[-1] if function.across and len(node.args) > 1 and _is_quoted(node.args[-1]) else None
    arguments = node.args[:-1] if parent else node.args
    needed = len(function.arguments)
    if len(arguments) != needed:
        return walk.problem(node, f"{function.name} takes {needed} argument{'s' * (needed != 1)}, not {len(arguments)}")
    if function.arguments == (Kind.VALUE,):
        return _asked_for(walk, function, arguments[0])
    if function.view:
        return _view(walk, function, arguments[0])
    if not function.across:
        return _applied(walk, node, function, arguments)
    with walk.reducing():
        return _reduced(walk, node, function, arguments, parent)


def _function(walk: Walk, node: ast.Call) -> Function | None:
    name = node.func.id if isinstance(node.func, ast.Name) else ""
    found = walk.scope.functions.get(name)
    if found is None and name not in walk.scope.unusable:
        walk.problem(node, f"no function is called {name!r}", nearest(name, walk.scope.functions))
    return found


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
        read = walk.draft.read(Term("truth", stations=symbol.stations, column=column), symbol.stations)
        return Term("truth", walk.draft.call(truth.told, read), stations=symbol.stations)
    dimension = symbol.dimension if isinstance(function.result, Free) else _dimension(function.result, {})
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
    if not _fit(walk, function, arguments, terms):
        return WRONG
    stations = walk.meet(node, terms)
    tree = walk.draft.call(function, *(walk.draft.read(term, stations) for term in terms))
    return _result(walk, node, function, terms, tree, stations)


def _asked_for(walk: Walk, function: Function, argument: ast.expr) -> Term:
    """Whether there is a value: what was written down but does not count leaves that open."""
    term = walk.term(argument)
    if term.nature is None:
        return WRONG
    if term.column is None:
        message = f"{function.name} takes a characteristic by its name, or one view of it"
        return walk.problem(argument, message, "join several with and")
    asked = term._replace(column=term.column._replace(view=function.view + term.column.view))
    tree = walk.draft.call(truth.told, walk.draft.read(asked, term.stations))
    return Term("truth", tree, stations=term.stations)


def _reduced(
    walk: Walk, node: ast.Call, function: Function, arguments: Sequence[ast.expr], parent: ast.expr | None
) -> Term:
    """A function across all stations, or across those of each parent."""
    terms = [walk.term(argument) for argument in arguments]
    if not _fit(walk, function, arguments, terms):
        return WRONG
    stations = walk.meet(node, terms)
    if stations is None:
        return walk.problem(node, f"{walk.source(node)}: {function.name} needs values at several stations")
    trees = [walk.draft.read(term, stations) for term in terms]
    if parent is None:
        return _result(walk, node, function, terms, walk.draft.call(function, *trees), None)
    name, ancestors = ast.literal_eval(parent), walk.scope.lineage(stations)[1:]
    if name not in ancestors:
        hint = f"{stations} belongs to {' and '.join(ancestors)}" if ancestors else "leave it out"
        return walk.problem(parent, f"no {stations} belongs to a {name!r}", hint)
    return _result(walk, node, function, terms, walk.draft.reduce(function, stations, name, trees), name)


def _fit(walk: Walk, function: Function, arguments: Sequence[ast.expr], terms: Sequence[Term]) -> bool:
    """Whether each argument is what the function takes; a problem for each that is not."""
    fits = True
    for kind, argument, term in zip(function.arguments, arguments, terms, strict=True):
        if kind is Kind.CONDITION:
            fits &= walk.are("truth", [argument], [term])
        else:
            fits &= walk.are("number", [argument], [term]) and _has_dimension(walk, function, kind, argument, term)
    return fits


def _has_dimension(walk: Walk, function: Function, kind: Argument, argument: ast.expr, term: Term) -> bool:
    if isinstance(kind, (Free, Kind)) or term.dimension == kind:
        return True
    if term.is_bare_zero and kind != TEMPERATURE:
        return True
    needed, given = describe(kind), describe(term.settled_dimension)
    hint = "multiply by rad or deg" if needed == "angle" and given == "bare number" else ""
    walk.problem(argument, f"{function.name} takes {needed}, {walk.source(argument)} is {given}", hint)
    return False


def _result(
    walk: Walk, node: ast.Call, function: Function, terms: Sequence[Term], tree: ast.expr, stations: str | None
) -> Term:
    letters = _letters(walk, node, function, terms)
    if function.result is Kind.CONDITION:
        return Term("truth", tree, stations=stations)
    dimension = _dimension(function.result, letters)
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
    found = {letter: walk.common_dimension(node, group, "used together") for letter, group in alike.items()}
    return {letter: DIMENSIONLESS if dimension is None else dimension for letter, dimension in found.items()}


def _dimension(result: Argument, letters: Mapping[str, Dimension]) -> Dimension:
    if isinstance(result, Free):
        return dimensions.power(letters[result.letter], result.power)
    return DIMENSIONLESS if isinstance(result, Kind) else result
