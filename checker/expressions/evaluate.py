"""Evaluating checked expressions on arrays: their programs taken in numbers.

What reaches this has been read through a whitelist by syntax.py and built by parts.py and calls.py: calls of functions
on columns and constants, and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, MutableMapping
from typing import Any

import numpy as np

from checker.expressions.expression import Expression
from checker.expressions.faults import note
from checker.expressions.functions import FunctionError
from checker.expressions.names import Column
from checker.expressions.stations import Grouping, Layout, grouping
from checker.expressions.steps import Group
from checker.expressions.truth import CANNOT_TELL, Array


class EvaluationError(Exception):
    """An expression that passed every check cannot be evaluated: a fault of a function, or of this program."""


def evaluate(
    expression: Expression,
    fetch: Callable[[Column], Array],
    layout: Layout,
    failed: MutableMapping[str, str] | None = None,
) -> Array:
    """The values of an expression, of shape (rows, stations); (1, 1) when it reads no column.

    `fetch` gives a column as float64 of shape (rows, stations of `column.at`, or 1), NaN where a value is missing or
    refused; a choice as its position among the choices; a truth as 1 or 0. The result is NaN where it cannot be
    told, infinite where a table does not cover it, else finite; a truth is never either. Where a function of a plugin
    fails, nothing can be told, and the failure is noted, in `failed` too: how, by the name of the function.
    """

    if expression.column is not None:
        return _read_only(fetch(expression.column))

    def value_of(leaf: float | Column | Group) -> float | Array | Grouping:
        if isinstance(leaf, Column):
            return _read_only(fetch(leaf))
        return grouping(layout, *leaf) if isinstance(leaf, Group) else leaf

    leaves = list(map(value_of, expression.program.leaves))
    try:
        with np.errstate(all="ignore"):
            found = expression.program.run(leaves, _taken)
            values: Array = found if _is_column(found) else np.atleast_2d(np.asarray(found, dtype=np.float64))
    except FunctionError as error:
        if not error.function.plugin:
            raise _failed(expression, error) from error
        note(error.function.name, str(error))
        if failed is not None:
            failed.setdefault(error.function.name, str(error))
        unknown = np.nan if expression.nature == "number" else CANNOT_TELL
        return np.full((1, layout.count(expression.stations)), unknown)
    except Exception as error:
        raise _failed(expression, error) from error
    if expression.ends or expression.nature != "number":
        return values
    return np.where(np.isinf(values), np.nan, values) if np.isinf(values).any() else values


def _taken(call: Callable[..., Any], given: list[Any]) -> Any:
    return call(*given)


def _failed(expression: Expression, error: Exception) -> EvaluationError:
    return EvaluationError(f"{expression.text!r} cannot be evaluated: {type(error).__name__}: {error}")


def _is_column(values: Any) -> bool:
    return type(values) is np.ndarray and values.ndim == 2 and values.dtype == np.float64


def _read_only(values: Array) -> Array:
    if not _is_column(values):
        raise TypeError(f"a column is a float64 array of two dimensions, not {values.dtype} of {values.ndim}")
    if not values.flags.writeable:
        return values
    view = values.view()
    view.flags.writeable = False
    return view
