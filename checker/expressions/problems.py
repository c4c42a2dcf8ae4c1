"""Problems of an expression: what is wrong, and at which character."""

from __future__ import annotations

from checker.errors import Place, Problem


def fault(message: str, column: int = 1, hint: str = "") -> Problem:
    """A problem at a column of the expression, counted from 1."""
    return Problem(message, Place("expression", 1, column), hint)
