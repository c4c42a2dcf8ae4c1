"""Rules ready for judging: expressions checked, limits in SI."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from checker.errors import Place
from checker.expressions.expression import Expression
from checker.expressions.truth import FALSE, TRUE, Array, Numbers, greatest_equal, least_equal
from checker.frozen import Applied
from checker.graph import NO_INPUTS, Inputs
from checker.notation.vocabulary import PLAIN, Notation
from checker.packs.characteristic import Characteristic
from checker.packs.limits import ANY, Basis, Entry, Limit
from checker.packs.rule import Rule
from checker.units.units import Unit

POSITIONS = (("must", "low"), ("should", "low"), ("should", "high"), ("must", "high"))
DEMANDS = (("must", "broken"), ("should", "broken"))
_ALWAYS = ""
"""Stands for the text of no condition."""


def _known(found: Any, _: object) -> Any:
    """What is known already, where else it would be compiled."""
    return found


_NOT_DERIVED = Applied(_known, (None,))
_RESTS_ON_NOTHING = Applied(_known, (NO_INPUTS,))


class Bound(NamedTuple):
    """One limit in SI: a constant, a ratio of the rule's size, an expression, or a truth that must hold.

    Vetting moves a limit by its factor.
    """

    limit: Limit
    constant: float | None = None
    is_ratio: bool = False
    expression: Expression | None = None
    factor: float = 1.0


class Candidate(NamedTuple):
    """A bound that counts when its condition holds; always, without one."""

    when: Expression | None
    bound: Bound


class CompiledEntry(NamedTuple):
    """The bounds stated for one application; as stated, unless they were made up."""

    application: str
    when: Expression | None
    bounds: tuple[Bound, ...]
    stated: Entry | None = None


class LimitSet:
    """All limits of a rule from one source; those of an application are compiled when first asked for."""

    def __init__(
        self,
        title: str,
        stated: Sequence[Entry],
        compile_entry: Callable[[Entry], CompiledEntry],
        basis: Basis | None = None,
    ) -> None:
        self.title = title
        self.basis = basis
        self._stated = tuple(stated)
        self._numbers: dict[str, list[int]] = {}
        for number, entry in enumerate(self._stated):
            self._numbers.setdefault(entry.application, []).append(number)
        self._compile = compile_entry
        self._compiled: dict[int, CompiledEntry] = {}
        self._candidates: dict[tuple[str, ...], Mapping[tuple[str, str], tuple[Candidate, ...]]] = {}

    @property
    def entries(self) -> tuple[CompiledEntry, ...]:
        """Every entry, compiled."""
        return tuple(self._entry(number) for number in range(len(self._stated)))

    @property
    def applications(self) -> frozenset[str]:
        """Those for which something is stated."""
        return frozenset(self._numbers)

    def with_entries(self, entries: Sequence[CompiledEntry]) -> LimitSet:
        """The same set with other limits."""
        stated = [entry.stated or self._stated[0]._replace(application=entry.application) for entry in entries]
        return _limit_set(self.title, entries, stated, self.basis)

    def __reduce__(self) -> tuple[Any, ...]:
        return _limit_set, (self.title, self.entries, self._stated, self.basis)

    def candidates(self, chain: tuple[str, ...], band: str, side: str) -> tuple[Candidate, ...]:
        """What may count at one position: nearest application first, up to the first that always counts."""
        found = self._candidates.get(chain)
        if found is None:
            found = self._candidates[chain] = self._nearest_first(chain)
        return found.get((band, side), ())

    def _nearest_first(self, chain: tuple[str, ...]) -> Mapping[tuple[str, str], tuple[Candidate, ...]]:
        stating: dict[tuple[str, str], list[tuple[int, Bound | None]]] = defaultdict(list)
        for number in (number for name in (*chain, ANY) for number in self._numbers.get(name, ())):
            for bound in self._entry(number).bounds:
                stating[bound.limit.band, bound.limit.side].append((number, bound))
            for removed in (limit for limit in self._stated[number].stated if limit.is_removed):
                stating[removed.band, removed.side].append((number, None))
        found: dict[tuple[str, str], dict[str, Candidate | None]] = defaultdict(dict)
        for position, stated in stating.items():
            nearer = found[position]
            for number, counting in self._upper_first(stated):
                when = self._entry(number).when
                condition = when.text if when is not None else _ALWAYS
                # A nearer limit counts under the same condition, or always; so does that there is none.
                if _ALWAYS not in nearer and condition not in nearer:
                    nearer[condition] = counting and Candidate(when, counting)
        return {position: tuple(filter(None, candidates.values())) for position, candidates in found.items()}

    def _upper_first(self, stated: Sequence[tuple[int, Bound | None]]) -> Iterator[tuple[int, Bound | None]]:
        """Nearest first, but what an upper pack states of any use before what those below it state of one."""
        every = [one for one in stated if self._stated[one[0]].application == ANY]
        for one in (one for one in stated if self._stated[one[0]].application != ANY):
            pack = self._stated[one[0]].origin.pack
            yield from (upper for upper in every if pack in self._stated[upper[0]].above)
            every = [other for other in every if pack not in self._stated[other[0]].above]
            yield one
        yield from every

    def _entry(self, number: int) -> CompiledEntry:
        found = self._compiled.get(number)
        if found is None:
            found = self._compiled[number] = self._compile(self._stated[number])
        return found


def _limit_set(title: str, entries: Sequence[CompiledEntry], stated: Sequence[Entry], basis: Basis | None) -> LimitSet:
    """Limits that are compiled already."""
    compiled = {id(entry): made for entry, made in zip(stated, entries, strict=True)}
    return LimitSet(title, stated, lambda entry: compiled[id(entry)], basis)


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
        return self.characteristic.name

    def allows(self, values: Array) -> npt.NDArray[np.bool_]:
        """Which values in SI lie in the plausible range; a missing one does not."""
        least, greatest = self._ends
        possible: npt.NDArray[np.bool_] = (values >= least) & (values <= greatest)
        return possible

    @cached_property
    def _ends(self) -> tuple[Numbers, Numbers]:
        return least_equal(self.low), greatest_equal(self.high)


@dataclass(frozen=True, eq=False, repr=False)
class CompiledRule:
    """A rule whose expressions are checked; its words are compiled when first asked for."""

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

    def why_not(self, chain: Iterable[str], truth: Callable[[Expression], float]) -> str:
        """Why it judges nothing for a use, where its conditions have these truths; empty where it may."""
        if reason := self.rule.why_not_for(chain):
            return reason
        if self.when is not None and truth(self.when) == FALSE:
            return f"applies only when {self.when.text}"
        if self.unless is not None and truth(self.unless) == TRUE:
            return f"does not apply when {self.unless.text}"
        return ""

    @property
    def name(self) -> str:
        return self.rule.name

    @property
    def place(self) -> Place:
        return self.rule.origin.place

    @property
    def stations(self) -> str | None:
        """The station set it judges at; none for the assembly."""
        return self.judges.stations
