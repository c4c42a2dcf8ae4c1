"""What packs write as text, understood: quantities, units and expressions, and at its place what is wrong with them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import lru_cache

from checker.errors import Place, Problem
from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.expressions.plain_form import expression_of
from checker.expressions.problems import ExpressionError
from checker.notation.read import NotationError, read_quantity
from checker.units.units import UNITS, Unit, UnitError, unit

Where = Callable[[], Place]
"""Asked only when something is wrong there."""

NUMBER_AND_UNIT = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?) ?(.*)", re.ASCII)


def compile_at(text: str, scope: Scope, where: Where, problems: list[Problem]) -> Expression | None:
    """Compile an expression, once for each text; what is wrong with it is added to the problems."""

    def compiled() -> Expression:
        if (known := scope.known.get(text)) is not None:
            return expression_of(text, known, scope.functions)
        from checker.expressions.compiling import compile_expression  # of released packs all is known

        return compile_expression(text, scope)

    try:
        expression: Expression = scope.once(text, compiled)
    except ExpressionError as error:
        if text in scope.elsewhere:
            what, meant = scope.elsewhere[text]
            problems.append(Problem(f"{text!r} {what}", where(), meant))
        else:
            problems.extend(error.placed(text, where()))
        return None
    return expression


def unit_at(name: str, where: Where, problems: list[Problem]) -> Unit | None:
    """Look a unit up; an unknown one is added to the problems."""
    try:
        return unit(name)
    except UnitError as error:
        problems.append(Problem(str(error), where()))
        return None


@lru_cache(maxsize=4096)  # packs say 0 in many times
def exact_quantity(text: str, expected: Unit) -> float:
    """A quantity as packs write it, a number and a unit; raises NotationError.

    Unlike a reading it needs no guessing at what its writer meant: a sign is a sign.
    """
    plain = NUMBER_AND_UNIT.fullmatch(text)
    unit = UNITS.get(plain[2]) if plain else None
    if plain and unit and unit.kind == expected.kind:
        value = unit.to_si(float(plain[1]))
        if math.isinf(value):
            raise NotationError(f"{text!r} is no number that can be calculated with")
        return value
    written = read_quantity(text, expected, None)
    if len(written.spans) != 1 or written.spans[0].low != written.spans[0].high:
        raise NotationError(f"{text!r} is not one value")
    return written.spans[0].low
