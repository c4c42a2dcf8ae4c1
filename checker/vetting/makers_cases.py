"""Cases for a pack made from a maker's table: at its limits and a step beyond, with what the rules then say.

Facts and sizes are borrowed from the cases of the packs below, for those meet the conditions of their rules.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal

from checker.frozen import FrozenMapping
from checker.packs.case import Case
from checker.packs.cases import read_cases
from checker.packs.compiled import CompiledRule
from checker.rulebook import Rulebook
from checker.vetting.case_runs import group_cases
from checker.vetting.drafts import judged, line
from checker.vetting.makers_pack import MakersLimits, borrowers
from checker.vetting.strength import unnoticed

_HEAD = """\
# yaml-language-server: $schema=../pack.schema.json
# Drafted at the limits and a step beyond: what the rules say now. Hold each against the table, and mend what is wrong.
"""
_SMALL = Decimal("0.05")
"""A step is no larger a share of its limit, so that a limit moved by a fifth is noticed."""
_FARTHER = (Decimal("0.9"), Decimal("1.1"))
"""Shares of the limits for rules that see a value shifted by what else they judge by."""


def makers_cases(rulebook: Rulebook, table: Iterable[MakersLimits]) -> str:
    """The cases for the last pack of a rulebook as a file of it; rules for which none can be drafted are named."""
    below: dict[str, list[Case]] = defaultdict(list)
    for pack in rulebook.packs[:-1]:
        for case in read_cases(pack):
            below[case.rule].append(case)
    lines: list[str] = []
    by_hand: list[str] = []
    for row in table:
        first = rulebook.rules[row.name if row.name in rulebook.rules else row.name.replace("_", "-")]
        for rule in (first, *borrowers(first.rule.name, rulebook)):
            varied = rule.judges.characteristic or first.judges.text
            is_plain = rule.judges.text == varied
            drafted, left = _drafted(rule, varied, [*_values(row, is_plain)], below[rule.rule.name], rulebook)
            lines += [f"  {rule.rule.name}:", *drafted] if drafted else []
            by_hand += [f"# By hand: {rule.rule.name}: {words}" for words in left]
    return _HEAD + "\n".join([*(["cases:"] if lines else []), *lines, *by_hand]) + "\n"


def _drafted(
    rule: CompiledRule, varied: str, values: Sequence[str], below: Sequence[Case], rulebook: Rulebook
) -> tuple[list[str], list[str]]:
    """The cases, one a line, and what of the pack they leave unguarded."""
    ours = frozenset({rulebook.packs[-1].name})

    def left_by(cases: Sequence[Case]) -> list[str]:
        groups = group_cases(rulebook, cases)
        return [weakness.message for weakness in unnoticed(rule, groups, rulebook.scope, ours)]

    left = left_by([])
    tried: list[tuple[Case, list[Case]]] = []
    for template in _templates(rule, varied, below, rulebook):
        cases = judged(rule, template, varied, values, rulebook)
        if cases and not left_by(cases):
            return [line(template, varied, cases)], []
        tried.append((template, cases))
    kept: list[Case] = []
    lines: list[str] = []
    for template, cases in tried:
        fewer = left_by([*kept, *cases]) if cases and left else left
        if len(fewer) < len(left):
            kept, left = [*kept, *cases], fewer
            lines.append(line(template, varied, cases))
    return lines, left


def _templates(rule: CompiledRule, varied: str, below: Sequence[Case], rulebook: Rulebook) -> Iterator[Case]:
    """Cases without a value and a verdict: with nothing given, with the facts of cases below, with all of theirs."""
    origin = rule.rule.origin._replace(path=("cases", rule.rule.name))
    nothing: Mapping[str, Mapping[str, tuple[str, ...]]] = FrozenMapping({})
    yield Case(origin, rulebook.applications[0], nothing)
    seen = set()
    for facts_only in (True, False):
        for case in (case for case in below if case.sheet is None):
            given = FrozenMapping(
                (name, texts)
                for name, texts in case.given.items()
                if name not in (varied, case.vary) and not (facts_only and rulebook.characteristics[name].unit)
            )
            key = repr((case.application, given, case.stations))
            if key not in seen:
                seen.add(key)
                yield Case(origin, case.application, given, case.stations)


def _values(row: MakersLimits, is_plain: bool) -> Iterator[str]:
    """Each limit, and a step on either side of it, rising."""
    texts = [text.partition(" ") for text in filter(None, row[1:5])]
    last = min(int(Decimal(number).as_tuple().exponent) for number, _, _ in texts)
    values: dict[Decimal, str] = {}
    for number, _, unit in texts:
        limit, step = Decimal(number), Decimal(1).scaleb(last)
        while limit and step > _SMALL * abs(limit):
            step /= 10
        more = () if is_plain else (limit * share for share in _FARTHER)
        for value in (limit - step, limit, limit + step, *more):
            values[value] = f"{value:f} {unit}".strip()
    yield from (values[value] for value in sorted(values))
