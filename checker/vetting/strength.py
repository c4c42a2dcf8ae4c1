"""The strength of cases: what could change in a rule or a table without any case noticing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from checker.documents.document import Origin
from checker.errors import Place
from checker.expressions.compiling import compile_expression
from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.judging.block import Block
from checker.packs.compiled import CompiledRule, inputs_of
from checker.packs.figures import Table
from checker.packs.limit_set import Bound, CompiledEntry
from checker.packs.released import Standing
from checker.rulebook import Rulebook
from checker.vetting.case_runs import CaseGroup, failures_in

SHIFT = 0.2
"""A limit moved by this share of itself must make a case fail."""


@dataclass(frozen=True, slots=True)
class Weakness:
    """Something about a rule or table that its author should look at."""

    name: str
    message: str
    place: Place

    def __str__(self) -> str:
        return f"{self.place.file}:{self.place.line}: {self.name}: {self.message}"


@dataclass(frozen=True, slots=True)
class Change:
    """A rule with one thing changed, in words and where that thing is stated."""

    words: str
    origin: Origin
    rule: CompiledRule


def unnoticed(
    rule: CompiledRule, groups: Sequence[CaseGroup], scope: Scope, packs: frozenset[str]
) -> Iterator[Weakness]:
    """The changes to what these packs state in a rule that none of its cases notices."""
    if not groups and rule.rule.origin.pack in packs:
        yield Weakness(rule.name, "has no case at all", rule.place)
        return
    for change in changes_to(rule, scope):
        if change.origin.pack in packs and not _is_noticed(change.rule, groups):
            yield Weakness(rule.name, change.words, change.origin.place)


def unnoticed_rows(
    rulebook: Rulebook, groups: Mapping[str, Sequence[CaseGroup]], packs: frozenset[str]
) -> Iterator[Weakness]:
    """The rows of these packs' tables that can be moved by a fifth without any case noticing."""
    for table in rulebook.layered.tables.values():
        if table.origin.pack not in packs:
            continue
        users = [name for name in _users(rulebook, table) if name in groups]
        for words, changed in _moved_rows(table):
            other = _with_table(rulebook, changed)
            if not any(_is_noticed(other.rules[name], _on(other, groups[name])) for name in users):
                yield Weakness(table.name, words, table.origin.place)


def _is_noticed(changed: CompiledRule, groups: Sequence[CaseGroup]) -> bool:
    """Whether a case fails with a changed rule."""
    return any(next(failures_in(changed, group), None) for group in groups)


def changes_to(rule: CompiledRule, scope: Scope) -> Iterator[Change]:
    """The rule with each condition flipped, each limit moved both ways, each demand and each choice dropped."""
    for key, condition in (("when", rule.when), ("unless", rule.unless)):
        if condition is not None:
            flipped = {key: condition.negated()}
            yield Change(f"{key} {condition.text}: flipped", stated_by(rule, key), replace(rule, **flipped))  # type: ignore[arg-type]
    for number, entry in enumerate(rule.limits.entries):
        for words, origin, changed in _changes_to_entry(rule, entry, scope):
            yield Change(f"{entry.application}: {words}", origin, _with_entry(rule, number, changed))


def stating(rule: CompiledRule) -> frozenset[str]:
    """The packs that state a rule or amend it."""
    return frozenset((rule.rule.origin.pack, *(amendment.origin.pack for amendment in rule.rule.amended)))


def stated_by(rule: CompiledRule, key: str) -> Origin:
    """Who states a part of a rule: the last pack that amended it, else the rule's own."""
    amending = [amendment.origin for amendment in rule.rule.amended if key in amendment.changes]
    return amending[-1] if amending else rule.rule.origin


def _changes_to_entry(
    rule: CompiledRule, entry: CompiledEntry, scope: Scope
) -> Iterator[tuple[str, Origin, CompiledEntry]]:
    if entry.when is not None:
        words = f"when {entry.when.text}: flipped"
        yield words, entry.bounds[0].limit.origin, entry._replace(when=entry.when.negated())
    for bound in entry.bounds:
        limit = bound.limit
        for words, changed in _changes_to_bound(rule, bound, scope):
            if changed is not None and _is_behind_its_must(bound, entry) and _is_behind_its_must(changed, entry):
                continue  # nothing within the must meets it: before and after, the must alone is told
            others = (changed if other is bound else other for other in entry.bounds)
            kept = tuple(other for other in others if other is not None)
            yield f"{limit.band} {limit.side} {limit.written} {words}", limit.origin, entry._replace(bounds=kept)


