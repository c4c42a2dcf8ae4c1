"""Problems of an expression: what is wrong, and at which character."""

from __future__ import annotations

from checker.errors import CheckerError, Place, Problem


def fault(message: str, column: int = 1, hint: str = "") -> Problem:
    """A problem at a column of the expression, counted from 1."""
    return Problem(message, Place("expression", 1, column), hint)


class ExpressionError(CheckerError):
    """An expression cannot be used; each problem's place gives its column in the text."""

    def placed(self, text: str, place: Place) -> tuple[Problem, ...]:
        """The problems where the expression stands in a file."""
        return tuple(
            Problem(f"{problem.message}, at character {_column(problem)} of {text!r}", place, problem.hint)
            for problem in self.problems
        )


def _column(problem: Problem) -> int:
    return problem.place.column or 1 if problem.place else 1
