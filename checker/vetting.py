"""Vetting rule packs: do the cases come out as stated, and would they notice if a limit moved?"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from checker.case_runs import CaseGroup, Failure, failures_in, group_cases
from checker.cases import read_cases
from checker.compiled import Bound, CompiledEntry, CompiledRule
from checker.errors import Place
from checker.rulebook import Rulebook

SHIFT = 0.2
"""A limit moved by this share of itself must make a case fail."""


@dataclass(frozen=True, slots=True)
class Unguarded:
    """A change to a rule that no case notices."""

    rule: str
    change: str
    place: Place

    def __str__(self) -> str:
        return f"{self.place.file}:{self.place.line}: {self.rule}: {self.change}"


@dataclass(frozen=True, slots=True)
class Vetting:
    """What vetting found."""

    cases: int
    failures: tuple[Failure, ...]
    unguarded: tuple[Unguarded, ...]

    @property
    def is_sound(self) -> bool:
        return not self.failures and not self.unguarded


def vet(rulebook: Rulebook) -> Vetting:
    """Run all cases of all packs of a rulebook, then move each limit and see whether a case notices.

    Raises PackError for cases that cannot be read.
    """
    cases = [case for pack in rulebook.packs for case in read_cases(pack) if case.rule not in rulebook.layered.retired]
    groups: dict[str, list[CaseGroup]] = defaultdict(list)
    for group in group_cases(rulebook, cases):
        groups[group.rule].append(group)
    failures = [
        failure
        for name, found in groups.items()
        for group in found
        for failure in failures_in(rulebook.rules[name], group)
    ]
    unguarded = [weak for rule in rulebook.rules.values() for weak in _unguarded(rule, groups.get(rule.name, []))]
    return Vetting(len(cases), tuple(failures), tuple(unguarded))


def _unguarded(rule: CompiledRule, groups: Sequence[CaseGroup]) -> Iterator[Unguarded]:
    for number, entry in enumerate(rule.limits.entries):
        for bound in entry.bounds:
            for words, moved in _moved(rule, entry, bound):
                changed = _with_entry(rule, number, moved)
                if not any(next(failures_in(changed, group), None) for group in groups):
                    limit = bound.limit
                    what = f"{entry.application}: {limit.band} {limit.side} {limit.written} {words}"
                    yield Unguarded(rule.name, what, limit.origin.place)


def _moved(rule: CompiledRule, entry: CompiledEntry, bound: Bound) -> Iterator[tuple[str, CompiledEntry]]:
    """The entry with one limit moved up, and down; a demand can only be dropped."""
    if bound.limit.side == "broken":
        yield "dropped", replace(entry, bounds=tuple(other for other in entry.bounds if other is not bound))
        return
    step = _step(rule, bound)
    for words, sign in (("raised", 1), ("lowered", -1)):
        if bound.constant == 0.0:
            changed = replace(bound, constant=sign * step)
        else:
            changed = replace(bound, factor=1 + sign * SHIFT)
        yield (
            f"{words} by a fifth",
            replace(entry, bounds=tuple(changed if other is bound else other for other in entry.bounds)),
        )


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
