"""What the limits of a rule are for a use and the facts at hand: in numbers where they can be, without a record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from checker.checking.book import Book
from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import Column
from checker.expressions.truth import FALSE, TRUE
from checker.findings.display import shown_in
from checker.frozen import FrozenMapping
from checker.given import Given
from checker.judging.block import Block
from checker.judging.effective import effective_limits
from checker.judging.measures import measure
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.limit_set import POSITIONS, STATED, Candidate, CompiledEntry
from checker.packs.limit_words import bare_words
from checker.packs.limits import ANY, PHYSICS
from checker.packs.titles import Titles
from checker.units.units import Unit

NOT_KNOWN = "not known"
"""Stands among the choices of a fact where a limit asks whether it is known at all."""

MOST_OPEN_FACTS = 3
"""How many facts are tried out together; beyond that their conditions are told in words."""


class RuleLimit(NamedTuple):
    """One limit: one side ("low", "high", or "broken" for a demand) of the band "must", "should" or "physics".

    `value` is in the unit of its RuleLimits; it is None for a demand, while what it `needs` is not given, and where it
    hangs on how many stations there are. `words`
    are for people: "0.0244 in" where there is a value, else what the pack wrote. The pack's line, `origin`, states it
    for the use `application` ("any" for every use) under the condition `when`, empty for none. `needs` names also what
    decides whether it counts at all.
    """

    band: str
    side: str
    value: float | None
    words: str
    application: str
    when: str
    basis_kind: str
    basis: str
    origin: str
    needs: tuple[str, ...] = ()


class LimitVariant(NamedTuple):
    """Limits that count together: for these choices of facts that were not given, and under a condition.

    Both are empty for limits that count whatever else is known. A condition is told as the pack words it where it
    hangs on measurements or on many facts.
    """

    facts: Mapping[str, tuple[str, ...]]
    condition: str
    limits: tuple[RuleLimit, ...]


class RuleLimits(NamedTuple):
    """The limits of one rule for one use.

    `unit` names the unit of every value. Where the rule does not judge this use or these facts, `not_applicable` says
    why, and there are no variants. `applies_when` are conditions of the whole rule that what is given does not settle.
    `needed` names the characteristics on which limits hang and that were not given. `part_sheet` is what a maker's
    sheet in the packs asks for: where it is for the use it counts in place of the variants, physics excepted.
    """

    rule: str
    title: str
    application: str
    stations: str | None
    before: str
    unit: str
    not_applicable: str = ""
    applies_when: tuple[str, ...] = ()
    variants: tuple[LimitVariant, ...] = ()
    needed: tuple[str, ...] = ()
    part_sheet: str = ""


def limits_of(book: Book, rule: CompiledRule, application: str, given: Given) -> RuleLimits:
    """The limits of a rule that count for a use; raises UsageError for an unknown use."""
    asked = _Asked(book, rule, book.chain(application), given)
    stated = rule.rule
    limits = RuleLimits(
        rule.name,
        stated.title,
        application,
        rule.stations,
        stated.before,
        asked.unit.name,
        part_sheet=_part_sheet(book, rule),
    )
    reason = asked.not_applicable
    if reason:
        return limits._replace(not_applicable=reason)
    variants = asked.variants()
    needs = (name for variant in variants for limit in variant.limits for name in limit.needs)
    choices = (name for variant in variants for name in variant.facts)
    needed = tuple(dict.fromkeys((*choices, *needs)))
    return limits._replace(applies_when=asked.applies_when, variants=variants, needed=needed)


def _part_sheet(book: Book, rule: CompiledRule) -> str:
    """What a maker's sheet in the packs asks for of what a rule judges, or the rule whose limits it takes."""
    rules, sheets = book.layered.rules, book.layered.part_limits
    lender = rules.get(rules[rule.name].lender or "")
    judged = ("", "") if rule.is_demand else (rule.judges.characteristic or "", lender.judges if lender else "")
    return next((sheets[name].words for name in judged if name in sheets), "")


