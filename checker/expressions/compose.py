"""Checked expressions put together anew: one in place of a name in another, and conditions that both hold."""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from dataclasses import replace

from checker.expressions import truth
from checker.expressions.expression import Expression
from checker.expressions.names import Column
from checker.expressions.stations import lifted
from checker.expressions.terms import Draft, binary, constant
from checker.units.dimensions import Dimension


def amount(value: float, dimension: Dimension | None, text: str) -> Expression:
    """A number in SI as an expression, with the text it was written as."""
    return Expression(
        text, "number", dimension, None, value, value, (), frozenset(), frozenset(), constant(value), (), (), ends=False
    )


def times(size: Expression, factor: float, text: str = "") -> Expression:
    """An expression so many times as large; `text` is how the factor was written."""
    ends = sorted((factor * size.low, factor * size.high))
    words = f"{text or f'{factor:g}'}*{size.text if size.text.isidentifier() else f'({size.text})'}"
    return replace(size, text=words, tree=binary(constant(factor), ast.Mult(), size.tree), low=ends[0], high=ends[1])


def in_place(outer: Expression, name: str, inner: Expression) -> Expression:
    """An expression with another in place of a name that it reads at its own stations, or at those they belong to."""
    draft = Draft()
    replaced = [column for column in outer.columns if column.name == name]
    trees = {column: _seen_from(column.at, inner, draft) for column in replaced}
    tree = _moved(outer, draft, trees)
    across = {column for column in outer.across if column.name != name} | inner.across
    if outer.across & set(replaced):
        across |= set(inner.columns)
    words = inner.text if re.fullmatch(r"[\w.*]+", inner.text) else f"({inner.text})"
    return replace(
        outer,
        text=re.sub(rf"\b{name}\b", lambda _: words, outer.text),
        columns=tuple(draft.columns),
        across=frozenset(across),
        names=(outer.names - {name}) | inner.names,
        tree=tree,
        calls=tuple(draft.calls),
        groups=tuple(draft.groups),
        ends=outer.ends or inner.ends,
        neighbours=tuple(dict.fromkeys((*outer.neighbours, *inner.neighbours))),
    )


def both(one: Expression | None, other: Expression | None, at: str | None) -> Expression | None:
    """The condition that both hold, at stations from which both can be seen; nothing stands for what always holds."""
    if one is None or other is None:
        return one or other
    draft = Draft()
    trees = [_seen_from(at, condition, draft) for condition in (one, other)]
    return replace(
        one,
        text=f"({one.text}) and ({other.text})",
        stations=None if one.stations is None and other.stations is None else at,
        columns=tuple(draft.columns),
        across=one.across | other.across,
        names=one.names | other.names,
        tree=draft.call(truth.all_of, *trees),
        calls=tuple(draft.calls),
        groups=tuple(draft.groups),
        neighbours=tuple(dict.fromkeys((*one.neighbours, *other.neighbours))),
    )


def _seen_from(at: str | None, expression: Expression, draft: Draft) -> ast.expr:
    tree = _moved(expression, draft, {})
    if expression.stations in (None, at) or at is None:
        return tree
    return draft.call(lifted, tree, draft.group(at, expression.stations))


def _moved(expression: Expression, draft: Draft, trees: Mapping[Column, ast.expr]) -> ast.expr:
    """The tree of an expression, named as a draft names things; `trees` stand in for some of its columns."""

    def walk(node: ast.expr) -> ast.expr:
        match node:
            case ast.Name(id=name) if name.startswith("g"):
                return draft.group(*expression.groups[int(name[1:])])
            case ast.Name(id=name):
                column = expression.columns[int(name[1:])]
                return trees[column] if column in trees else draft.column(column)
            case ast.BinOp():
                return ast.BinOp(walk(node.left), node.op, walk(node.right))
            case ast.Call(func=ast.Name(id=name)):
                return draft.call(expression.calls[int(name[1:])], *map(walk, node.args))
        return node

    return walk(expression.tree)
