"""Facts: characteristics with choices, compared by words with one of them, with several, or with another fact."""

from __future__ import annotations

import ast
from collections.abc import Sequence

from checker.errors import nearest
from checker.expressions import truth
from checker.expressions.names import Symbol
from checker.expressions.steps import Part, constant, step
from checker.expressions.syntax import parse
from checker.expressions.terms import WRONG, Term, symbol_term
from checker.expressions.walk import Walk

_NEGATED = (ast.NotEq, ast.NotIn)


def is_fact(node: ast.Compare) -> bool:
    """Whether a comparison is one of a fact, by words."""
    return isinstance(node.ops[0], (ast.Eq, ast.In, *_NEGATED))


def fact_term(walk: Walk, node: ast.Compare) -> Term:
    """Whether a fact is as said; where it is not known, that cannot be told."""
    term, behind = walk.term(node.left), node.comparators[0]
    if term.nature is None:
        return term
    if term.symbol is None or term.nature != "choice":
        hint = "numbers are compared with <= and >=" if term.nature == "number" else ""
        return walk.problem(node, f"{walk.source(node.left)} is not a fact with choices", hint)
    other = other_fact(walk, node)
    if other is not None:
        return _two_facts(walk, node, term, symbol_term(other))
    positions = _positions(walk, term.symbol, behind.elts if isinstance(behind, ast.Tuple) else [behind])
    if not positions:
        return WRONG
    fact = walk.read(term, term.stations)
    each = [step(truth.same, fact, constant(position)) for position in positions]
    return _settled(node, each[0] if len(each) == 1 else step(truth.any_of, *each), term.stations)


def other_fact(walk: Walk, node: ast.Compare) -> Symbol | None:
    """The fact that the first is compared with; a word that is a choice of the first is that choice."""
    behind = node.comparators[0]
    if not isinstance(behind, ast.Name) or not isinstance(node.left, ast.Name):
        return None
    own, other = (walk.scope.symbols.get(name) for name in (node.left.id, behind.id))
    is_choice = own is not None and behind.id in own.choices
    return other if other is not None and other.choices and not is_choice else None


def _two_facts(walk: Walk, node: ast.Compare, term: Term, other: Term) -> Term:
    first, second = term.symbol, other.symbol
    if first is None or second is None or first.choices != second.choices:
        return walk.problem(node, f"{walk.source(node)}: the two do not have the same choices")
    walk.names.add(second.name)
    stations = walk.meet(node, (term, other))
    tree = step(truth.same, *(walk.read(each, stations) for each in (term, other)))
    return _settled(node, tree, stations)


def _settled(node: ast.Compare, tree: Part, stations: str | None) -> Term:
    if isinstance(node.ops[0], _NEGATED):
        tree = step(truth.negation, tree)
    return Term("truth", tree, stations=stations)


def _positions(walk: Walk, fact: Symbol, written: Sequence[ast.expr]) -> list[int]:
    """Where the words stand among the choices of a fact; nothing, and a problem, where one is none of them."""
    positions: list[int] = []
    for node in written:
        word = node.id if isinstance(node, ast.Name) else ast.literal_eval(node)
        if word not in fact.choices:
            hint = nearest(word, fact.choices) or f"one of {', '.join(fact.choices)}"
            walk.problem(node, f"{fact.name} has no choice {word!r}", hint)
        elif fact.choices.index(word) in positions:
            walk.problem(node, f"{word!r} stands twice")
        else:
            positions.append(fact.choices.index(word))
    return positions if len(positions) == len(written) else []


def picks_choice(text: str, choices: Sequence[str]) -> bool:
    """Whether a text is one of some choices, or as conditions say one of several."""
    waiting = [parse(text).tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.IfExp):
            waiting += [node.body, node.orelse]
        elif not (isinstance(node, ast.Name) and node.id in choices):
            return False
    return True
