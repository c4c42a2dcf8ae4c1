"""What is asked for: the inspection level of a use, and the control plans of packs."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import NamedTuple

from checker.errors import Place, Problem, UsageError, nearest
from checker.frozen import FrozenMapping
from checker.packs.application import ControlPlan
from checker.packs.layers import Layered
from checker.packs.rule import ALWAYS, EACH, Rule

ONE = "one"
"""The sample of a rule for which one station is enough; "one per bank" is one of those that belong to each bank."""
_ONE_PER = "one per "
_FEW_SYSTEMS = 3


class LeftOut(NamedTuple):
    """Why a control plan does not ask for a rule, and whose plan it is."""

    pack: str
    because: str

    def __str__(self) -> str:
        return f"left out by pack {self.pack}: {self.because.removesuffix('.')}"


class Plan(NamedTuple):
    """Which rules are asked for: those of the levels up to one, and what control plans add and leave out.

    Without levels every rule is asked for. `named` are the rules that a control plan asks for by name, at any level. A
    job on a part of an assembly has a `scope`: of other systems than these nothing is asked; it has none where all is.
    """

    level: str = ""
    title: str = ""
    reached: frozenset[str] = frozenset()
    named: frozenset[str] = frozenset()
    left_out: Mapping[str, LeftOut] = FrozenMapping({})
    scope: tuple[str, ...] = ()

    def asks(self, rule: Rule) -> bool:
        """Whether it asks for a rule at all, whatever the occasion."""
        if rule.name in self.left_out or not self._covers(rule):
            return False
        return rule.name in self.named or rule.inspection.level is None or rule.inspection.level in self.reached

    def why_not(self, rule: Rule) -> str:
        """Why it does not ask for a rule, in words; empty where it does."""
        if self.asks(rule):
            return ""
        if not self._covers(rule):
            return f"{rule.system}: no part of the job"
        left_out = self.left_out.get(rule.name)
        return (
            str(left_out) if left_out else f"asked from level {rule.inspection.level} on, judged at level {self.level}"
        )

    def _covers(self, rule: Rule) -> bool:
        return not self.scope or rule.system in self.scope

    @property
    def scope_words(self) -> str:
        """The systems of the job as a sentence has them: by their names, or their number."""
        return " and ".join(self.scope) if len(self.scope) <= _FEW_SYSTEMS else f"{len(self.scope)} systems"

    def __str__(self) -> str:
        return f"level {self.level}" if self.level else "these packs"


EVERYTHING = Plan()


def plan_for(layered: Layered, chain: tuple[str, ...], level: str | None = None) -> Plan:
    """What is asked for at a level, else at that of the application or those it is like, else at the lowest.

    Raises UsageError for an unknown level.
    """
    levels = list(layered.inspection_levels)
    stated = (layered.applications[name].inspection for name in chain)
    wanted = level or next(filter(None, stated), levels[0] if levels else "")
    if wanted and wanted not in levels:
        hint = nearest(wanted, levels) or f"known: {', '.join(levels) or 'none'}"
        raise UsageError(Problem(f"no inspection level {wanted!r}", hint=hint))
    reached = levels[: levels.index(wanted) + 1] if wanted else levels
    return Plan(
        level=wanted,
        title=layered.inspection_levels[wanted].title if wanted else "",
        reached=frozenset(reached),
        named=frozenset(name for plan in layered.control_plans for name in plan.asks),
        left_out=FrozenMapping(_left_out(layered)),
    )


def with_scope(plan: Plan, scope: Sequence[str], layered: Layered) -> Plan:
    """The same for a job on the systems that are called so, see systems_called.

    Raises UsageError naming every word by which none is called.
    """
    if not scope:
        return plan
    systems = tuple(dict.fromkeys(rule.system for rule in layered.rules.values()))
    called: set[str] = set()
    problems: list[Problem] = []
    for asked in scope:
        try:
            called |= systems_called(asked, systems)
        except UsageError as error:
            problems += error.problems
    if problems:
        raise UsageError(problems)
    return plan._replace(scope=tuple(name for name in systems if name in called))


def systems_called(asked: str, systems: Collection[str]) -> frozenset[str]:
    """The systems whose titles have the words that were asked for, as whole words where there are such.

    Raises UsageError where there are none.
    """
    as_words = re.compile(rf"\b{re.escape(asked)}\b", re.IGNORECASE)
    names = [name for name in systems if as_words.search(name)]
    names = names or [name for name in systems if asked.lower() in name.lower()]
    if not names:
        words = {word for name in systems for word in re.findall(r"\w+", name.lower())}
        hint = nearest(asked.lower(), [*words, *systems]) or f"known: {', '.join(systems)}"
        raise UsageError(Problem(f"no system is called {asked!r}", hint=hint))
    return frozenset(names)


def sample_per(sample: str) -> str | None:
    """The kind of station of each of which one is enough: "bank" in "one per bank"."""
    return sample.removeprefix(_ONE_PER) if sample.startswith(_ONE_PER) else None


def asked_words(rule: Rule, said: Callable[[str], str]) -> str:
    """When a rule is asked for; empty where it always is, at every station."""
    asking = rule.inspection
    parts = (
        f"from level {asking.level} on" if asking.level else "",
        f"where {said(asking.occasion)}" if asking.occasion != ALWAYS else "",
        {EACH: "", ONE: "at one station"}.get(asking.sample, f"at {asking.sample}"),
    )
    asked = ", ".join(part for part in parts if part)
    by_eye = f"or seen by eye: {asking.by_eye}" if asking.by_eye else ""
    return "; ".join(filter(None, (f"asked {asked}" if asked else "", by_eye)))


def _left_out(layered: Layered) -> Iterator[tuple[str, LeftOut]]:
    """Rules that a control plan leaves out; where plans ask for rules by name, all others are."""
    asking = [plan for plan in layered.control_plans if plan.asks]
    named = {name for plan in asking for name in plan.asks}
    if asking:
        packs = " and ".join(plan.origin.pack for plan in asking)
        yield from ((name, LeftOut(packs, "not in its control plan")) for name in layered.rules if name not in named)
    for plan in layered.control_plans:
        yield from ((name, LeftOut(plan.origin.pack, because)) for name, because in plan.leaves_out.items())


def plan_problems(layered: Layered) -> Iterator[Problem]:
    """Levels that nobody states, and control plans about unknown rules or against themselves."""
    levels = layered.inspection_levels
    for application in layered.applications.values():
        if application.inspection is not None and application.inspection not in levels:
            place = application.origin.at("inspection")
            yield _no_level(application.inspection, place, layered)
    for rule in layered.rules.values():
        if rule.inspection.level is not None and rule.inspection.level not in levels:
            yield _no_level(rule.inspection.level, rule.place("inspection", "level"), layered)
    for plan in layered.control_plans:
        yield from _control_plan_problems(plan, layered)


def _no_level(name: str, place: Place, layered: Layered) -> Problem:
    known = ", ".join(layered.inspection_levels) or "none; a pack states them under inspection_levels"
    hint = nearest(name, layered.inspection_levels) or f"known: {known}"
    return Problem(f"no inspection level {name!r}", place, hint)


def _control_plan_problems(plan: ControlPlan, layered: Layered) -> Iterator[Problem]:
    at = plan.origin.at
    stated = [(name, at("asks", number)) for number, name in enumerate(plan.asks)]
    stated += [(name, at("leaves_out", name)) for name in plan.leaves_out]
    for name, place in stated:
        if name not in layered.rules:
            yield Problem(f"no rule {name!r} to plan for", place, nearest(name, layered.rules))
    for name in plan.asks:
        if name in plan.leaves_out:
            place = at("leaves_out", name)
            yield Problem(f"{name!r} is asked for and left out", place, "state it once")
