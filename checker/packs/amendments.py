"""Amending and retiring: what packs change in the rules of those they build on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from checker.errors import Problem, nearest
from checker.frozen import FrozenMapping
from checker.packs.pack import ANY, Amendment, Entry, Limit, OtherLimits, Pack, Retirement, Rule, foundations


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
            for retirement in pack.retirements:
                if self._may_change(pack, retirement):
                    self.retired.setdefault(retirement.rule, []).append(retirement)
        made: dict[str, list[Amendment]] = {}
        for pack in self.packs:
            for amendment in pack.amendments:
                if self._may_change(pack, amendment):
                    earlier = made.setdefault(amendment.rule, [])
                    self.problems.extend(self._conflicts(pack, amendment, earlier))
                    earlier.append(amendment)
                    below = self._below(pack.name)
                    self.rules[amendment.rule] = amend(self.rules[amendment.rule], amendment, below)

    def _may_change(self, pack: Pack, change: Amendment | Retirement) -> bool:
        """A pack may change only the rules of the packs it builds on."""
        rule = self.rules.get(change.rule)
        message, hint = "", ""
        if rule is None:
            message, hint = f"no rule {change.rule!r} to change", nearest(change.rule, self.rules)
        elif rule.origin.pack == pack.name:
            message = f"{change.rule!r} belongs to this pack"
            hint = f"change it where it stands, {rule.origin.place.file}:{rule.origin.place.line}"
        elif rule.origin.pack not in self._below(pack.name):
            message = f"{change.rule!r} belongs to pack {rule.origin.pack!r}, which {pack.name!r} does not build on"
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
                agreed = {key for key, value in amendment.changes.items() if other.changes.get(key) == value}
                for what in sorted((_changed(amendment) & _changed(other)) - agreed):
                    both = f"is changed here and by {other.origin}; neither pack builds on the other"
                    yield Problem(f"{amendment.rule!r}: {what} {both}", place)
        for retirement in self.retired.get(amendment.rule, ()):
            if pack.name not in self._below(retirement.origin.pack):
                same = retirement.origin.pack == pack.name
                by = "the same pack" if same else str(retirement.origin)
                yield Problem(f"{amendment.rule!r} is amended here and retired by {by}", place)

    def _below(self, name: str) -> frozenset[str]:
        by_name = {pack.name: pack for pack in self.packs}
        return foundations(by_name[name], by_name)


def amend(rule: Rule, amendment: Amendment, below: frozenset[str]) -> Rule:
    """The rule with only those keys changed that the amendment states; `below` are the packs its pack builds on."""
    changes = dict(amendment.changes)
    if "entries" in changes:
        before = OtherLimits(_pack_so_far(rule), rule.entries, rule.basis)
        stated = (entry._replace(above=below) if entry.application == ANY else entry for entry in changes["entries"])
        changes["entries"] = _merged(rule.entries, tuple(stated))
        changes["others"] = (*rule.others, before, *changes.get("others", ()))
        changes.pop("basis", None)  # the limits stated beside it carry it already
    elif "others" in changes:
        changes["others"] = (*rule.others, *changes["others"])
    if "remedies" in changes:
        changes["remedies"] = FrozenMapping({**rule.remedies, **changes["remedies"]})
    if "not_for" in changes:
        changes["not_for"] = FrozenMapping({**rule.not_for, **changes["not_for"]})
    changes["places"] = FrozenMapping({**rule.places, **changes.get("places", {})})
    return rule._replace(**changes, amended=(*rule.amended, amendment))


def _emptiness(amendment: Amendment) -> str:
    """What makes an amendment idle, in words."""
    stated = set(amendment.changes) - {"places"}
    if not stated:
        return f"the amendment of {amendment.rule!r} changes nothing"
    if "basis" in stated and "entries" not in stated:
        return f"the amendment of {amendment.rule!r} has a basis, but no limits for it"
    return ""


def _changed(amendment: Amendment) -> set[str]:
    """What an amendment overwrites; it adds its reasons by application, its remedies by side."""
    by_part = ("entries", "basis", "places", "not_for", "remedies", "others")
    keys = {key for key in amendment.changes if key not in by_part}
    keys |= {f"not_for {application}" for application in amendment.changes.get("not_for", ())}
    keys |= {f"remedy {side}" for side in amendment.changes.get("remedies", ())}
    for entry in amendment.changes.get("entries", ()):
        keys |= {f"{entry.application} {limit.band} {limit.side}" for limit in entry.limits}
    return keys


def _pack_so_far(rule: Rule) -> str:
    origin = rule.amended[-1].origin if rule.amended else rule.origin
    return f"{origin.pack} {origin.version}"


def _merged(old: Iterable[Entry], new: Sequence[Entry]) -> tuple[Entry, ...]:
    """New limits first; an old limit stays unless a new one states the same side for the same case."""
    kept = (_without(entry, new) for entry in old)
    return (*new, *(entry for entry in kept if entry.limits))


def _without(entry: Entry, new: Iterable[Entry]) -> Entry:
    overruled = {
        _position(limit)
        for other in new
        if other.application == entry.application and other.when in (None, entry.when)
        for limit in other.limits
    }
    return entry._replace(limits=tuple(limit for limit in entry.limits if _position(limit) not in overruled))


def _position(limit: Limit) -> tuple[str, str]:
    return (limit.band, limit.side)
