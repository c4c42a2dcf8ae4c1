"""What an expression may name, and the columns of values it reads."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from checker.expressions.functions import FUNCTIONS, Function
from checker.frozen import FrozenMapping
from checker.units.dimensions import DIMENSIONLESS, Dimension

WORDS_OF_THE_LANGUAGE = frozenset({"if", "else", "and", "or", "not", "is", "where"})
"""What no expression may name."""

VALUE = "value"
"""The view of a characteristic that its plain name means."""
MEASURED = "measured"
COMPUTED = "computed"

OF_ITS_KIND = frozenset({VALUE, MEASURED, COMPUTED, "least_reading", "greatest_reading"})
"""The views that give a value of the characteristic itself: not how many readings there are, or how far apart."""


class Column(NamedTuple):
    """One column an expression reads: a view of a characteristic, at its own stations or at those lifted to."""

    name: str
    view: str = VALUE
    at: str | None = None


class Symbol(NamedTuple):
    """A characteristic as expressions see it; its plausible range is in SI, its dimension None for choices."""

    name: str
    dimension: Dimension | None
    stations: str | None
    low: float
    high: float
    choices: tuple[str, ...] = ()
    derived: bool = False
    series: bool = False


class Constant(NamedTuple):
    """A named number, in SI."""

    value: float
    dimension: Dimension


_NOTHING: Mapping[str, Any] = FrozenMapping()


@dataclass(frozen=True, slots=True)
class Scope:
    """Everything an expression may name besides units and pi; `parents` gives each station set's own parent.

    What is `unusable` is stated with a mistake of its own, and is not to be blamed once more where it is named.
    """

    symbols: Mapping[str, Symbol] = field(default_factory=FrozenMapping)
    parents: Mapping[str, str | None] = field(default_factory=FrozenMapping)
    functions: Mapping[str, Function] = field(default_factory=lambda: FUNCTIONS)
    constants: Mapping[str, Constant] = field(default_factory=FrozenMapping)
    unusable: Set[str] = frozenset()
    elsewhere: Mapping[str, tuple[str, str]] = field(default_factory=FrozenMapping)
    """Texts that mean something elsewhere, and are written for a characteristic by mistake: what each is, and what was
    meant."""
    of: str = ""
    """What it is the scope of, where some names mean something there that they do not mean everywhere."""
    programs: Mapping[str, Mapping[str, Any]] = field(default_factory=FrozenMapping, repr=False, compare=False)
    """What texts compile to as far as that is known already, as in plain_form.py: by scope, then by text."""
    _compiled: dict[tuple[str, str], Any] = field(default_factory=dict, repr=False, compare=False)
    """What was compiled, by scope and text: one condition serves many limits."""

    @property
    def known(self) -> Mapping[str, Any]:
        """What is known of the texts of this scope."""
        return self.programs.get(self.of, _NOTHING)

    @property
    def compiled(self) -> Mapping[tuple[str, str], Any]:
        """What was compiled so far in this scope and in those within it."""
        return FrozenMapping(self._compiled)

    def within(self, of: str, symbols: Iterable[Symbol]) -> Scope:
        """A scope with more symbols."""
        return replace(self, of=of, symbols=FrozenMapping({**self.symbols, **{each.name: each for each in symbols}}))

    def with_choices(self, choices: Sequence[str]) -> Scope:
        """A scope in which the words of some choices stand for their positions."""
        symbols = {name: symbol for name, symbol in self.symbols.items() if name not in choices}
        positions = {choice: Constant(float(number), DIMENSIONLESS) for number, choice in enumerate(choices)}
        constants = FrozenMapping({**self.constants, **positions})
        return replace(self, of=", ".join(choices), symbols=FrozenMapping(symbols), constants=constants)

    def once(self, text: str, compiled: Callable[[], Any]) -> Any:
        """What was compiled from a text in this scope, or is now."""
        expression = self._compiled.get((self.of, text))
        if expression is None:
            expression = self._compiled[self.of, text] = compiled()
        return expression
