"""What an expression may name, and the columns of values it reads."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from checker.expressions.functions import FUNCTIONS, Function
from checker.frozen import FrozenMapping
from checker.units.dimensions import Dimension

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
    known: Mapping[str, Any] = field(default_factory=FrozenMapping, repr=False, compare=False)
    """What texts compile to in this scope, as far as that is known already: plain_form.py."""
    _compiled: dict[str, Any] = field(default_factory=dict, init=False, repr=False, compare=False)
    """What was compiled in this scope, by its text: one condition serves many limits."""

    @property
    def compiled(self) -> Mapping[str, Any]:
        """What was compiled in this scope so far, by its text."""
        return FrozenMapping(self._compiled)

    def naming(self, symbols: Mapping[str, Symbol], constants: Mapping[str, Constant] | None = None) -> Scope:
        """The scope with other names: in it texts may compile to something else."""
        named = self.constants if constants is None else constants
        return replace(self, symbols=symbols, constants=named, known=FrozenMapping())

    def once(self, text: str, compiled: Callable[[], Any]) -> Any:
        """What was compiled from a text in this scope, or is now."""
        expression = self._compiled.get(text)
        if expression is None:
            expression = self._compiled[text] = compiled()
        return expression