@dataclass(frozen=True)
class _Asked:
    """One rule for one use, and what is known or taken to be."""

    book: Book
    rule: CompiledRule
    chain: tuple[str, ...]
    given: Given
    not_known: frozenset[str] = frozenset()

    @cached_property
    def block(self) -> Block:
        return self.given.block(self.book, self.not_known)

    @property
    def unit(self) -> Unit:
        return shown_in(self.rule.unit, self.given.units)

    @cached_property
    def not_applicable(self) -> str:
        """Why the rule does not judge this; empty when it may."""
        return self.rule.why_not(self.chain, self._truth, Titles(self.book.layered).said)

    @property
    def applies_when(self) -> tuple[str, ...]:
        asked = (("when", self.rule.when, TRUE), ("unless", self.rule.unless, FALSE))
        return tuple(
            f"{word} {condition.text}"
            for word, condition, settled in asked
            if condition is not None and self._truth(condition) != settled
        )

    def _truth(self, condition: Expression) -> float:
        return float(self.block.evaluate(condition)[0, 0])

    def variants(self, depth: int = MOST_OPEN_FACTS) -> tuple[LimitVariant, ...]:
        """The limits for each choice of the facts they hang on; choices with the same limits stand together."""
        if self.not_applicable:
            return ()
        fact = next(self._open_facts(), None) if depth else None
        if fact is None:
            return tuple(self._settled())
        by_limits: list[tuple[list[str], tuple[LimitVariant, ...]]] = []
        for choice, asked in self._with_each(fact):
            variants = asked.variants(depth - 1)
            alike = next((choices for choices, others in by_limits if others == variants), None)
            if alike is None:
                by_limits.append(([choice], variants))
            else:
                alike.append(choice)
        if len(by_limits) == 1:
            return by_limits[0][1]
        return tuple(
            variant._replace(facts=FrozenMapping({fact.name: tuple(choices), **variant.facts}))
            for choices, variants in by_limits
            for variant in variants or (LimitVariant(FrozenMapping(), "", ()),)
        )

    def _open_conditions(self) -> Iterator[Expression]:
        for band, side in STATED:
            for candidate in self.rule.limits.candidates(self.chain, band, side):
                truth = TRUE if candidate.when is None else self._truth(candidate.when)
                if truth == TRUE and band != PHYSICS:
                    break
                if truth not in (TRUE, FALSE) and candidate.when is not None:
                    yield candidate.when

    def _open_facts(self) -> Iterator[CompiledCharacteristic]:
        behind_conditions = (column.name for condition in self._open_conditions() for column in condition.columns)
        behind_values = (name for candidate in self._counting() for name in self._missing(candidate))
        for name in (*behind_conditions, *behind_values):
            item = self.book.characteristics[name]
            is_open = item.characteristic.choices and name not in self.not_known
            if is_open and self._is_missing(Column(name, at=item.characteristic.per)):
                yield item

    def _with_each(self, fact: CompiledCharacteristic) -> Iterator[tuple[str, _Asked]]:
        for number, choice in enumerate(fact.characteristic.choices):
            known = Given({**self.given.values, fact.name: float(number)}, self.given.units)
            yield choice, _Asked(self.book, self.rule, self.chain, known, self.not_known)
        columns = (column for condition in self._open_conditions() for column in condition.columns)
        if any(column.name == fact.name and column.view.startswith(KNOWN) for column in columns):
            yield NOT_KNOWN, _Asked(self.book, self.rule, self.chain, self.given, self.not_known | {fact.name})

    def _settled(self) -> Iterator[LimitVariant]:
        for condition, candidates in self._effective.items():
            yield LimitVariant(FrozenMapping(), condition, tuple(map(self._told, candidates)))

    @cached_property
    def _effective(self) -> Mapping[str, Sequence[Candidate]]:
        return effective_limits(self.rule, self.chain, self.block)

    def _counting(self) -> Iterator[Candidate]:
        return (candidate for candidates in self._effective.values() for candidate in candidates)

    def _told(self, candidate: Candidate) -> RuleLimit:
        bound, unit = candidate.bound, self.unit
        limit = bound.limit
        value = self._amount(candidate)
        basis = limit.basis or self.rule.rule.basis
        return RuleLimit(
            band=limit.band,
            side=limit.side,
            value=None if value is None else unit.from_si(value),
            words=bare_words(bound, self.rule) if value is None else write_quantity(value, unit),
            application=candidate.stated.application,
            when="" if candidate.stated.when is None else candidate.stated.when.text,
            basis_kind="" if basis is None else basis.kind,
            basis="" if basis is None else str(basis),
            origin=str(limit.origin),
            needs=tuple(dict.fromkeys((*self._undecided(candidate), *self._missing(candidate)))),
        )

    def _undecided(self, candidate: Candidate) -> Iterator[str]:
        """What decides whether a limit counts and is not known."""
        if candidate.when is not None and self._truth(candidate.when) != TRUE:
            yield from (column.name for column in candidate.when.columns if self._is_missing(column))

    def _amount(self, candidate: Candidate) -> float | None:
        """A limit in SI, where what is known decides it, however many stations there are."""
        if self.rule.is_demand:
            return None
        value, of_more = (self._on(block, candidate) for block in (self.block, self._larger_block))
        return value if np.isfinite(value) and np.isclose(value, of_more, rtol=1e-9, atol=0.0) else None

    @cached_property
    def _larger_block(self) -> Block:
        """The same with more stations: what comes out differently there hangs on their number."""
        return self.given.block(self.book, self.not_known, branching=2)

    def _on(self, block: Block, candidate: Candidate) -> float:
        alone = CompiledEntry(ANY, None, (candidate.bound,))
        limits = measure(self.rule, block, (), limits=self.rule.limits.with_entries([alone])).limits
        limit = candidate.bound.limit
        band = "must" if limit.band == PHYSICS else limit.band
        return float(limits[POSITIONS.index((band, limit.side)), 0, 0])

    def _missing(self, candidate: Candidate) -> Iterator[str]:
        """What a limit is computed from and is not known."""
        bound = candidate.bound
        size = self.rule.per_unit_of if bound.is_ratio else None
        behind = (
            []
            if self.rule.is_demand
            else [expression for expression in (bound.expression, size) if expression is not None]
        )
        for column in (column for expression in behind for column in expression.columns):
            if self._is_missing(column):
                yield from self._facts_behind(column.name) or [column.name]

    def _facts_behind(self, name: str) -> list[str]:
        """The facts that a missing value follows from, where it follows from facts alone that are not given."""
        derived = self.book.characteristics[name].derived
        missing = [] if derived is None else [column for column in derived.columns if self._is_missing(column)]
        are_facts = all(self.book.characteristics[column.name].characteristic.choices for column in missing)
        return [column.name for column in missing] if are_facts else []

    def _is_missing(self, column: Column) -> bool:
        return bool(np.isnan(self.block.fetch(column)).any())
