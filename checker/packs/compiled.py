"""Rules ready for judging: expressions checked, limits in SI."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from checker.errors import Place
from checker.expressions.expression import Expression
from checker.expressions.names import MEASURED, VALUE
from checker.expressions.truth import FALSE, TRUE, Array, Numbers, greatest_equal, least_equal
from checker.frozen import Applied
from checker.notation.vocabulary import PLAIN, Notation
from checker.packs.characteristic import Characteristic
from checker.packs.limit_set import LimitSet
from checker.packs.rule import Rule
from checker.units.units import Unit


class Inputs(NamedTuple):
    """Names of characteristics; those in `across` are compared or summed over stations somewhere on the way.

    `named` are the names of all that the expressions on the way name, functions among them. Of those in `viewed`
    something else than their value counts as well, such as whether there is one at all. Those in `computed` count where
    they were not measured too. Whether anything on the way `bends`: leaves a straight line, or may come out either way.
    """

    names: frozenset[str]
    across: frozenset[str]
    named: frozenset[str] = frozenset()
    viewed: frozenset[str] = frozenset()
    computed: frozenset[str] = frozenset()
    bends: bool = True


NO_INPUTS = Inputs(frozenset(), frozenset(), bends=False)


def _known(found: Any, _: object) -> Any:
    """What is known already, where else it would be compiled."""
    return found


_NOT_DERIVED = Applied(_known, (None,))
_RESTS_ON_NOTHING = Applied(_known, (NO_INPUTS,))


class Phrase(NamedTuple):
    """A remedy's words with computed amounts between them; whether what they say cannot be undone."""

    parts: tuple[str | tuple[Expression, Unit], ...]
    is_irreversible: bool = False


@dataclass(frozen=True, eq=False, repr=False)
class CompiledCharacteristic:
    """A characteristic with its unit and its plausible range in SI; its derivation is compiled when first asked for.

    `usual_uncertainty` is expanded, zero where no pack states one. `agrees_within` is how far a value measured and the
    same computed may be apart; where it is missing, what is measured counts alone.
    """

    characteristic: Characteristic
    unit: Unit | None
    low: float
    high: float
    usual_uncertainty: float = 0.0
    agrees_within: float | None = None
    notation: Notation = PLAIN
    _derive: Callable[[CompiledCharacteristic], Expression | None] = _NOT_DERIVED
    _inputs: Callable[[CompiledCharacteristic], Inputs] = _RESTS_ON_NOTHING

    @cached_property
    def derived(self) -> Expression | None:
        """How it is computed where it was not measured."""
        return self._derive(self)

    @cached_property
    def inputs(self) -> Inputs:
        """All that it is derived from, however far down."""
        return self._inputs(self)

    def __repr__(self) -> str:
        return f"<CompiledCharacteristic {self.name}>"

    def __reduce__(self) -> tuple[Any, ...]:
        kept = (getattr(self, each.name) for each in fields(self)[:-2])
        return CompiledCharacteristic, (*kept, Applied(_known, (self.derived,)), Applied(_known, (self.inputs,)))

    @property
    def name(self) -> str:
        """Its name in packs and records; `characteristic` has its title, its stations and its choices."""
        return self.characteristic.name

    def allows(self, values: Array) -> npt.NDArray[np.bool_]:
        """Which values in SI lie in the plausible range; a missing one does not."""
        least, greatest = self._ends
        possible: npt.NDArray[np.bool_] = (values >= least) & (values <= greatest)
        return possible

    @cached_property
    def _ends(self) -> tuple[Numbers, Numbers]:
        return least_equal(self.low), greatest_equal(self.high)


def inputs_of(expressions: Iterable[Expression | None], items: Mapping[str, CompiledCharacteristic]) -> Inputs:
    """Everything that may bear on the values of expressions, from what is known of each thing that they name."""
    names, across, named, viewed, computed = (set[str]() for _ in range(5))
    bends = False
    for expression in expressions:
        if expression is None:
            continue
        named |= expression.names
        bends = bends or expression.bends
        for column in expression.columns:
            if column.view != VALUE:
                viewed.add(column.name)
            item = items.get(column.name)
            if item is None:
                continue
            names.add(column.name)
            if column in expression.across:
                across.add(column.name)
            if column.view == MEASURED:
                continue
            computed.add(column.name)
            below = item.inputs
            if not below.names and not below.named:
                continue
            names |= below.names
            named |= below.named
            viewed |= below.viewed
            computed |= below.computed
            across |= below.names if column in expression.across else below.across
            bends = bends or below.bends
    return Inputs(frozenset(names), frozenset(across), frozenset(named), frozenset(viewed), frozenset(computed), bends)


@dataclass(frozen=True, eq=False, repr=False)
class CompiledRule:
    """A rule whose expressions are checked; its words are compiled when first asked for.

    `rule` is what the packs say of it: its title, its system, its basis. `unit` is what its values are shown in.
    """

    rule: Rule
    judges: Expression
    unit: Unit
    is_demand: bool
    when: Expression | None
    unless: Expression | None
    occasion: Expression | None
    per_unit_of: Expression | None
    limits: LimitSet
    alternatives: tuple[LimitSet, ...]
    _compile_remedy: Callable[[CompiledRule], Mapping[str, Phrase]]

    @cached_property
    def remedy(self) -> Mapping[str, Phrase]:
        """What to do, by the side on which the value misses."""
        return self._compile_remedy(self)

    def __repr__(self) -> str:
        return f"<CompiledRule {self.name}>"

    def __reduce__(self) -> tuple[Any, ...]:
        kept = (getattr(self, each.name) for each in fields(self)[:-1])
        return CompiledRule, (*kept, Applied(_known, (self.remedy,)))

    def why_not(self, chain: Iterable[str], truth: Callable[[Expression], float], said: Callable[[str], str]) -> str:
        """Why it judges nothing for a use, its conditions having these truths and told so; empty where it may."""
        if reason := self.rule.why_not_for(chain):
            return reason
        if self.when is not None and truth(self.when) == FALSE:
            return f"applies only when {said(self.when.text)}"
        if self.unless is not None and truth(self.unless) == TRUE:
            return f"does not apply when {said(self.unless.text)}"
        return ""

    def expressions(self, chain: tuple[str, ...]) -> Iterator[Expression]:
        """All that judging for an application evaluates, the value that it judges first."""
        yield from filter(None, (self.judges, self.when, self.unless, self.per_unit_of))
        for candidate in self.limits.every_candidate(chain):
            yield from filter(None, (candidate.when, candidate.bound.expression))

    @property
    def name(self) -> str:
        """Its name in packs."""
        return self.rule.name

    @property
    def place(self) -> Place:
        """Where it stands in its pack."""
        return self.rule.origin.place

    @property
    def stations(self) -> str | None:
        """The station set it judges at; none for the assembly."""
        return self.judges.stations
