"""What does not fit together in rule packs that load and whose cases pass."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np

from checker.block import Block
from checker.case_runs import CaseGroup
from checker.compiled import DEMANDS, POSITIONS, Bound, CompiledCharacteristic, CompiledRule
from checker.expressions import Expression
from checker.intervals import Interval
from checker.layout import Layout
from checker.names import VALUE
from checker.pack import Origin
from checker.rulebook import Rulebook
from checker.strength import Weakness, stated_by
from checker.truth import TRUE, Array

TRIALS = 2048
"""Made-up records on which a condition that no case meets is tried."""


def warnings_about(
    rulebook: Rulebook, groups: Mapping[str, Sequence[CaseGroup]], packs: frozenset[str]
) -> Iterator[Weakness]:
    """Warnings about what these packs state or amend, and about rules below for the applications they add."""
    trial = Trial(rulebook)
    for rule in rulebook.rules.values():
        is_ours = not packs.isdisjoint(_stating(rule))
        applications = [name for name in rulebook.applications if is_ours or _stated_in(rulebook, name, packs)]
        yield from _uncovered(rule, rulebook, applications)
        yield from _impossible_bands(rule, rulebook, applications)
        if is_ours:
            yield from _remedies(rule)
            yield from _never_met(rule, groups.get(rule.name, ()), trial)
    yield from _contradictions(rulebook, packs)


def _stating(rule: CompiledRule) -> set[str]:
    return {rule.rule.origin.pack, *(amendment.origin.pack for amendment in rule.rule.amended)}


def _stated_in(rulebook: Rulebook, application: str, packs: frozenset[str]) -> bool:
    return rulebook.layered.applications[application].origin.pack in packs


def _uncovered(rule: CompiledRule, rulebook: Rulebook, applications: Sequence[str]) -> Iterator[Weakness]:
    missing = []
    for name in applications:
        chain = rulebook.chain(name)
        stated = any(rule.limits.candidates(chain, band, side) for band, side in (*POSITIONS, *DEMANDS))
        if not stated and rule.rule.not_for.keys().isdisjoint(chain):
            missing.append(name)
    if missing:
        yield Weakness(rule.name, f"has no limit for {', '.join(missing)}", rule.place)


def _impossible_bands(rule: CompiledRule, rulebook: Rulebook, applications: Sequence[str]) -> Iterator[Weakness]:
    if rule.is_demand:
        return
    plausible = Interval(rule.judges.low, rule.judges.high)
    seen = set()
    for name in applications:
        bounds = _effective(rule, rulebook.chain(name))
        for low, high in ((low, high) for low in bounds for high in bounds if _sides(low, high) == ("low", "high")):
            if _range(low, rule).low > _range(high, rule).high:
                what = f"{name}: nothing lies between {_words(low)} and {_words(high)}"
                yield Weakness(rule.name, what, low.limit.origin.place)
        for bound in bounds:
            found = _range(bound, rule)
            beyond = found.low > plausible.high if bound.limit.side == "low" else found.high < plausible.low
            idle = found.high < plausible.low if bound.limit.side == "low" else found.low > plausible.high
            if (beyond or idle) and bound not in seen:
                seen.add(bound)
                what = "no plausible value reaches" if beyond else "every plausible value meets"
                yield Weakness(rule.name, f"{what} {_words(bound)}", bound.limit.origin.place)


def _effective(rule: CompiledRule, chain: tuple[str, ...]) -> list[Bound]:
    """The limits that count for an application whatever else is known."""
    found = (rule.limits.candidates(chain, band, side) for band, side in POSITIONS)
    return [candidates[0].bound for candidates in found if candidates and candidates[0].when is None]


def _sides(one: Bound, other: Bound) -> tuple[str, str]:
    return (one.limit.side, other.limit.side)


def _words(bound: Bound) -> str:
    return f"{bound.limit.band} {'at_least' if bound.limit.side == 'low' else 'at_most'} {bound.limit.written}"


def _range(bound: Bound, rule: CompiledRule) -> Interval:
    """Where a limit can lie, in SI."""
    if bound.expression is not None:
        return Interval(bound.expression.low, bound.expression.high)
    constant = bound.constant or 0.0
    if not bound.is_ratio or rule.per_unit_of is None:
        return Interval(constant, constant)
    ends = (constant * rule.per_unit_of.low, constant * rule.per_unit_of.high)
    return Interval(min(ends), max(ends))


def _remedies(rule: CompiledRule) -> Iterator[Weakness]:
    sides = {bound.limit.side: bound.limit for entry in rule.limits.entries for bound in entry.bounds}
    for side, limit in sides.items():
        if side not in rule.rule.remedies:
            yield Weakness(rule.name, f"has no remedy for {_side_words(side)}", limit.origin.place)
    for side in rule.rule.remedies:
        if side not in sides:
            place = rule.rule.places.get(f"remedy {side}", rule.place)
            yield Weakness(rule.name, f"has a remedy for {_side_words(side)}, but no such limit", place)


def _side_words(side: str) -> str:
    return side if side == "broken" else f"too {side}"


def _never_met(rule: CompiledRule, groups: Sequence[CaseGroup], trial: Trial) -> Iterator[Weakness]:
    """Conditions that neither a case nor any made-up record meets."""
    for condition, words, origin in _conditions(rule):
        blocks = (group.block for group in groups)
        if any((block.evaluate(condition) == TRUE).any() for block in blocks) or not trial.can_tell(condition):
            continue
        if not (trial.block.evaluate(condition) == TRUE).any():
            yield Weakness(rule.name, f"{words}: no record seems able to meet it", origin.place)


def _conditions(rule: CompiledRule) -> Iterator[tuple[Expression, str, Origin]]:
    if rule.when is not None:
        yield rule.when, f"when {rule.when.text}", stated_by(rule, "when")
    if rule.unless is not None:
        yield rule.unless.negated(), f"unless {rule.unless.text}", stated_by(rule, "unless")
    for entry in rule.limits.entries:
        if entry.when is not None and entry.bounds:
            yield entry.when, f"{entry.application}: when {entry.when.text}", entry.bounds[0].limit.origin


@dataclass(frozen=True)
class Trial:
    """Made-up records: every characteristic anywhere in its plausible range, at two stations of each kind."""

    rulebook: Rulebook

    def can_tell(self, condition: Expression) -> bool:
        """Whether the condition asks for nothing but values, which is all that is made up."""
        return all(column.view == VALUE for column in condition.columns)

    @cached_property
    def block(self) -> Block:
        """The records as a block."""
        parents = {name: stations.parent for name, stations in self.rulebook.layered.stations.items()}
        layout = Layout(dict.fromkeys(parents, 2), parents)
        random = np.random.default_rng(seed=1)
        values = {
            item.name: _made_up(item, layout.count(item.characteristic.per), random)
            for item in self.rulebook.characteristics.values()
        }
        return Block(self.rulebook.characteristics, layout, values)


def _made_up(item: CompiledCharacteristic, stations: int, random: np.random.Generator) -> Array:
    shape = (TRIALS, stations)
    if item.unit is None:
        values = random.integers(0, len(item.characteristic.choices), shape).astype(np.float64)
    else:
        values = item.low + (item.high - item.low) * np.clip(random.uniform(-0.2, 1.2, shape), 0.0, 1.0)
    missing = 0.5 if item.derived is not None else 0.1
    return np.where(random.uniform(size=shape) < missing, np.nan, values)


def _contradictions(rulebook: Rulebook, packs: frozenset[str]) -> Iterator[Weakness]:
    """Two rules that judge the same thing, and what one demands the other forbids."""
    by_subject: dict[str, list[CompiledRule]] = {}
    for rule in rulebook.rules.values():
        if not rule.is_demand:
            by_subject.setdefault(rule.judges.text.replace(" ", ""), []).append(rule)
    for rules in by_subject.values():
        for one, other in combinations(rules, 2):
            if not packs.isdisjoint(_stating(one) | _stating(other)) and _may_both_apply(one, other):
                yield from _contradiction(one, other, rulebook)


def _may_both_apply(one: CompiledRule, other: CompiledRule) -> bool:
    return one.rule.when == other.rule.when or None in (one.rule.when, other.rule.when)


def _contradiction(one: CompiledRule, other: CompiledRule, rulebook: Rulebook) -> Iterator[Weakness]:
    for name in rulebook.applications:
        chain = rulebook.chain(name)
        if not (one.rule.not_for.keys() | other.rule.not_for.keys()).isdisjoint(chain):
            continue
        for low_rule, high_rule in ((one, other), (other, one)):
            for low, high in (
                (low, high) for low in _effective(low_rule, chain) for high in _effective(high_rule, chain)
            ):
                if _sides(low, high) == ("low", "high") and _range(low, low_rule).low > _range(high, high_rule).high:
                    message = f"{name}: {_words(low)} contradicts {_words(high)} of {high_rule.name}"
                    yield Weakness(low_rule.name, message, low.limit.origin.place)
                    return
