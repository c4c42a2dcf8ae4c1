"""A first pack from a maker's table of limits: the rules that judge what it names, with its figures."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from checker.documents.write import one_line, scalar
from checker.packs.compiled import CompiledRule
from checker.packs.versions import compatible_range
from checker.rulebook import Rulebook
from checker.vetting.templates import filled_in, require_name

_BECAUSE = "The maker's table counts here."
_REMEDIES = {
    "low": "{limit - value} under what the maker asks for: measure again, then fit the part that brings it there.",
    "high": "{value - limit} over what the maker asks for: measure again, then fit the part that brings it there.",
}


class MakersLimits(NamedTuple):
    """One line of a maker's table: what it names, its limits as packs write them (empty where none), and its place.

    `name` is a rule, or a characteristic that no rule judges by itself.
    """

    name: str
    new_least: str
    new_most: str
    worn_least: str
    worn_most: str
    source: str

    @property
    def bands(self) -> Mapping[str, Mapping[str, str]]:
        """What is required and what is recommended."""
        must = {"at_least": self.worn_least or self.new_least, "at_most": self.worn_most or self.new_most}
        should = {"at_least": self.new_least, "at_most": self.new_most}
        stated = {"must": must, "should": should}
        given = {band: {side: text for side, text in sides.items() if text} for band, sides in stated.items()}
        return {band: sides for band, sides in given.items() if sides}


def rules_judging(characteristic: str, rulebook: Rulebook) -> tuple[CompiledRule, ...]:
    """The rules whose limits a maker's figure for a characteristic replaces.

    The one that bears its name, else all that judge it by itself.
    """
    rules = [rule for rule in rulebook.rules.values() if rule.judges.text == characteristic and not rule.rule.lender]
    named = [rule for rule in rules if rule.rule.name == characteristic.replace("_", "-")]
    return tuple(named or rules)


def makers_pack(name: str, rulebook: Rulebook, table: Sequence[MakersLimits]) -> Mapping[str, str]:
    """The files of a new pack by name, its cases excepted, on top of the last pack of a rulebook.

    Raises UsageError for a name that packs cannot have.
    """
    require_name(name)
    base = rulebook.packs[-1]
    amended = [row for row in table if row.name in rulebook.rules]
    whole = [row for row in amended if not _missing_remedies(row.name, row, rulebook)]
    if len(whole) == 1:
        whole = []  # one line makes no table
    parts = [row for row in amended if row not in whole]
    added = [line for row in table if row.name not in rulebook.rules for line in _rule(row, rulebook)]
    sections = [
        *(_table(whole, rulebook) if whole else ()),
        *_section("amends", [line for row in parts for line in _amendment(row, rulebook)]),
        *_section("rules", added),
    ]
    words = {"name": name, "base": base.name, "range": compatible_range(base.version)}
    limits = "\n".join(sections).strip("\n")
    return filled_in("makers_pack", ("pack.yaml", "limits.yaml"), **words, limits=limits)


def borrowers(name: str, rulebook: Rulebook) -> list[CompiledRule]:
    """The rules that take the limits of a rule."""
    return [rule for rule in rulebook.rules.values() if rule.rule.lender == name]


def left_alone(rulebook: Rulebook, table: Sequence[MakersLimits]) -> Iterator[str]:
    """Other rules that judge by itself what the table names, in words: a line of the table can name each instead."""
    amended = {row.name for row in table}
    judged = {rulebook.rules[name].judges.text for name in amended if name in rulebook.rules}
    for name, rule in rulebook.rules.items():
        if rule.judges.text in judged and name not in amended and not rule.rule.lender:
            condition = rule.rule.when and f", which counts when {rule.rule.when}"
            yield f"{name}{condition or ''}"


def _section(name: str, lines: Sequence[str]) -> Iterator[str]:
    if lines:
        yield from ("", f"{name}:", *lines)


def _table(rows: Sequence[MakersLimits], rulebook: Rulebook) -> Iterator[str]:
    """Amendments that say the same but for their limits: one line each."""
    usual = Counter(row.source for row in rows).most_common(1)[0][0]
    width = max(len(row.name) for row in rows) + 1
    yield "each_of:"
    yield f"  RULE: [{', '.join(row.name for row in rows)}]"
    yield "  amends:"
    yield "    RULE:"
    yield f"      because: {_BECAUSE}"
    yield f"      basis: {one_line(_basis(usual))}"
    yield "      limits:"
    for row in rows:
        yield from (f"        # {condition}" for condition in _conditions(row.name, rulebook))
        own = {} if row.source == usual else {"basis": _basis(row.source)}
        yield f"        {row.name + ':':<{width}} {one_line({'any': {**row.bands, **own}})}"


def _amendment(row: MakersLimits, rulebook: Rulebook) -> Iterator[str]:
    """An amendment that adds remedies to the limits, for the rules that take these limits too."""
    yield from (f"  # {condition}" for condition in _conditions(row.name, rulebook))
    yield f"  {row.name}:"
    yield f"    because: {_BECAUSE}"
    yield from _limits(row)
    for name in (row.name, *(rule.rule.name for rule in borrowers(row.name, rulebook))):
        missing = _missing_remedies(name, row, rulebook, of_itself=True)
        if missing and name != row.name:
            yield f"  {name}:"
            yield f"    because: {_BECAUSE}"
        if missing:
            yield f"    remedy: {one_line(missing)}"


def _conditions(name: str, rulebook: Rulebook) -> Iterator[str]:
    rule = rulebook.rules[name].rule
    for word, condition in (("when", rule.when), ("unless", rule.unless)):
        if condition:
            yield f"It counts {word} {condition}."


def _missing_remedies(name: str, row: MakersLimits, rulebook: Rulebook, of_itself: bool = False) -> Mapping[str, str]:
    """Remedies that a rule, or one that takes its limits, has none of for a side of a line."""
    names = [name] if of_itself else [name, *(rule.rule.name for rule in borrowers(name, rulebook))]
    given = [rulebook.rules[each].rule.remedy.by_side for each in names]
    return {side: _REMEDIES[side] for side in _sides(row) if any(side not in remedies for remedies in given)}


def _rule(row: MakersLimits, rulebook: Rulebook) -> Iterator[str]:
    yield f"  {row.name.replace('_', '-')}:"
    yield f"    title: {scalar(rulebook.characteristics[row.name].characteristic.title)}"
    yield f"    before: {_milestone(row.name, rulebook)}"
    yield f"    judges: {row.name}"
    yield from _limits(row)
    yield f"    remedy: {one_line({side: _REMEDIES[side] for side in _sides(row)})}"


def _limits(row: MakersLimits) -> Iterator[str]:
    yield f"    limits: {one_line({'any': row.bands})}"
    yield f"    basis: {one_line(_basis(row.source))}"


def _basis(source: str) -> Mapping[str, str]:
    return {"kind": "manual", "read": source}


def _sides(row: MakersLimits) -> Sequence[str]:
    words = {"at_least": "low", "at_most": "high"}
    return [words[side] for side in words if any(side in sides for sides in row.bands.values())]


def _milestone(characteristic: str, rulebook: Rulebook) -> str:
    """The earliest of the rules that rest on a characteristic or what is derived from it; else the first."""
    items = rulebook.characteristics
    resting = {name for name, item in items.items() if name == characteristic or characteristic in item.inputs.names}
    milestones = {
        rule.rule.before
        for rule in rulebook.rules.values()
        if not resting.isdisjoint(re.findall(r"\w+", rule.judges.text))
    }
    return next((name for name in rulebook.milestones if name in milestones), rulebook.milestones[0])
