"""A rule on its way from words to checked expressions: what all its parts are compiled with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from checker.documents.document import Origin
from checker.errors import PackError, Place, Problem
from checker.expressions.expression import Expression
from checker.expressions.names import Scope, Symbol
from checker.graph import lineage
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.rule import Rule
from checker.packs.texts import Where, compile_at
from checker.units.dimensions import describe

_Made = TypeVar("_Made")


@dataclass(slots=True)
class Unfinished:
    """One rule on its way; problems collect as they are found."""

    rule: Rule
    scope: Scope
    characteristics: Mapping[str, CompiledCharacteristic]
    is_strict: bool
    problems: list[Problem] = field(default_factory=list)

    def sound(self, made: _Made) -> _Made:
        """What was compiled late; a limit that turns out wrong only then must not be left out in silence."""
        if self.problems and not self.is_strict:
            raise PackError(self.problems)
        return made

    def fault(self, message: str, place: Place, hint: str = "") -> None:
        self.problems.append(Problem(message, place, hint))

    def where(self, *steps: str) -> Where:
        return lambda: self.rule.place(*steps)

    def stands(self, origin: Origin) -> Place:
        """Where a limit stands for this rule: what another lends, where that is named."""
        return origin.place if origin.path[1] == self.rule.name else self.rule.place("limits_of")

    def expression(self, key: str, text: str) -> Expression | None:
        return compile_at(text, self.scope, self.where(key), self.problems)

    def condition(self, text: str | None, where: Where) -> Expression | None:
        if text is None:
            return None
        found = compile_at(text, self.scope, where, self.problems)
        if found is not None and found.nature != "truth":
            self.fault(f"{text!r} is not a condition", where())
        return found

    def check_stations(self, expression: Expression | None, judges: Expression, where: Where) -> None:
        """A limit or condition must be known at the stations judged, or at those they belong to."""
        if expression is None or expression.stations is None:
            return
        if not set(expression.neighbours) <= set(judges.neighbours):
            hint = "name the neighbour in what is judged, or in a reduction"
            self.fault(f"{expression.text!r} has no value at the end of a line", where(), hint)
        if expression.stations not in lineage(judges.stations, self.scope.parents):
            self.fault(f"{expression.text!r} differs by {expression.stations}, what is judged does not", where())

    def scope_of(self, judges: Expression, *names: str) -> Scope:
        """The scope with names for more values of the kind that is judged."""
        kind = judges.dimension, judges.stations, judges.low, judges.high
        return self.scope.within(f"{', '.join(names)} of {judges.text}", (Symbol(name, *kind) for name in names))


def told(expression: Expression) -> str:
    """What an expression gives, in words."""
    return expression.nature if expression.dimension is None else describe(expression.dimension)
