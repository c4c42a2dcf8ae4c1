"""Comparing two rulebooks by what they do, not by how they are written.

Both judge the same made-up records; where a limit, a value or a condition comes out differently, the change is told in
the words of the packs.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from checker.checking.question import decision_of
from checker.expressions.truth import ABSOLUTE_TOLERANCE, FALSE, RELATIVE_TOLERANCE, Array, are_equal
from checker.judging.block import Block
from checker.judging.measures import Measures, measure
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.inspection import LeftOut, asked_words, plan_for
from checker.packs.limit_set import DEMANDS, POSITIONS
from checker.packs.limit_words import limit_words
from checker.packs.limits import PHYSICS
from checker.rulebook import Rulebook
from checker.vetting.trial import trial_block

NOTHING = "no limit"
_WORDS = {
    "title": "its title",
    "system": "its system",
    "remedy": "its remedies",
    "caution": "its caution",
    "unit": "the unit it is shown in",
    "picture": "its picture",
}


@dataclass(frozen=True, slots=True)
class Change:
    """What is different about one rule or characteristic, a line each."""

    name: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """What two rulebooks do differently."""

    old: str
    new: str
    uses_added: tuple[str, ...]
    uses_gone: tuple[str, ...]
    rules_added: tuple[str, ...]
    rules_gone: tuple[str, ...]
    policy_changed: tuple[Change, ...]
    """How readings near a limit are decided, and the level that each use is asked at."""
    rules_changed: tuple[Change, ...]
    characteristics_changed: tuple[Change, ...]
    retired: tuple[str, ...]
    """Rules that only the new one has dropped, each with who dropped it and why."""
    without_effect: tuple[str, ...]
    """Amendments that only one of them has, and that change nothing that is judged."""

    @property
    def is_empty(self) -> bool:
        """Whether both do the same."""
        used = (self.uses_added, self.uses_gone, self.rules_added, self.rules_gone)
        return not any((*used, self.policy_changed, self.rules_changed, self.characteristics_changed))


def compare(old: Rulebook, new: Rulebook) -> Comparison:
    """What changes from one rulebook to another."""
    rules = dict(rule_changes(old, new, [name for name in old.rules if name in new.rules]))
    items = [(name, tuple(_item_changes(old, new, name))) for name in old.characteristics]
    return Comparison(
        old=str(old),
        new=str(new),
        uses_added=_missing(new.applications, old.applications),
        uses_gone=_missing(old.applications, new.applications),
        rules_added=_missing(tuple(new.rules), tuple(old.rules)),
        rules_gone=_missing(tuple(old.rules), tuple(new.rules)),
        policy_changed=tuple(_policy_changes(old, new)),
        rules_changed=tuple(Change(name, lines) for name, lines in rules.items() if lines),
        characteristics_changed=tuple(Change(name, lines) for name, lines in items if lines),
        retired=tuple(str(retired) for name, retired in new.layered.retired.items() if name in old.rules),
        without_effect=tuple(
            f"{name}: the amendment by {amendment.origin} changes {words_changed(old.rules[name], new.rules[name])}"
            for name, lines in rules.items()
            for amendment in new.rules[name].rule.amended
            if not lines and amendment not in old.rules[name].rule.amended
        ),
    )


def _policy_changes(old: Rulebook, new: Rulebook) -> Iterator[Change]:
    decisions = [replace(decision_of(book), chosen_by="") for book in (old, new)]
    levels = [{use: str(plan_for(book.layered, book.chain(use))) for use in book.applications} for book in (old, new)]
    said = {"decision": [*map(str, decisions)]}
    said |= {f"use {use}": [of[use] for of in levels] for use in levels[0] if use in levels[1]}
    yield from (Change(name, (f"{was} -> {now}",)) for name, (was, now) in said.items() if was != now)


def rule_changes(old: Rulebook, new: Rulebook, names: Iterable[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What changes in what rules do, a line each; of a use that only one of them has, by what it is like."""
    before, after = _Side.of(old, new), _Side.of(new, old)
    for name in names:
        yield name, tuple(_rule_changes(before, after, name))


