"""Drafts of missing cases, for a person to read, correct and accept: what rules say now, which need not be right.

A draft stands under `drafts`, where no case is run. What cannot be drafted is named, to be written by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from checker.documents.write import one_line
from checker.packs.case import Case
from checker.packs.cases import LADDER
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.limit_set import DEMANDS, POSITIONS, Bound
from checker.rulebook import Rulebook
from checker.units.units import Unit
from checker.vetting.amendments import plain_bound, uses_of
from checker.vetting.case_runs import failures_in, group_cases
from checker.vetting.strength import Weakness
from checker.vetting.templates import as_written

NEAR = 0.05
"""How far from a limit the values lie, as a share of it."""
_HEAD = """\
# Drafts: what the rules say now, not what they should say. Check each against what you know, correct it, and move it
# under cases; until then it is not run.
"""


def drafted(rulebook: Rulebook, unguarded: Iterable[Weakness]) -> str:
    """Drafts for the rules in which something is unguarded, as a file of a pack; empty where nothing is."""
    of_rules: dict[str, list[str]] = {}
    for weakness in unguarded:
        of_rules.setdefault(weakness.name, []).append(weakness.message)
    drafts = {name: list(_cases(rulebook.rules[name], rulebook)) for name in of_rules if name in rulebook.rules}
    lines = [line for name, cases in drafts.items() if cases for line in (f"  {name}:", *cases)]
    by_hand = [
        f"# By hand: {name}: {message}" for name in of_rules if not drafts.get(name) for message in of_rules[name]
    ]
    return "\n".join([_HEAD + "drafts:", *lines, *by_hand] if lines else by_hand) + "\n" * bool(of_rules)


def judged(rule: CompiledRule, template: Case, varied: str, values: Iterable[str], rulebook: Rulebook) -> list[Case]:
    """The template with each value for which the rule says one of the three verdicts."""
    tried = [
        template._replace(given={**template.given, varied: {"": (value,)}}, verdict=verdict)
        for value in values
        for verdict in LADDER
    ]
    found = []
    for group in group_cases(rulebook, tried):
        failed = [failure.case for failure in failures_in(rule, group)]
        found += [case for case in group.cases if case not in failed]
    return found


def line(template: Case, varied: str, cases: Sequence[Case]) -> str:
    """Cases that differ from a template in one value, as a line of a file."""
    by_verdict = {
        verdict: [case.given[varied][""][0] for case in cases if case.verdict == verdict] for verdict in LADDER
    }
    row = {
        "application": template.application,
        "given": {name: _given(texts) for name, texts in template.given.items()},
        **({"stations": dict(template.stations)} if template.stations else {}),
        "vary": varied,
        **{verdict: texts for verdict, texts in by_verdict.items() if texts},
    }
    return f"    - {one_line(row)}"


def _given(by_station: Mapping[str, tuple[str, ...]]) -> object:
    plain = {station: list(texts) if len(texts) > 1 else texts[0] for station, texts in by_station.items()}
    return plain[""] if set(plain) == {""} else plain


def _cases(rule: CompiledRule, rulebook: Rulebook) -> Iterator[str]:
    """A case for each use whose limits no use before it has."""
    seen = set()
    if rule.judges.characteristic != rule.judges.text or rule.when or rule.unless:
        return
    item = rulebook.characteristics[rule.judges.text]
    size = rule.per_unit_of.characteristic if rule.per_unit_of is not None else None
    for application, chain in uses_of(rule, rulebook):
        stated = [position for position in (*POSITIONS, *DEMANDS) if rule.limits.candidates(chain, *position)]
        plain = {position: plain_bound(rule.limits, chain, *position) for position in stated}
        bounds = tuple(plain.items())
        known = [bound for bound in plain.values() if bound is not None]
        if stated and len(known) == len(stated) and bounds not in seen:
            seen.add(bounds)
            given, scale = _middle(rulebook.characteristics[size]) if size is not None else ({}, None)
            template = Case(rule.rule.origin._replace(path=("cases", rule.name)), application, given)
            values = _around(known, scale, item, item.unit) if item.unit else item.characteristic.choices
            if cases := judged(rule, template, item.name, values, rulebook):
                yield line(template, item.name, cases)


def _middle(size: CompiledCharacteristic) -> tuple[Mapping[str, Mapping[str, tuple[str, ...]]], float | None]:
    """A size in the middle of what is possible, as a case gives it, and in SI."""
    if size.unit is None:
        return {}, None
    written = as_written((size.low + size.high) / 2, size.unit, 2)
    return {size.name: {"": (written,)}}, size.unit.to_si(float(written.split()[0]))


def _around(bounds: Sequence[Bound], scale: float | None, item: CompiledCharacteristic, unit: Unit) -> Sequence[str]:
    """Of each limit possible values on either side: near it, and nearer than any other; `scale` is for ratios."""
    numbers = [bound for bound in bounds if bound.number is not None]
    if scale is None and any(bound.is_ratio for bound in numbers):
        return ()
    limits = [(bound.number or 0.0) * ((scale or 1.0) if bound.is_ratio else 1.0) for bound in numbers]
    values = []
    for limit in limits:
        gaps = [abs(other - limit) / 3 for other in limits if other != limit]
        share = NEAR * (abs(limit) or min((abs(other) for other in limits if other), default=item.high - item.low))
        step = min([share, *gaps])
        values += [limit - step, limit + step]
    return [as_written(value, unit) for value in sorted(values) if item.low <= value <= item.high]
