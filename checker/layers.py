"""Layering packs: which rules, limits and words hold once several packs are put together."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

from checker.errors import PackError, Problem, nearest
from checker.pack import (
    Amendment,
    Application,
    Characteristic,
    Constant,
    Entry,
    Limit,
    Origin,
    OtherLimits,
    Pack,
    Picture,
    Retirement,
    Rule,
    Stations,
    Table,
)
from checker.versions import satisfies


@dataclass(frozen=True, slots=True)
class Layered:
    """Several packs as one: every name once, amendments applied, retired rules set aside."""

    packs: tuple[Pack, ...]
    applications: Mapping[str, Application]
    milestones: tuple[str, ...]
    cautions: tuple[str, ...]
    stations: Mapping[str, Stations]
    constants: Mapping[str, Constant]
    tables: Mapping[str, Table]
    characteristics: Mapping[str, Characteristic]
    rules: Mapping[str, Rule]
    pictures: Mapping[str, Picture]
    retired: Mapping[str, Retirement]

    def chain(self, application: str) -> tuple[str, ...]:
        """The application and those it is like, nearest first."""
        found: list[str] = []
        name: str | None = application
        while name is not None and name not in found:
            found.append(name)
            name = self.applications[name].like if name in self.applications else None
        return tuple(found)


def layer(packs: Iterable[Pack]) -> Layered:
    """Put packs together; the order they are given in does not matter.

    Raises PackError for missing or ill-fitting packs, names stated twice and conflicting amendments.
    """
    ordered = _in_order({pack.name: pack for pack in packs})
    problems: list[Problem] = []
    named = {
        section: _one_of_each((thing for pack in ordered for thing in getattr(pack, section)), problems)
        for section in ("applications", "stations", "constants", "tables", "characteristics", "rules", "pictures")
    }
    retired = _retirements(ordered, named["rules"], problems)
    rules = _amended(ordered, named["rules"], retired, problems)
    _check_likes(named["applications"], problems)
    if problems:
        raise PackError(problems)
    return Layered(
        packs=ordered,
        applications=named["applications"],
        milestones=_milestones(ordered),
        cautions=tuple(dict.fromkeys(text for pack in ordered for text in pack.cautions)),
        stations=named["stations"],
        constants=named["constants"],
        tables=named["tables"],
        characteristics=named["characteristics"],
        rules={name: rule for name, rule in rules.items() if name not in retired},
        pictures=named["pictures"],
        retired=retired,
    )


class _Named(Protocol):
    @property
    def name(self) -> str: ...
    @property
    def origin(self) -> Origin: ...


def _in_order(packs: Mapping[str, Pack]) -> tuple[Pack, ...]:
    """Packs after all they build on; packs that do not depend on each other by name."""
    problems = [
        Problem(f"pack {pack.name!r} builds on {base!r} {allowed}, which {_lacking(packs, base)}")
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
            raise PackError(Problem(f"packs build on each other in a circle: {names}"))
        ordered.append(ready[0])
        waiting.remove(ready[0])
    return tuple(ordered)


def _lacking(packs: Mapping[str, Pack], base: str) -> str:
    return f"is {packs[base].version} here" if base in packs else "is not here"


def foundations(pack: Pack, packs: Mapping[str, Pack]) -> frozenset[str]:
    """The names of all packs that a pack builds on, however far down."""
    found: set[str] = set()
    waiting = list(pack.builds_on)
    while waiting:
        name = waiting.pop()
        if name not in found and name in packs:
            found.add(name)
            waiting.extend(packs[name].builds_on)
    return frozenset(found)


def families(packs: Mapping[str, Pack]) -> Iterator[tuple[str, ...]]:
    """Each pack that stands alone, with all that build on it; two families need not agree on any name."""
    for name, pack in packs.items():
        if not foundations(pack, packs):
            yield (name, *(other.name for other in packs.values() if name in foundations(other, packs)))


def _one_of_each(things: Iterable[_Named], problems: list[Problem]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for thing in things:
        if thing.name in found:
            other = found[thing.name].origin
            problems.append(Problem(f"{thing.name!r} is already stated by {other}", thing.origin.place))
        else:
            found[thing.name] = thing
    return found


def _retirements(packs: Sequence[Pack], rules: Mapping[str, Rule], problems: list[Problem]) -> dict[str, Retirement]:
    retired: dict[str, Retirement] = {}
    for pack in packs:
        for retirement in pack.retirements:
            problem = _unreachable(pack, retirement, rules, packs)
            if problem:
                problems.append(problem)
            retired[retirement.rule] = retirement
    return retired


def _unreachable(
    pack: Pack, change: Amendment | Retirement, rules: Mapping[str, Rule], packs: Sequence[Pack]
) -> Problem | None:
    """A pack may change only rules of the packs it builds on."""
    rule = rules.get(change.rule)
    if rule is None:
        return Problem(f"no rule {change.rule!r} to change", change.origin.place, nearest(change.rule, rules))
    if rule.origin.pack not in foundations(pack, {other.name: other for other in packs}):
        message = f"{change.rule!r} belongs to pack {rule.origin.pack!r}, which {pack.name!r} does not build on"
        return Problem(message, change.origin.place)
    return None


def _amended(
    packs: Sequence[Pack], rules: Mapping[str, Rule], retired: Mapping[str, Retirement], problems: list[Problem]
) -> dict[str, Rule]:
    result = dict(rules)
    made: dict[str, list[tuple[Pack, Amendment]]] = {}
    for pack in packs:
        for amendment in pack.amendments:
            problem = _unreachable(pack, amendment, rules, packs)
            if problem:
                problems.append(problem)
                continue
            problems.extend(_conflicts(pack, amendment, made.get(amendment.rule, []), packs))
            made.setdefault(amendment.rule, []).append((pack, amendment))
            result[amendment.rule] = amend(result[amendment.rule], amendment)
            if amendment.rule in retired and retired[amendment.rule].origin.pack != pack.name:
                message = f"{amendment.rule!r} is retired by {retired[amendment.rule].origin}"
                problems.append(Problem(message, amendment.origin.place))
    return result


def _conflicts(
    pack: Pack, amendment: Amendment, earlier: Iterable[tuple[Pack, Amendment]], packs: Sequence[Pack]
) -> Iterator[Problem]:
    """Two packs may change one thing only if one builds on the other."""
    below = foundations(pack, {other.name: other for other in packs})
    for other_pack, other in earlier:
        if other_pack.name not in below:
            for key in sorted(_changed(amendment) & _changed(other)):
                message = (
                    f"{amendment.rule!r}: {key} is changed here and by {other.origin}; neither pack builds on the other"
                )
                yield Problem(message, amendment.origin.place)


def _changed(amendment: Amendment) -> set[str]:
    """What an amendment overwrites; it adds its reasons by application, its remedies by side."""
    keys = {
        key for key in amendment.changes if key not in ("entries", "basis", "places", "not_for", "remedies", "others")
    }
    keys |= {f"not_for {application}" for application in amendment.changes.get("not_for", ())}
    keys |= {f"remedy {side}" for side in amendment.changes.get("remedies", ())}
    for entry in amendment.changes.get("entries", ()):
        keys |= {f"{entry.application} {limit.band} {limit.side}" for limit in entry.limits}
    return keys


def amend(rule: Rule, amendment: Amendment) -> Rule:
    """The rule with only those keys changed that the amendment states."""
    changes = dict(amendment.changes)
    if "entries" in changes:
        before = OtherLimits(_pack_so_far(rule), rule.entries, rule.basis)
        changes["entries"] = _merged(rule.entries, changes["entries"])
        changes["others"] = (*rule.others, before, *changes.get("others", ()))
        changes.pop("basis", None)
    if "remedies" in changes:
        changes["remedies"] = {**rule.remedies, **changes["remedies"]}
    if "not_for" in changes:
        changes["not_for"] = {**rule.not_for, **changes["not_for"]}
    changes["places"] = {**rule.places, **changes.get("places", {})}
    return replace(rule, **changes, amended=(*rule.amended, amendment))


def _pack_so_far(rule: Rule) -> str:
    origin = rule.amended[-1].origin if rule.amended else rule.origin
    return f"{origin.pack} {origin.version}"


def _merged(old: Iterable[Entry], new: Sequence[Entry]) -> tuple[Entry, ...]:
    """New limits first; an old limit stays unless a new one states the same side for the same case."""
    kept = (_without(entry, new) for entry in old)
    return (*new, *(entry for entry in kept if entry.limits))


def _without(entry: Entry, new: Iterable[Entry]) -> Entry:
    overruled = set(
        itertools.chain.from_iterable(
            ((limit.band, limit.side) for limit in other.limits)
            for other in new
            if other.application == entry.application and other.when in (None, entry.when)
        )
    )
    return replace(entry, limits=tuple(limit for limit in entry.limits if _position(limit) not in overruled))


def _position(limit: Limit) -> tuple[str, str]:
    return (limit.band, limit.side)


def _check_likes(applications: Mapping[str, Application], problems: list[Problem]) -> None:
    for application in applications.values():
        if application.like is None:
            continue
        if application.like not in applications:
            hint = nearest(application.like, applications)
            problems.append(Problem(f"no application {application.like!r} to be like", application.origin.place, hint))
        elif application.name in _likes(application.like, applications):
            problems.append(Problem("applications are like each other in a circle", application.origin.place))


def _likes(name: str, applications: Mapping[str, Application]) -> set[str]:
    found: set[str] = set()
    current: str | None = name
    while current is not None and current not in found:
        found.add(current)
        current = applications[current].like if current in applications else None
    return found


def _milestones(packs: Iterable[Pack]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(milestone for pack in packs for milestone in pack.milestones))
