"""Explaining a rule: its limits for every use, each with the line that states it and what it overrules."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from checker.block import Block
from checker.cases import read_cases
from checker.compiled import DEMANDS, POSITIONS, Candidate, CompiledRule, LimitSet
from checker.display import shown_in
from checker.errors import Problem, UsageError, nearest
from checker.judge import Measures, measure
from checker.layout import Layout
from checker.notation import NotationError, read_quantity, write_quantity
from checker.rulebook import Rulebook
from checker.truth import Array

WIDTH = 100


def explain(rulebook: Rulebook, name: str, at: Sequence[str] = ()) -> str:
    """A page on one rule; `at` gives sizes to compute limits for, such as "cylinder_bore=4.030in".

    Raises UsageError for an unknown rule or a size that cannot be read.
    """
    rule = rulebook.rule(name)
    sizes, units = _sizes(rulebook, at)
    block = _block(rulebook, sizes)
    lines = [*_head(rule), "", *_limits(rulebook, rule, block, units), *_others(rulebook, rule, block, units)]
    lines += [*_advice(rule), *_guards(rulebook, rule)]
    return "\n".join(lines).rstrip() + "\n"


def _sizes(rulebook: Rulebook, at: Sequence[str]) -> tuple[dict[str, Array], dict[str, str]]:
    found: dict[str, Array] = {}
    units: dict[str, str] = {}
    problems: list[Problem] = []
    for text in at:
        name, _, written = text.partition("=")
        item = rulebook.characteristics.get(name)
        if item is None:
            problems.append(Problem(f"unknown characteristic {name!r}", hint=nearest(name, rulebook.characteristics)))
        elif item.unit is None:
            if written in item.characteristic.choices:
                found[name] = np.array([[float(item.characteristic.choices.index(written))]])
            else:
                problems.append(Problem(f"{name} is one of {', '.join(item.characteristic.choices)}"))
        else:
            try:
                quantity = read_quantity(written, item.unit, None)
            except NotationError as error:
                problems.append(Problem(f"{name}: {error}"))
                continue
            found[name] = np.array([[quantity.spans[0].low]])
            units[quantity.unit.kind] = quantity.unit.name
    if problems:
        raise UsageError(problems)
    return found, units


def _block(rulebook: Rulebook, sizes: Mapping[str, Array]) -> Block:
    parents = {name: stations.parent for name, stations in rulebook.layered.stations.items()}
    return Block(rulebook.characteristics, Layout(dict.fromkeys(parents, 1), parents), sizes)


def _head(rule: CompiledRule) -> Iterator[str]:
    stated = rule.rule
    yield f"{stated.title} ({rule.name})"
    yield from _folded(f"judges {stated.judges}{f' at every {rule.stations}' if rule.stations else ''}")
    if stated.per_unit_of:
        yield from _folded(f"limits that are bare numbers count per unit of {stated.per_unit_of}")
    if stated.when:
        yield from _folded(f"applies when {stated.when}")
    if stated.unless:
        yield from _folded(f"does not apply when {stated.unless}")
    yield from _folded(f"must hold before {stated.before}; {stated.system}; {stated.origin}")
    for amendment in stated.amended:
        yield from _folded(f"amended by {amendment.origin}: {amendment.because}")


def _limits(rulebook: Rulebook, rule: CompiledRule, block: Block, units: Mapping[str, str]) -> Iterator[str]:
    for application in rulebook.applications:
        chain = rulebook.chain(application)
        title = rulebook.layered.applications[application].title
        reason = next((rule.rule.not_for[name] for name in chain if name in rule.rule.not_for), "")
        if reason:
            yield f"{application} ({title}): not applicable"
            yield from _folded(reason)
            continue
        lines = list(_bands(rule, rule.limits, chain, measure(rule, block, chain), units))
        yield f"{application} ({title}){'' if lines else ': no limit is known'}"
        yield from lines
    yield ""


def _bands(
    rule: CompiledRule, limits: LimitSet, chain: tuple[str, ...], measures: Measures, units: Mapping[str, str]
) -> Iterator[str]:
    for number, (band, side) in enumerate((*POSITIONS, *DEMANDS)):
        for candidate in limits.candidates(chain, band, side):
            amount = _amount(rule, measures, number, candidate, units)
            limit = candidate.bound.limit
            condition = f" when {candidate.when.text}" if candidate.when else ""
            yield from _folded(f"{band} {_wording(rule, candidate)}{amount}{condition}")
            basis = limit.basis or rule.rule.basis
            yield from _folded(f"{basis}; {limit.origin}", 6)


def _wording(rule: CompiledRule, candidate: Candidate) -> str:
    limit = candidate.bound.limit
    if limit.side == "broken":
        return f"be {' or '.join(limit.choices)}" if limit.choices else "hold"
    word = "at least" if limit.side == "low" else "at most"
    ratio = f" x {rule.rule.per_unit_of}" if candidate.bound.is_ratio else ""
    return f"{word} {limit.written}{ratio}"


def _amount(rule: CompiledRule, measures: Measures, number: int, candidate: Candidate, units: Mapping[str, str]) -> str:
    """The limit in numbers, where the given sizes decide it and it is not a plain number anyway."""
    if number >= len(POSITIONS) or (candidate.bound.constant is not None and not candidate.bound.is_ratio):
        return ""
    value = float(measures.limits[number][0, 0])
    return f" = {write_quantity(value, shown_in(rule.unit, units))}" if np.isfinite(value) else ""


def _others(rulebook: Rulebook, rule: CompiledRule, block: Block, units: Mapping[str, str]) -> Iterator[str]:
    for other in rule.others:
        yield f"Overruled or elsewhere: {other.title}"
        for application in sorted(other.applications):
            chain = (application,) if application != "any" else ()
            measures = measure(rule, block, chain, limits=other)
            lines = list(_bands(rule, other, chain, measures, units))
            yield from ([f"  {application}", *lines] if lines else [])
        yield ""


def _advice(rule: CompiledRule) -> Iterator[str]:
    for side, words in rule.rule.remedies.items():
        yield from _folded(f"when {'too ' if side != 'broken' else ''}{side}: {words}", 0)
    if rule.rule.caution:
        yield from _folded(f"caution: {rule.rule.caution}", 0)
    if not rule.rule.concession_allowed:
        yield "No concession may be given."


def _guards(rulebook: Rulebook, rule: CompiledRule) -> Iterator[str]:
    cases = [case for pack in rulebook.packs for case in read_cases(pack) if case.rule == rule.name]
    yield f"{len(cases)} cases guard it."
    for source in dict.fromkeys(case.source for case in cases if case.source):
        yield from _folded(source)


def _folded(text: str, indent: int = 2) -> Iterator[str]:
    gap = " " * indent
    yield from textwrap.wrap(text, WIDTH, initial_indent=gap, subsequent_indent=gap + "  ", break_on_hyphens=False)
