"""Sheets that no rule judges are judged by themselves: a rule for each, with nothing but the limits of its sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import reduce

import numpy as np

from checker.expressions.truth import FALSE, Truths
from checker.frozen import FrozenMapping
from checker.judging.block import Block
from checker.judging.measures import applies_at
from checker.packs.compiled import CompiledRule, Phrase
from checker.packs.compiled_packs import CompiledPacks
from checker.packs.limit_set import CompiledEntry, LimitSet
from checker.packs.limits import Entry
from checker.packs.rule import Inspection, Rule
from checker.records.part_sheet import PartSheet

SYSTEM = "Part sheets"
"""The group of rules that no pack states."""


def rules_of_sheets(
    sheets: Mapping[str, PartSheet], packs: CompiledPacks, chain: tuple[str, ...], block: Block
) -> Mapping[str, CompiledRule]:
    """A rule for each sheet whose characteristic no rule of the packs judges by itself on this record."""
    made = (_rule_of(sheet, packs) for sheet in sheets.values() if not are_judged(sheet, packs, chain, block)[0])
    return FrozenMapping((rule.name, rule) for rule in made)


def are_judged(sheet: PartSheet, packs: CompiledPacks, chain: tuple[str, ...], block: Block) -> Truths:
    """In which rows a rule may judge it somewhere; one whose milestone is not due yet will."""
    may_apply = ((applies_at(rule, block) != FALSE).any(axis=1) for rule in _judging(sheet.name, packs, chain))
    return reduce(np.logical_or, may_apply, np.zeros(1, dtype=np.bool_))


def _judging(name: str, packs: CompiledPacks, chain: tuple[str, ...]) -> Iterator[CompiledRule]:
    for rule in packs.layered.rules.values():
        if rule.judges.strip() == name and not rule.why_not_for(chain):
            yield packs.rules[rule.name]


def _rule_of(sheet: PartSheet, packs: CompiledPacks) -> CompiledRule:
    from checker.expressions.compiling import compile_expression  # few sheets are judged by no rule

    item = packs.characteristics[sheet.name]
    # It is judged wherever it is measured, and asked for by nobody.
    occasion = f"known({sheet.name})"
    rule = Rule(
        name=f"{sheet.name.replace('_', '-')}-by-its-sheet",
        origin=sheet.origin,
        system=SYSTEM,
        title=f"{item.characteristic.title} by its maker's sheet",
        before=packs.layered.milestones[0],
        judges=sheet.name,
        inspection=Inspection(occasion=occasion),
    )
    return CompiledRule(
        rule=rule,
        judges=compile_expression(sheet.name, packs.scope),
        unit=item.unit or sheet.unit,
        is_demand=False,
        when=None,
        unless=None,
        occasion=compile_expression(occasion, packs.scope),
        per_unit_of=None,
        limits=LimitSet("", (), _no_entry),
        alternatives=(),
        _compile_remedy=_no_remedy,
    )


def _no_entry(_entry: Entry) -> CompiledEntry:
    raise LookupError("the packs state no limits here")


def _no_remedy(_rule: CompiledRule) -> Mapping[str, Phrase]:
    return FrozenMapping()
