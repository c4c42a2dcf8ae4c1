"""Amending and retiring: what packs change in the rules of those they build on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from checker.errors import Problem, nearest
from checker.frozen import FrozenMapping
from checker.packs.limits import PHYSICS, Alternative, Band, Entry, Limit
from checker.packs.pack import Pack, foundations
from checker.packs.rule import Amendment, Retirement, Rule


@dataclass(slots=True)
class Changes:
    """The rules of several packs, each pack after all it builds on, while amendments are applied to them."""

    packs: Sequence[Pack]
    rules: dict[str, Rule]
    retired: dict[str, list[Retirement]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def apply(self) -> None:
        """Amend and retire; what cannot be is left out, and a problem more."""
        for pack in self.packs:
            for retirement in pack.retires:
                if self._may_change(pack, retirement):
                    self.retired.setdefault(retirement.name, []).append(retirement)
        made: dict[str, list[Amendment]] = {}
        for pack in self.packs:
            for amendment in pack.amends:
                if self._may_change(pack, amendment):
                    earlier = made.setdefault(amendment.name, [])
                    self.problems.extend(self._conflicts(pack, amendment, earlier))
                    earlier.append(amendment)
                    below = self._below(pack.name)
                    self.problems.extend(_removing_nothing(self.rules[amendment.name], amendment))
                    self.rules[amendment.name] = amend(self.rules[amendment.name], amendment, below)

    def _may_change(self, pack: Pack, change: Amendment | Retirement) -> bool:
        """A pack may change only the rules of the packs it builds on."""
        rule = self.rules.get(change.name)
        message, hint = "", ""
        if rule is None:
            message, hint = f"no rule {change.name!r} to change", nearest(change.name, self.rules)
        elif rule.origin.pack == pack.name:
            message = f"{change.name!r} belongs to this pack"
            hint = f"change it where it stands, {rule.origin.place.file}:{rule.origin.place.line}"
        elif rule.origin.pack not in self._below(pack.name):
            message = f"{change.name!r} belongs to pack {rule.origin.pack!r}, which {pack.name!r} does not build on"
        elif isinstance(change, Amendment):
            message = _emptiness(change)
        if message:
            self.problems.append(Problem(message, change.origin.place, hint))
        return not message

    def _conflicts(self, pack: Pack, amendment: Amendment, earlier: Iterable[Amendment]) -> Iterator[Problem]:
        """Two packs may change one thing only if one builds on the other, or both say the same of it."""
        place = amendment.origin.place
        for other in earlier:
            if other.origin.pack not in self._below(pack.name):
                here, there = _changed(amendment), _changed(other)
                for what in sorted(part for part in here.keys() & there.keys() if here[part] != there[part]):
                    both = f"is changed here and by {other.origin}; neither pack builds on the other"
                    yield Problem(f"{amendment.name!r}: {what} {both}", place)
        for retirement in self.retired.get(amendment.name, ()):
            if pack.name not in self._below(retirement.origin.pack):
                same = retirement.origin.pack == pack.name
                by = "the same pack" if same else str(retirement.origin)
                yield Problem(f"{amendment.name!r} is amended here and retired by {by}", place)

    def _below(self, name: str) -> frozenset[str]:
        by_name = {pack.name: pack for pack in self.packs}
        return foundations(by_name[name], by_name)


def amend(rule: Rule, amendment: Amendment, below: frozenset[str]) -> Rule:
    """The rule with only those keys changed that the amendment states; `below` are the packs its pack builds on."""
    changes = dict(amendment.changes)
    if "limits" in changes:
        before = (Alternative(_pack_so_far(rule), rule.limits, rule.basis),) if rule.limits else ()
        stated = (entry._replace(above=below) for entry in changes["limits"])
        changes["limits"] = merged(rule.limits, tuple(stated))
        changes["alternatives"] = (*rule.alternatives, *before, *changes.get("alternatives", ()))
        changes.pop("basis", None)  # the limits stated beside it carry it already
    elif "alternatives" in changes:
        changes["alternatives"] = (*rule.alternatives, *changes["alternatives"])
    for key, parts in changes.items():
        if isinstance(parts, Mapping):
            whole = getattr(rule, key)
            changes[key] = FrozenMapping({**whole, **parts}) if isinstance(whole, Mapping) else whole._replace(**parts)
    return rule._replace(**changes, amended=(*rule.amended, amendment))


def _emptiness(amendment: Amendment) -> str:
    """What makes an amendment idle, in words."""
    if not amendment.changes:
        return f"the amendment of {amendment.name!r} changes nothing"
    if "basis" in amendment.changes and "limits" not in amendment.changes:
        return f"the amendment of {amendment.name!r} has a basis, but no limits for it"
    return ""


def _removing_nothing(rule: Rule, amendment: Amendment) -> Iterator[Problem]:
    """What an amendment removes that nobody below states."""
    if rule.lender is not None:
        return  # what it takes from another rule is given to it later
    stated = {limit.position for entry in rule.limits for limit in entry.limits}
    for limit in (limit for entry in amendment.changes.get("limits", ()) for limit in entry.stated):
        if limit.is_removed and limit.position not in stated:
            yield Problem(f"{rule.name!r} has no such limit to remove", limit.origin.place)


def _changed(amendment: Amendment) -> dict[str, Any]:
    """What an amendment overwrites, part by part, and by what; its own basis and alternatives are added."""
    changes: dict[str, Any] = {}
    for key, value in amendment.changes.items():
        if key == "limits":
            # What is calculated from the limit below it leaves that standing: several count on top of each other.
            limits = (
                (entry, limit)
                for entry in value
                for limit in entry.stated
                if limit.band != PHYSICS and not limit.is_on_top
            )
            changes |= {f"{entry.application} {limit.band} {limit.side}": limit for entry, limit in limits}
        elif isinstance(value, Mapping):
            changes |= {f"{key} {part}": stated for part, stated in value.items()}
        elif key not in ("basis", "alternatives"):
            changes[key] = value
    return changes


def _pack_so_far(rule: Rule) -> str:
    origin = rule.amended[-1].origin if rule.amended else rule.origin
    return f"{origin.pack} {origin.version}"


def merged(old: Iterable[Entry], new: Sequence[Entry]) -> tuple[Entry, ...]:
    """New limits first; an old limit stays unless a new one states the same side for the same case.

    One that is calculated from the limit below it overrules none, and is overruled only by a pack that builds on its.
    What physics asks for stays whatever is stated.
    """
    kept = (_without(entry, new) for entry in old)
    return (*new, *(entry for entry in kept if entry.stated))


def _without(entry: Entry, new: Iterable[Entry]) -> Entry:
    overruling = [
        (limit.position, other.above)
        for other in new
        if other.application == entry.application and other.when in (None, entry.when)
        for limit in other.stated
        if limit.band != PHYSICS and not limit.is_on_top
    ]

    def is_overruled(limit: Limit) -> bool:
        return any(
            limit.position == position and (not limit.is_on_top or limit.origin.pack in above)
            for position, above in overruling
        )

    must, should = (
        Band(*(None if limit is None or is_overruled(limit) else limit for limit in band))
        for band in (entry.must, entry.should)
    )
    return entry._replace(must=must, should=should)
