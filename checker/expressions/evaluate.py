"""Evaluating checked expressions on arrays: the only place that uses asteval.

asteval executes; it guards nothing. What reaches it is a tree that syntax.py has let through and
parts.py has rebuilt from calls, sums, products and powers of columns and constants.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Callable
from typing import Any

import asteval  # type: ignore[import-untyped]
import numpy as np
from asteval.asteval import ALL_NODES  # type: ignore[import-untyped]

from checker.expressions.expression import Column, Expression
from checker.expressions.faults import note
from checker.expressions.functions import FunctionError
from checker.expressions.stations import Layout, grouping
from checker.expressions.truth import CANNOT_TELL, Array

_NODES_USED = frozenset({"binop", "call", "constant", "name"})


class EvaluationError(Exception):
    """An expression that passed every check cannot be evaluated: a fault of a function, or of this program."""


def evaluate(expression: Expression, fetch: Callable[[Column], Array], layout: Layout) -> Array:
    """The values of an expression, of shape (rows, stations); (1, 1) when it reads no column.

    `fetch` gives a column as float64 of shape (rows, stations of `column.at`, or 1), NaN where a value is missing or
    refused; a choice as its position among the choices; a truth as 1 or 0. The result is NaN where it cannot be
    told, infinite where a table does not cover it, else finite; a truth is never either. Where a function of a plugin
    fails, nothing can be told, and the failure is noted.
    """
    if expression.column is not None:
        return _read_only(fetch(expression.column))
    symbols: dict[str, Any] = {f"f{number}": call for number, call in enumerate(expression.calls)}
    for number, column in enumerate(expression.columns):
        symbols[f"c{number}"] = _read_only(fetch(column))
    for number, (child, parent) in enumerate(expression.groups):
        symbols[f"g{number}"] = grouping(layout, child, parent)
    with np.errstate(all="ignore"):
        try:
            found = _run(expression, symbols)
        except FunctionError as error:
            note(error.function.name, str(error))
            unknown = np.nan if expression.nature == "number" else CANNOT_TELL
            return np.full((1, layout.count(expression.stations)), unknown)
    if expression.ends or expression.nature != "number":
        return found
    return np.where(np.isinf(found), np.nan, found) if np.isinf(found).any() else found


def _read_only(values: Array) -> Array:
    if values.dtype != np.float64 or values.ndim != 2:
        raise TypeError(f"a column is a float64 array of two dimensions, not {values.dtype} of {values.ndim}")
    if not values.flags.writeable:
        return values
    view = values.view()
    view.flags.writeable = False
    return view


def _run(expression: Expression, symbols: dict[str, Any]) -> Array:
    interpreter = _interpreter()
    interpreter.symtable = symbols
    # Without a text here, asteval swallows errors.
    interpreter.expr = expression.text
    try:
        found = interpreter.run(expression.tree, with_raise=True)
    except Exception as error:
        _threads.interpreter = None
        if (failed := _of_a_plugin(error)) is not None:
            raise failed from None
        cause = _cause(error)
        if not isinstance(cause, Exception):
            raise cause from None
        raise EvaluationError(f"{expression.text!r} cannot be evaluated: {type(cause).__name__}: {cause}") from error
    interpreter.symtable = {}
    if interpreter.error or not isinstance(found, (np.ndarray, np.float64)):
        _threads.interpreter = None
        raise EvaluationError(f"{expression.text!r} gave no value")
    return np.atleast_2d(np.asarray(found, dtype=np.float64))


def _cause(error: BaseException) -> BaseException:
    """The error where it arose: asteval's own text contains whole arrays, and it hides an interruption."""
    while error.__context__ is not None:
        error = error.__context__
    return error


def _of_a_plugin(error: BaseException | None) -> FunctionError | None:
    """The failure of a plugin's function behind an error, if that is what it is."""
    while error is not None:
        if isinstance(error, FunctionError) and error.function.plugin:
            return error
        error = error.__context__
    return None


class _Threads(threading.local):
    """One interpreter per thread, for it keeps its state in itself."""

    interpreter: asteval.Interpreter | None = None


_threads = _Threads()


def _interpreter() -> asteval.Interpreter:
    if _threads.interpreter is None:
        _threads.interpreter = asteval.Interpreter(
            symtable={},
            use_numpy=False,
            minimal=True,
            builtins_readonly=True,
            config={node: node in _NODES_USED for node in ALL_NODES},
            writer=io.StringIO(),
            err_writer=io.StringIO(),
        )
    return _threads.interpreter