def _changes_to_bound(rule: CompiledRule, bound: Bound, scope: Scope) -> Iterator[tuple[str, Bound | None]]:
    if bound.limit.side == "broken":
        yield "dropped", None
        for choice in bound.limit.choices:
            yield f"without {choice}", _without_choice(rule, bound, choice, scope)
        return
    for words, sign in (("raised", 1), ("lowered", -1)):
        moved = sign * _step(rule, bound) if bound.constant == 0.0 else None
        changed = bound._replace(factor=1 + sign * SHIFT) if moved is None else bound._replace(constant=moved)
        yield f"{words} by a fifth", changed


def _is_behind_its_must(bound: Bound, entry: CompiledEntry) -> bool:
    """Whether a recommendation asks for no more than the must beside it, so that it only takes the place of others."""
    for must in entry.bounds:
        is_beside = (must.limit.band, must.limit.side) == ("must", bound.limit.side) and must.is_ratio == bound.is_ratio
        if bound.limit.band == "should" and is_beside and bound.constant is not None and must.constant is not None:
            here, there = bound.constant * bound.factor, must.constant * must.factor
            return here <= there if bound.limit.side == "low" else here >= there
    return False


def _without_choice(rule: CompiledRule, bound: Bound, dropped: str, scope: Scope) -> Bound:
    judged = rule.rule.judges
    left = [f'{judged} is "{choice}"' for choice in bound.limit.choices if choice != dropped]
    return bound._replace(expression=compile_expression(" or ".join(left) or f'{judged} is not "{dropped}"', scope))


def _step(rule: CompiledRule, bound: Bound) -> float:
    """A fifth of something for a limit of zero: of the nearest other limit, else of what is plausible."""
    others = [
        abs(other.constant)
        for entry in rule.limits.entries
        for other in entry.bounds
        if other.constant and other.is_ratio == bound.is_ratio
    ]
    if others:
        return SHIFT * min(others)
    span = rule.judges.high - rule.judges.low
    return SHIFT * (span if math.isfinite(span) else 1.0)


def _with_entry(rule: CompiledRule, number: int, entry: CompiledEntry) -> CompiledRule:
    entries = tuple(entry if index == number else other for index, other in enumerate(rule.limits.entries))
    return replace(rule, limits=rule.limits.with_entries(entries))


def _moved_rows(table: Table) -> Iterator[tuple[str, Table]]:
    greatest = max(abs(y) for _, y in table.rows)
    for number, (x, y) in enumerate(table.rows):
        for words, sign in (("raised", 1), ("lowered", -1)):
            moved = (x, y + sign * SHIFT * (abs(y) or greatest or 1.0))
            rows = (*table.rows[:number], moved, *table.rows[number + 1 :])
            yield f"the row at {x:g}: {y:g} {words} by a fifth", table.with_rows(rows)


def _with_table(rulebook: Rulebook, changed: Table) -> Rulebook:
    """The same rules with one table changed; they have been checked, so each is compiled only when asked for."""
    packs = []
    for pack in rulebook.packs:
        tables = tuple(changed if table.name == changed.name else table for table in pack.tables)
        packs.append(pack._replace(tables=tables, standing=Standing.RELEASED))
    return Rulebook(packs, rulebook.plugins)


def _on(rulebook: Rulebook, groups: Sequence[CaseGroup]) -> list[CaseGroup]:
    """The same cases with values computed by another rulebook."""
    known = rulebook.characteristics
    return [
        replace(group, block=Block(known, group.block.layout, group.block.measured, group.block.views))
        for group in groups
    ]


def _users(rulebook: Rulebook, table: Table) -> list[str]:
    """The rules in which a table counts, directly or through derived values."""
    rules = ((rule.name, inputs_of(expressions_of(rule), rulebook.characteristics)) for rule in rulebook.rules.values())
    return [name for name, inputs in rules if table.name in inputs.named]


def expressions_of(rule: CompiledRule) -> Iterator[Expression]:
    """All by which a rule judges, for whatever use."""
    candidates = [rule.judges, rule.when, rule.unless, rule.per_unit_of]
    for entry in rule.limits.entries:
        candidates += [entry.when, *(bound.expression for bound in entry.bounds)]
    yield from (expression for expression in candidates if expression is not None)
