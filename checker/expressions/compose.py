"""Checked expressions put together anew: one in place of a name in another, and conditions that both hold."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from checker.expressions import truth
from checker.expressions.expression import Expression
from checker.expressions.steps import constant, program_of, step
from checker.expressions.steps import in_place as with_others
from checker.expressions.terms import seen_from
from checker.units.dimensions import Dimension


def amount(value: float, dimension: Dimension | None, text: str) -> Expression:
    """A number in SI as an expression, with the text it was written as."""
    program, nothing = program_of(constant(value)), frozenset[Any]()
    return Expression(text, "number", dimension, None, value, value, program, nothing, nothing, ends=False)


def times(size: Expression, factor: float, text: str = "") -> Expression:
    """An expression so many times as large; `text` is how the factor was written."""
    ends = sorted((factor * size.low, factor * size.high))
    words = f"{text or f'{factor:g}'}*{size.text if size.text.isidentifier() else f'({size.text})'}"
    tree = step(np.multiply, constant(factor), size.tree)
    return size.calculating(tree, text=words, low=ends[0], high=ends[1])


def in_place(outer: Expression, name: str, inner: Expression) -> Expression:
    """An expression with another in place of a name that it reads at its own stations, or at those they belong to."""
    replaced = [column for column in outer.columns if column.name == name]
    tree = with_others(outer.tree, {column: seen_from(column.at, inner.tree, inner.stations) for column in replaced})
    across = {column for column in outer.across if column.name != name} | inner.across
    if outer.across & set(replaced):
        across |= set(inner.columns)
    words = inner.text if re.fullmatch(r"[\w.*]+", inner.text) else f"({inner.text})"
    return outer.calculating(
        tree,
        text=re.sub(rf"\b{name}\b", lambda _: words, outer.text),
        across=frozenset(across),
        names=(outer.names - {name}) | inner.names,
        ends=outer.ends or inner.ends,
        neighbours=tuple(dict.fromkeys((*outer.neighbours, *inner.neighbours))),
    )


def both(first: Expression | None, second: Expression | None, at: str | None) -> Expression | None:
    """The condition that both hold, at stations from which both can be seen; nothing stands for what always holds."""
    if first is None or second is None:
        return first or second
    return first.calculating(
        step(truth.all_of, *(seen_from(at, each.tree, each.stations) for each in (first, second))),
        text=f"({first.text}) and ({second.text})",
        stations=None if first.stations is None and second.stations is None else at,
        across=first.across | second.across,
        names=first.names | second.names,
        neighbours=tuple(dict.fromkeys((*first.neighbours, *second.neighbours))),
    )
