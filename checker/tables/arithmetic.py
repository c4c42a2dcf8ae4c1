"""Columns worked out from others: a gauge tells how far a size is from the master it was set to, not how large it is.

asteval runs what is written: sums, products, quotients and powers of columns and numbers, and nothing else.
"""

from __future__ import annotations

import ast
import io
from collections.abc import Collection, Iterator

import asteval  # type: ignore[import-untyped]
import numpy as np
from asteval.asteval import ALL_NODES  # type: ignore[import-untyped]

from checker.errors import Problem, UsageError
from checker.expressions.truth import Array
from checker.tables.arrow import Cells, Table

LONGEST = 200
"""So many characters are read as arithmetic at most."""
_EXAMPLE = "for example 4.0300 + deviation_1 / 1000"
_NODES = frozenset({"expr", "expression", "module", "binop", "unaryop", "constant", "name"})
_OPERATORS = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow, ast.USub, ast.UAdd)
_PARTS = (ast.Expression, ast.BinOp, ast.UnaryOp, ast.Constant, ast.Name, ast.Load, *_OPERATORS)


def problems_of(text: str, table: Table) -> list[Problem]:
    """What keeps a text from being a column, or arithmetic with columns; nothing where it can be read."""
    tree = None if text in table.names else _parsed(text)
    return table.missing([text] if tree is None else _names(tree))


def columns_in(text: str, names: Collection[str]) -> frozenset[str]:
    """The columns that a text names or calculates with."""
    return frozenset([text] if text in names else _names(_parsed(text)))


def cells_of(text: str, table: Table) -> Cells:
    """A column by its name, or worked out from columns of numbers; a row that lacks one of them has no value.

    Raises UsageError where a column in it holds texts.
    """
    if text in table.names:
        return table.cells(text)
    return Cells(_run(text, {name: _numbers(name, table) for name in _names(_parsed(text))}, table.rows))


def _parsed(text: str) -> ast.Expression | None:
    """The tree of arithmetic, if that is what it is."""
    try:
        tree = ast.parse(text.strip(), mode="eval") if len(text) <= LONGEST else None
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return None
    if tree is None or not all(isinstance(node, _PARTS) for node in ast.walk(tree)):
        return None
    numbers = (node.value for node in ast.walk(tree) if isinstance(node, ast.Constant))
    return tree if all(type(number) in (int, float) for number in numbers) and any(_names(tree)) else None


def _names(tree: ast.Expression | None) -> Iterator[str]:
    nodes = ast.walk(tree) if tree else ()
    return (node.id for node in nodes if isinstance(node, ast.Name))


def _numbers(name: str, table: Table) -> Array:
    numbers = table.cells(name).numbers
    if numbers is None:
        raise UsageError(Problem(f"column {name!r} holds texts; only numbers can be calculated with"))
    return numbers


def _run(text: str, columns: dict[str, Array], rows: int) -> Array:
    interpreter = asteval.Interpreter(
        symtable=dict(columns),
        use_numpy=False,
        minimal=True,
        config={node: node in _NODES for node in ALL_NODES},
        writer=io.StringIO(),
        err_writer=io.StringIO(),
    )
    with np.errstate(all="ignore"):
        try:
            values = interpreter(text.strip(), raise_errors=True)
        except Exception as error:  # what asteval refuses itself, such as a power that is too large
            problem = Problem(f"{text!r} cannot be calculated: {type(error).__name__}", hint=_EXAMPLE)
            raise UsageError(problem) from None
    found = np.broadcast_to(np.asarray(values, dtype=np.float64), (rows,)).copy()
    for own in columns.values():
        found[np.isnan(own)] = np.nan  # to the power of nought, numpy makes one of what is missing
    return found
