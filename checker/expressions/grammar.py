"""What the grammar of expressions allows in a syntax tree: how many parts, which kinds of them, and where.

Whatever evaluates the tree later relies on nothing else having passed.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from checker.errors import Problem
from checker.expressions.problems import fault

MOST_NODES = 200
MOST_CALLS = 20
MOST_NAMES = 30
DEEPEST = 64
LONGEST_NUMBER = 20
SMALLEST, GREATEST = 1e-12, 1e12
GREATEST_EXPONENT = 4

QUOTED = re.compile(r"\"[^\"']*\"|'[^\"']*'")
_NUMBER = re.compile(r"(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")

WHERE = "where "
"""The keyword, in a tree, under which a call has the condition that picks its stations; no text can spell it."""

_FACTS = frozenset({ast.Eq, ast.NotEq, ast.In, ast.NotIn})
_OPERATORS = frozenset({ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow, ast.USub, ast.Not, ast.And, ast.Or})
_ARITHMETIC = frozenset({ast.Add, ast.Sub, ast.Mult, ast.Div})
_DIRECTIONS = (frozenset({ast.Lt, ast.LtE}), frozenset({ast.Gt, ast.GtE}))
_OPERANDS: Mapping[type[ast.expr], Callable[[Any], Sequence[ast.expr]]] = {
    ast.Constant: lambda node: (),
    ast.Name: lambda node: (),
    ast.BinOp: lambda node: (node.left, node.right),
    ast.UnaryOp: lambda node: (node.operand,),
    ast.BoolOp: lambda node: node.values,
    ast.Compare: lambda node: (node.left,) if type(node.ops[0]) in _FACTS else (node.left, *node.comparators),
    ast.IfExp: lambda node: (node.test, node.body, node.orelse),
    ast.Call: lambda node: [*node.args, *(keyword.value for keyword in node.keywords)],
}
"""The nodes that are allowed, and what each calculates with: all below it but names of functions and of choices."""


def size_problems(tree: ast.expr) -> Iterator[Problem]:
    """What there is too much of in a tree."""
    level = [tree]
    every: list[ast.expr] = []
    depth = 0
    while level:
        every += level
        depth += 1
        level = [child for node in level for child in below(node)]
    names = {node.id for node in every if isinstance(node, ast.Name)}
    calls = [node for node in every if isinstance(node, ast.Call)]
    sizes = ((len(every), MOST_NODES, "parts"), (depth, DEEPEST, "levels"))
    for size, most, what in (*sizes, (len(calls), MOST_CALLS, "calls"), (len(names), MOST_NAMES, "names")):
        if size > most:
            yield fault(f"{size} {what}, at most {most}")


def node_problems(tree: ast.expr, text: str) -> dict[ast.expr, Problem]:
    """What the grammar does not allow, by the node that it refuses; nothing below that."""
    found: dict[ast.expr, Problem] = {}
    waiting = [(tree, False)]
    while waiting:
        node, quote_allowed = waiting.pop()
        if type(node) is ast.Name:
            continue
        if type(node) is ast.BinOp and type(node.op) in _ARITHMETIC:
            waiting += ((node.right, False), (node.left, False))
            continue
        source, operands = text[node.col_offset : node.end_col_offset], _OPERANDS.get(type(node))
        if operands is None:
            found[node] = fault(f"{source!r} has no place in an expression", node.col_offset + 1)
        elif message := _refusal(node, source, quote_allowed):
            found[node] = fault(message, node.col_offset + 1)
        else:
            waiting += [(child, _may_be_quoted(node, child)) for child in reversed(operands(node))]
    return found


def below(node: ast.expr) -> Sequence[ast.expr]:
    """The parts right below a node; what has no place in an expression counts as one part, and will be refused."""
    if isinstance(node, ast.Call):
        return [node.func, *_OPERANDS[ast.Call](node)]
    if isinstance(node, ast.Compare):
        return [node.left, *node.comparators]
    return node.elts if isinstance(node, ast.Tuple) else _OPERANDS.get(type(node), _OPERANDS[ast.Name])(node)


def _refusal(node: ast.expr, source: str, quote_allowed: bool) -> str:
    if isinstance(node, ast.Constant):
        return _constant_refusal(node, source, quote_allowed)
    if isinstance(node, (ast.BinOp, ast.UnaryOp, ast.BoolOp)):
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Pow):
            return _exponent_refusal(node.right) or _powered_refusal(node)
        return "" if type(node.op) in _OPERATORS else f"the operator in {source!r} is not one of + - * / **"
    if isinstance(node, ast.Compare):
        return _comparison_refusal(node, source)
    if isinstance(node, ast.Call):
        if not isinstance(node.func, ast.Name):
            return f"{source!r} does not call a function by its name"
        named = any(keyword.arg != WHERE for keyword in node.keywords)
        return f"{source!r} names an argument" if named else ""
    return ""


def _constant_refusal(node: ast.Constant, source: str, quote_allowed: bool) -> str:
    if isinstance(node.value, str):
        allowed = quote_allowed and QUOTED.fullmatch(source)
        return "" if allowed else "a quoted text is a choice behind is or in, or stands behind a comma"
    value, source = _number(node), source.partition(" ")[0]
    if value is None or not _NUMBER.fullmatch(source) or len(source) > LONGEST_NUMBER:
        return f"{source!r} is not a plain number"
    if value and not SMALLEST <= value <= GREATEST:
        return f"{source} is not between {SMALLEST:g} and {GREATEST:g}"
    return ""


def _exponent_refusal(exponent: ast.expr) -> str:
    if isinstance(exponent, ast.UnaryOp) and isinstance(exponent.op, ast.USub):
        exponent = exponent.operand
    value = None if getattr(exponent, "kind", None) else _number(exponent)
    if value is not None and 0 < value <= GREATEST_EXPONENT:
        return ""
    return f"an exponent is a number as written, from -{GREATEST_EXPONENT} to {GREATEST_EXPONENT} and not 0"


def _number(node: ast.expr) -> int | float | None:
    """The number as written; True is not one."""
    value = node.value if isinstance(node, ast.Constant) else None
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def _powered_refusal(node: ast.BinOp) -> str:
    """A power of a quantity: of the number, or of its unit too?"""
    is_bare = isinstance(node.left, ast.Constant) and node.left.kind and node.left.col_offset == node.col_offset
    return "what the power is of is put in parentheses, as in (2 in)**2, or the unit is a square one" if is_bare else ""


def _comparison_refusal(node: ast.Compare, source: str) -> str:
    operators = set(map(type, node.ops))
    if not _FACTS.isdisjoint(operators):
        return _fact_refusal(node, source)
    if any(operators <= direction for direction in _DIRECTIONS):
        return "" if len(node.ops) <= 2 else "more than two comparisons in a chain"
    return "comparisons in a chain are all < and <=, or all > and >="


def _fact_refusal(node: ast.Compare, source: str) -> str:
    if len(node.ops) > 1:
        return f"{source!r} compares more than one fact with one thing: join comparisons with and"
    behind = node.comparators[0]
    if isinstance(node.ops[0], (ast.Eq, ast.NotEq)):
        is_choice = _is_choice(behind, node, source)
        return "" if is_choice else "behind is stands one choice: a single word, or what is in quotes"
    listed = (
        isinstance(behind, ast.Tuple) and behind.elts and all(_is_choice(word, node, source) for word in behind.elts)
    )
    return "" if listed else "behind in stand choices in parentheses, as in (petrol, e85); of one, write is"


def _is_choice(node: ast.expr, within: ast.Compare, source: str) -> bool:
    if isinstance(node, ast.Name):
        return True
    written = source[node.col_offset - within.col_offset : (node.end_col_offset or 0) - within.col_offset]
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and bool(QUOTED.fullmatch(written))


def _may_be_quoted(node: ast.expr, child: ast.expr) -> bool:
    """Whether a quoted text may stand here: the station set of a reduction."""
    return isinstance(node, ast.Call) and len(node.args) == 2 and child is node.args[1]
