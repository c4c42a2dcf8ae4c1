"""Vetting rule packs: do the cases come out as stated, would they notice a change, and does it all fit together?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from checker.errors import require
from checker.packs.case import Case
from checker.packs.cases import read_cases
from checker.packs.pack import foundations
from checker.rulebook import Rulebook
from checker.vetting.amendments import Effect, effects_in
from checker.vetting.case_runs import CaseGroup, Failure, failures_in, group_cases
from checker.vetting.strength import Weakness, stating, unnoticed, unnoticed_rows
from checker.vetting.warnings import warnings_about

Groups = Mapping[str, list[CaseGroup]]


@dataclass(frozen=True, slots=True)
class Vetting:
    """What vetting found; `overruled` counts cases of packs below whose rule a pack above has amended.

    `effects` says of every amendment what it changes.
    """

    cases: int
    overruled: int
    failures: tuple[Failure, ...]
    unguarded: tuple[Weakness, ...]
    warnings: tuple[Weakness, ...]
    effects: tuple[Effect, ...]

    @property
    def is_sound(self) -> bool:
        """Whether every case comes out as stated and every change is noticed; warnings are advice."""
        return not self.failures and not self.unguarded


def vet(
    rulebook: Rulebook, packs: Collection[str] | None = None, step: Callable[[str], None] = lambda text: None
) -> Vetting:
    """Run all cases of all packs of a rulebook; then judge the strength of the cases and the sense of the rules.

    Only what the named packs state is looked at, all when none are named; what they build on is theirs to answer for:
    the cases of a released pack held when it was released, and are run again only for the rules that a named pack
    amends. `step` is told how far it has come. Raises PackError for cases that cannot be read.
    """
    require(rulebook, 'load it first, as in load_rulebook("our-shop")', Rulebook)
    ours = frozenset(pack.name for pack in rulebook.packs if packs is None or pack.name in packs)
    every = list(_cases(rulebook, ours))
    groups = _groups(rulebook, every)
    failures = [
        failure
        for name, of_rule in groups.items()
        for group in of_rule
        for failure in failures_in(rulebook.rules[name], group)
    ]
    overruled = {id(failure.case): failure.case for failure in failures if _is_overruled(failure.case, rulebook)}
    amended = {case.rule for case in overruled.values()}
    left = [case for case in every if case.rule in amended and id(case) not in overruled]
    groups = {**{name: kept for name, kept in groups.items() if name not in amended}, **_groups(rulebook, left)}
    unguarded: list[Weakness] = []
    for number, rule in enumerate(rulebook.rules.values(), 1):
        step(f"{number} of {len(rulebook.rules)} rules")
        unguarded += unnoticed(rule, groups.get(rule.name, []), rulebook.scope, ours)
    unguarded += unnoticed_rows(rulebook, groups, ours)
    return Vetting(
        cases=len(every) - len(overruled),
        overruled=len(overruled),
        failures=tuple(failure for failure in failures if id(failure.case) not in overruled),
        unguarded=tuple(unguarded),
        warnings=tuple(warnings_about(rulebook, groups, ours)),
        effects=tuple(effects_in(rulebook, ours)),
    )


def _cases(rulebook: Rulebook, ours: frozenset[str]) -> Iterator[Case]:
    """The cases that could come out otherwise than when their own pack was vetted."""
    touched = frozenset(name for name, rule in rulebook.rules.items() if not ours.isdisjoint(stating(rule)))
    for pack in rulebook.packs:
        is_vetted = pack.is_released and pack.name not in ours
        for case in read_cases(pack, touched if is_vetted else None):
            if case.rule not in rulebook.layered.retired:
                yield case


def _groups(rulebook: Rulebook, cases: Iterable[Case]) -> Groups:
    groups: dict[str, list[CaseGroup]] = defaultdict(list)
    for group in group_cases(rulebook, cases):
        groups[group.rule].append(group)
    return groups


def _is_overruled(case: Case, rulebook: Rulebook) -> bool:
    """Whether a pack that the case's own pack knows nothing of has amended its rule."""
    packs = {pack.name: pack for pack in rulebook.packs}
    known = foundations(packs[case.origin.pack], packs) | {case.origin.pack}
    return any(amendment.origin.pack not in known for amendment in rulebook.rules[case.rule].rule.amended)
