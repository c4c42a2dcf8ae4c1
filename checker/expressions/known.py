"""What is known: whether there is a value or a fact is so, and reductions over those names that are known."""

from __future__ import annotations

import ast

from checker.expressions import truth
from checker.expressions.facts import is_fact, other_fact
from checker.expressions.functions import KNOWN, Function
from checker.expressions.intervals import hull
from checker.expressions.signatures import fits, result_term
from checker.expressions.steps import Part, step
from checker.expressions.subsets import of_known
from checker.expressions.terms import WRONG, Term, symbol_term
from checker.expressions.walk import Walk
from checker.frozen import Applied


def known_term(walk: Walk, function: Function, argument: ast.expr) -> Term:
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


def known_only_term(walk: Walk, node: ast.Call, function: Function) -> Term:
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