def words_changed(old: CompiledRule, new: CompiledRule) -> str:
    """What changes in the words of a rule that does the same as before."""
    changed = [words for key, words in _WORDS.items() if getattr(old.rule, key) != getattr(new.rule, key)]
    return f"only {' and '.join(changed)}" if changed else "nothing"


@dataclass(frozen=True, slots=True)
class _Side:
    """One of the two rulebooks, with the made-up records as it sees them."""

    book: Rulebook
    block: Block
    other: Rulebook
    left_out: Mapping[str, LeftOut]
    """Rules that its control plans do not ask for."""

    @classmethod
    def of(cls, book: Rulebook, other: Rulebook) -> _Side:
        return cls(book, trial_block(book, [other]), other, plan_for(book.layered, ()).left_out)

    def measures(self, rule: CompiledRule, application: str) -> Measures:
        measures = measure(rule, self.block, self.chain(application))
        return measures.of_rows(len(measures.value))

    def asked(self, rule: CompiledRule, application: str) -> Hashable:
        """Which limits of a rule speak for an application, and why it may not be meant for it at all."""
        chain = self.chain(application)
        return rule.limits.speaking(chain), rule.rule.why_not_for(chain)

    def chain(self, application: str) -> tuple[str, ...]:
        """An application, be it known to the other side only, and those it is like."""
        return (self.book if application in self.book.applications else self.other).chain(application)


def _missing(names: Sequence[str], others: Sequence[str]) -> tuple[str, ...]:
    known = frozenset(others)
    return tuple(name for name in names if name not in known)


def _rule_changes(before: _Side, after: _Side, name: str) -> Iterator[str]:
    old, new = before.book.rules[name], after.book.rules[name]
    if old.rule.before != new.rule.before:
        yield f"before {old.rule.before} -> before {new.rule.before}"
    if old.rule.concession != new.rule.concession:
        yield "no concession may be given any more" if new.rule.concession else "a concession may be given"
    if (was := _asking(old, before)) != (now := _asking(new, after)):
        yield f"{was} -> {now}"
    by_change: dict[str, list[str]] = {}
    uses = frozenset(before.book.applications)
    known = [name for name in after.book.applications if not uses.isdisjoint(after.chain(name))]
    told: dict[tuple[Hashable, ...], tuple[str, ...]] = {}  # applications for which the same limits speak change alike
    for application in known:
        asked = (before.asked(old, application), after.asked(new, application))
        if asked not in told:
            told[asked] = tuple(_application_changes(before, after, name, application))
        for line in told[asked]:
            by_change.setdefault(line, []).append(application)
    for line, applications in by_change.items():
        everywhere = len(applications) == len(known) > 1
        yield line if everywhere else f"{', '.join(applications)}: {line}"


def _asking(rule: CompiledRule, side: _Side) -> str:
    """When a rule is asked for; from the lowest level on is always."""
    if left_out := side.left_out.get(rule.name):
        return f"not asked, {left_out}"
    lowest, own = next(iter(side.book.layered.inspection_levels), None), rule.rule.inspection
    stated = own._replace(level=None) if own.level == lowest else own
    words = asked_words(rule.rule._replace(inspection=stated), str)
    return words if words.startswith("asked ") else "; ".join(filter(None, ("always asked", words)))


def _application_changes(before: _Side, after: _Side, name: str, application: str) -> Iterator[str]:
    old, new = before.book.rules[name], after.book.rules[name]
    was, now = before.measures(old, application), after.measures(new, application)
    if not _same(was.applies, now.applies):
        yield f"{_applicability(old, before, application)} -> {_applicability(new, after, application)}"
    if (was.applies == FALSE).all() and (now.applies == FALSE).all():
        return
    if old.is_demand or new.is_demand:
        if not _same(was.value, now.value) or not _same(was.limits, now.limits):
            yield from _words_of(before, after, name, application, dict.fromkeys(DEMANDS, ""))
        return
    if not _same(was.value, now.value) or (old.rule.judges != new.rule.judges and np.isnan(was.value).all()):
        yield f"judges {old.rule.judges} -> {new.rule.judges}"
    moved = {
        place: _number(now.limits[n], new)
        for n, place in enumerate(POSITIONS)
        if not _same(was.limits[n], now.limits[n])
    }
    yield from _words_of(before, after, name, application, moved)


