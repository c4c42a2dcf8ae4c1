"""Layering packs: which rules, limits and words hold once several packs are put together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple, Protocol

from checker.errors import PackError, Problem, nearest
from checker.frozen import FrozenMapping
from checker.graph import lineage
from checker.notation.counting import Counting, UnclearWord
from checker.packs.amendments import Changes
from checker.packs.application import Application, ControlPlan, InspectionLevel
from checker.packs.characteristic import Characteristic, NamedLayout, Picture, Stations
from checker.packs.figures import Constant, Material, Means, Table
from checker.packs.lent_limits import lend
from checker.packs.limits import ANY
from checker.packs.pack import NAMED, Pack, foundations
from checker.packs.rule import Retirement, Rule
from checker.packs.sheet_limits import SheetLimits
from checker.packs.versions import satisfies


class Retired(NamedTuple):
    """A rule that a pack has dropped, and which pack did, and why."""

    rule: Rule
    retirement: Retirement

    def __str__(self) -> str:
        origin = self.retirement.origin
        return f"{self.rule.title} ({origin.pack} {origin.version}: {self.retirement.because})"


class Layered(NamedTuple):
    """Several packs as one: every name once, amendments applied, retired rules set aside."""

    packs: tuple[Pack, ...]
    applications: Mapping[str, Application]
    milestones: tuple[str, ...]
    milestone_titles: Mapping[str, str]
    cautions: tuple[str, ...]
    stations: Mapping[str, Stations]
    layouts: Mapping[str, NamedLayout]
    constants: Mapping[str, Constant]
    tables: Mapping[str, Table]
    characteristics: Mapping[str, Characteristic]
    rules: Mapping[str, Rule]
    part_limits: Mapping[str, SheetLimits]
    pictures: Mapping[str, Picture]
    materials: Mapping[str, Material]
    means: Mapping[str, Means]
    retired: Mapping[str, Retired]
    inspection_levels: Mapping[str, InspectionLevel]
    control_plans: tuple[ControlPlan, ...]
    ways_of_counting: Mapping[str, Counting]
    unclear_words: Mapping[str, UnclearWord]

    parents: Mapping[str, str | None]
    """What each kind of station belongs to."""
    chains: Mapping[str, tuple[str, ...]]
    """Each application and those it is like, nearest first."""
    derived_facts: tuple[Characteristic, ...]
    """The facts of the assembly that follow from readings."""


def layer(packs: Iterable[Pack], problems: list[Problem]) -> Layered:
    """Put packs together; the order they are given in does not matter.

    Names stated twice, conflicting amendments and the like are added to the problems. Raises PackError where packs
    are missing or of another version.
    """
    ordered = _in_order({pack.name: pack for pack in packs})
    named = {
        section: _one_of_each((thing for pack in ordered for thing in getattr(pack, section)), problems)
        for section in NAMED
    }
    changes = Changes(ordered, named["rules"])
    changes.apply()
    problems.extend(changes.problems)
    problems.extend(lend(changes.rules))
    likes = {name: application.like for name, application in named["applications"].items()}
    problems.extend(_strange_likes(named["applications"], likes))
    problems.extend(_stated_again(ordered))
    named["rules"] = {name: rule for name, rule in changes.rules.items() if name not in changes.retired}
    return Layered(
        **{section: FrozenMapping(things) for section, things in named.items()},
        packs=ordered,
        milestones=tuple(dict.fromkeys(milestone for pack in ordered for milestone in pack.milestones)),
        milestone_titles=FrozenMapping(item for pack in ordered for item in pack.milestones.items()),
        cautions=tuple(dict.fromkeys(text for pack in ordered for text in pack.cautions)),
        retired=FrozenMapping(
            {name: Retired(changes.rules[name], first) for name, (first, *_) in changes.retired.items()}
        ),
        control_plans=tuple(pack.control_plan for pack in ordered if pack.control_plan),
        parents=FrozenMapping({name: stations.of for name, stations in named["stations"].items()}),
        chains=FrozenMapping({name: lineage(name, likes) for name in likes}),
        derived_facts=tuple(
            item for item in named["characteristics"].values() if item.choices and item.derived and item.per is None
        ),
    )


class _Named(Protocol):
    @property
    def name(self) -> str: ...
    @property
    def origin(self) -> Any: ...


def _in_order(packs: Mapping[str, Pack]) -> tuple[Pack, ...]:
    """Packs after all they build on; packs that do not depend on each other by name."""
    problems = [
        Problem(
            f"{pack} builds on {base!r} {allowed}, which {_lacking(packs, base)}", pack.origin.at("builds_on", base)
        )
        for pack in packs.values()
        for base, allowed in pack.builds_on.items()
        if base not in packs or not satisfies(packs[base].version, allowed)
    ]
    if problems:
        raise PackError(problems)
    ordered: list[Pack] = []
    waiting = sorted(packs.values(), key=lambda pack: pack.name)
    while waiting:
        done = {pack.name for pack in ordered}
        ready = [pack for pack in waiting if set(pack.builds_on) <= done]
        if not ready:
            names = ", ".join(pack.name for pack in waiting)
            message = f"packs build on each other in a circle: {names}"
            raise PackError(Problem(message, pack.origin.at("builds_on")) for pack in waiting)
        ordered.append(ready[0])
        waiting.remove(ready[0])
    return tuple(ordered)


def _lacking(packs: Mapping[str, Pack], base: str) -> str:
    return f"is {packs[base].version} here" if base in packs else "is not here"


def families(packs: Mapping[str, Pack]) -> Iterator[tuple[str, ...]]:
    """Each pack that stands alone, with all that only add to it; two families need not agree on any name.

    A pack that changes rules of others, or has no use of its own, stands for itself: two of them may change one limit,
    and what one changes is none of those who did not ask for it.
    """
    for name, pack in packs.items():
        if not foundations(pack, packs):
            above = [other for other in packs.values() if name in foundations(other, packs)]
            adding = [other.name for other in above if other.applications and not (other.amends or other.retires)]
            yield (name, *adding)
            yield from ((other.name,) for other in above if other.name not in adding)


def _one_of_each(things: Iterable[_Named], problems: list[Problem]) -> dict[str, Any]:
    by_name: dict[str, Any] = {}
    for thing in things:
        if thing.name in by_name:
            other = by_name[thing.name].origin
            problems.append(Problem(f"{thing.name!r} is already stated by {other}", thing.origin.place))
        else:
            by_name[thing.name] = thing
    return by_name


def _strange_likes(applications: Mapping[str, Application], likes: Mapping[str, str | None]) -> Iterator[Problem]:
    for application in applications.values():
        if application.name == ANY:
            yield Problem("'any' stands for every application", application.origin.place)
        if application.like is None:
            continue
        if application.like not in applications:
            hint = nearest(application.like, applications)
            yield Problem(f"no application {application.like!r} to be like", application.origin.place, hint)
        elif application.name in lineage(application.like, likes):
            yield Problem("applications are like each other in a circle", application.origin.place)


def _stated_again(packs: tuple[Pack, ...]) -> Iterator[Problem]:
    """The milestones and the inspection levels have an order: the lowest pack alone states them."""
    by_name = {pack.name: pack for pack in packs}
    for section, words in (("milestones", "milestones"), ("inspection_levels", "inspection levels")):
        for pack in packs:
            for base in sorted(foundations(pack, by_name)):
                if getattr(pack, section) and getattr(by_name[base], section):
                    message = f"the {words} and their order are stated by {by_name[base]}"
                    yield Problem(message, pack.origin.at(section), "leave them out here")
