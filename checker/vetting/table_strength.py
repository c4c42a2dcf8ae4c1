"""The strength of cases about tables: every row of a table must be held by a case of a rule that uses it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from checker.expressions.expression import Expression
from checker.graph import behind
from checker.judging.block import Block
from checker.packs.compiled import CompiledRule
from checker.packs.figures import Table
from checker.packs.pack import Pack
from checker.packs.released import Standing
from checker.rulebook import Rulebook
from checker.vetting.case_runs import CaseGroup
from checker.vetting.strength import SHIFT, Weakness, is_noticed


def unnoticed_rows(
    rulebook: Rulebook, groups: Mapping[str, Sequence[CaseGroup]], packs: frozenset[str]
) -> Iterator[Weakness]:
    """The rows of these packs' tables that can be moved by a fifth without any case noticing."""
    for table in rulebook.layered.tables.values():
        if table.origin.pack not in packs:
            continue
        users = [name for name in _users(rulebook, table) if name in groups]
        for words, changed in _moved_rows(table):
            other = _with_table(rulebook, changed)
            if not any(is_noticed(other.rules[name], _on(other, groups[name])) for name in users):
                yield Weakness(table.name, words, table.origin.place)


def _moved_rows(table: Table) -> Iterator[tuple[str, Table]]:
    greatest = max(abs(y) for _, y in table.rows)
    for number, (x, y) in enumerate(table.rows):
        for words, sign in (("raised", 1), ("lowered", -1)):
            moved = (x, y + sign * SHIFT * (abs(y) or greatest or 1.0))
            rows = (*table.rows[:number], moved, *table.rows[number + 1 :])
            yield (
                f"the row at {x:g}: {y:g} {words} by a fifth",
                table.with_rows(rows),
            )


def _with_table(rulebook: Rulebook, changed: Table) -> Rulebook:
    """The same rules with one table changed; they have been checked, so each is compiled only when asked for."""
    return Rulebook([_checked_pack(pack, changed) for pack in rulebook.packs], rulebook.plugins)


def _checked_pack(pack: Pack, changed: Table) -> Pack:
    tables = tuple(changed if table.name == changed.name else table for table in pack.tables)
    return pack._replace(tables=tables, standing=Standing.RELEASED)


def _on(rulebook: Rulebook, groups: Sequence[CaseGroup]) -> list[CaseGroup]:
    """The same cases with values computed by another rulebook."""
    blocks = (group.block for group in groups)
    fresh = [Block(rulebook.characteristics, block.layout, block.measured, block.views) for block in blocks]
    return [replace(group, block=block) for group, block in zip(groups, fresh, strict=True)]


def _users(rulebook: Rulebook, table: Table) -> list[str]:
    """The rules in which a table counts, directly or through derived values."""
    rules = ((rule.name, behind(_expressions(rule), rulebook.characteristics)) for rule in rulebook.rules.values())
    return [name for name, inputs in rules if table.name in inputs.named]


def _expressions(rule: CompiledRule) -> Iterator[Expression]:
    candidates = [rule.judges, rule.when, rule.unless, rule.per_unit_of]
    for entry in rule.limits.entries:
        candidates += [entry.when, *(bound.expression for bound in entry.bounds)]
    yield from (expression for expression in candidates if expression is not None)