def _words_of(
    before: _Side, after: _Side, name: str, application: str, places: Mapping[tuple[str, str], str]
) -> Iterator[str]:
    """By band and side what was and what is asked for; beside what is calculated, the number it comes to."""
    for (band, side), number in places.items():
        was, now = (_limits(half, name, application, band, side) for half in (before, after))
        added = [words for words, stated in now.items() if stated.is_on_top and words not in was]
        if added:
            kept = () if any(now[words].is_always for words in added) else ("as before",)
            yield f"{band} {', else '.join((*added, *kept))}{f' ({number})' if number else ''}"
        elif was or now:
            same = "" if list(was) != list(now) else " (by what it is computed from)"
            yield f"{band} {', else '.join(was) or NOTHING} -> {', else '.join(now) or NOTHING}{same}"


def _number(limits: Array, rule: CompiledRule) -> str:
    """What a limit comes to in every record, whatever was measured; empty where records differ."""
    first = float(limits.flat[0])
    is_alike = np.isfinite(first) and _same(limits, np.full_like(limits, first))
    return write_quantity(first, rule.unit) if is_alike else ""


class _Stated(NamedTuple):
    """Whether a limit is calculated from the one below it, and whether it is stated without a condition."""

    is_on_top: bool
    is_always: bool


def _limits(half: _Side, name: str, application: str, band: str, side: str) -> Mapping[str, _Stated]:
    """The limits that may count, in words as they are stated."""
    rule = half.book.rules[name]
    chain = half.chain(application)
    bounds: dict[str, _Stated] = {}
    bands = (band, PHYSICS) if band == "must" else (band,)
    for candidate in (candidate for each in bands for candidate in rule.limits.candidates(chain, each, side)):
        stated = next(bound for bound in candidate.stated.bounds if bound.limit.origin == candidate.bound.limit.origin)
        when = candidate.stated.when
        words = limit_words(stated, rule) + (f" when {when.text}" if when is not None else "")
        bounds[words] = _Stated(stated.limit.is_on_top, when is None)
    return bounds


def _applicability(rule: CompiledRule, half: _Side, application: str) -> str:
    if rule.rule.why_not_for(half.chain(application)):
        return "not applicable"
    conditions = {"when": rule.rule.when, "unless": rule.rule.unless}
    return f"applies {' '.join(f'{word} {stated}' for word, stated in conditions.items() if stated) or 'always'}"


def _same(old: Array, new: Array) -> bool:
    tolerance = {"rtol": RELATIVE_TOLERANCE, "atol": ABSOLUTE_TOLERANCE}
    if old.shape != new.shape:
        return False
    # Most are the very same, which is told in a tenth of the time.
    is_same = (old == new) | (np.isnan(old) & np.isnan(new))
    return bool(is_same.all()) or np.allclose(old, new, equal_nan=True, **tolerance)


def _item_changes(old: Rulebook, new: Rulebook, name: str) -> Iterator[str]:
    was, now = old.characteristics[name], new.characteristics.get(name)
    if now is None:
        yield "is gone"
        return
    if was.characteristic.per != now.characteristic.per:
        yield f"per {was.characteristic.per or 'assembly'} -> per {now.characteristic.per or 'assembly'}"
    if was.characteristic.choices != now.characteristic.choices:
        yield f"{', '.join(was.characteristic.choices)} -> {', '.join(now.characteristic.choices)}"
    elif was.unit is not None and not (are_equal(was.low, now.low) and are_equal(was.high, now.high)):
        yield f"plausible {_range_words(was)} -> {_range_words(now)}"
    if (sheet_before := _sheet_words(old, name)) != (sheet_now := _sheet_words(new, name)):
        yield f"{sheet_before} -> {sheet_now}"


def _sheet_words(book: Rulebook, name: str) -> str:
    """What a maker's sheet in the packs requires in place of their rules."""
    sheet = book.layered.part_limits.get(name)
    return "no maker's sheet" if sheet is None else sheet.words


def _range_words(item: CompiledCharacteristic) -> str:
    if item.unit is None:
        return ", ".join(item.characteristic.choices)
    return f"{write_quantity(item.low, item.unit)} to {write_quantity(item.high, item.unit)}"
