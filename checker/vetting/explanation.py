"""Explaining a rule: its limits for every use, who states each of them where, and what they overrule."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from checker.errors import Problem, UsageError, nearest
from checker.expressions.truth import Array
from checker.findings.display import shown_in
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.effective import effective_limits
from checker.judging.judge import Verdict, judge, measure, measure_for
from checker.notation.read import NotationError, read_quantity
from checker.notation.write import write_quantity
from checker.packs.cases import read_cases
from checker.packs.compiled import POSITIONS, Candidate, CompiledEntry, CompiledRule, LimitSet
from checker.packs.inspection import asked_words
from checker.packs.limit_words import entry_words, limit_words, side_words
from checker.packs.pack import ANY, BANDS
from checker.records.layout import Layout
from checker.rulebook import Rulebook
from checker.units.units import Unit

WIDTH = 100
MOST_SOURCES = 8


def explain(rulebook: Rulebook, name: str, at: Sequence[str] = ()) -> str:
    """A page on one rule; `at` gives sizes to compute limits for, such as "shaft_diameter=40 mm".

    Raises UsageError for an unknown rule or a size that cannot be read.
    """
    sizes, units = _sizes(rulebook, at)
    page = _Page(rulebook, rulebook.rule(name), sizes, units, at)
    parts = (page.head(), page.effective(), page.stated(), page.elsewhere(), page.advice(), page.guards())
    return "\n\n".join(text for part in parts if (text := "\n".join(part))) + "\n"


def _sizes(rulebook: Rulebook, at: Sequence[str]) -> tuple[dict[str, Array], dict[str, str]]:
    """The sizes given, by name, and the units they were given in, by kind."""
    found: dict[str, Array] = {}
    units: dict[str, str] = {}
    problems: list[Problem] = []
    for text in at:
        name, _, written = (part.strip() for part in text.partition("="))
        item = rulebook.characteristics.get(name)
        if item is None:
            problems.append(Problem(f"unknown characteristic {name!r}", hint=nearest(name, rulebook.characteristics)))
        elif item.unit is None:
            choices = item.characteristic.choices
            if written in choices:
                found[name] = np.array([[float(choices.index(written))]])
            else:
                hint = nearest(written, choices) or f"one of {', '.join(choices)}"
                problems.append(Problem(f"{name} cannot be {written!r}", hint=hint))
        else:
            try:
                quantity = read_quantity(written, item.unit, None)
            except NotationError as error:
                problems.append(Problem(f"{name}: {error}", hint=f"write {name}=VALUE {item.unit.name}"))
                continue
            if not quantity.is_one_value:
                problems.append(Problem(f"{name}: {written!r} is not one value"))
                continue
            found[name] = np.array([[quantity.spans[0].low]])
            units[quantity.unit.kind] = quantity.unit.name
    if problems:
        raise UsageError(problems)
    return found, units


@dataclass(frozen=True)
class _Page:
    """One rule, and the sizes for which its limits are computed."""

    rulebook: Rulebook
    rule: CompiledRule
    sizes: Mapping[str, Array]
    units: Mapping[str, str]
    at: Sequence[str]

    @cached_property
    def block(self) -> Block:
        """One assembly with one station of each kind, of which only the sizes are known."""
        parents, items = self.rulebook.layered.parents, self.rulebook.characteristics
        # What is not given may be known of an assembly or not: a limit that asks for it is shown.
        left_open = {name: np.ones((1, 1), dtype=np.bool_) for name in items if name not in self.sizes}
        return Block(items, Layout(dict.fromkeys(parents, 1), parents), self.sizes, set_aside=left_open)

    @property
    def unit(self) -> Unit:
        return shown_in(self.rule.unit, self.units)

    @cached_property
    def numbers(self) -> Mapping[int, int]:
        """The number of each entry on the page, by its place among the entries of the rule."""
        return {id(bound): number for number, entry in enumerate(self.entries, 1) for bound in entry.bounds}

    @cached_property
    def entries(self) -> tuple[CompiledEntry, ...]:
        return self.rule.limits.entries

    def head(self) -> Iterator[str]:
        """What the rule judges, where and when."""
        rule, stated = self.rule, self.rule.rule
        yield f"{stated.title} ({rule.name})"
        where = f" at every {rule.stations}" if rule.stations else ""
        yield from _folded(f"judges {stated.judges}{where}, before {stated.before}")
        item = self.rulebook.layered.characteristics.get(rule.judges.text)
        if item is not None and item.derived:
            yield from _folded(f"where it was not measured it is {item.derived}")
        if item is not None:
            yield from _folded(" ".join(filter(None, (item.how, item.instrument and f"With {item.instrument}."))))
        if stated.when:
            yield from _folded(f"applies only when {stated.when}")
        if stated.unless:
            yield from _folded(f"does not apply when {stated.unless}")
        yield from _folded(asked_words(stated))
        yield from _folded(f"{stated.system}; {stated.origin}")
        for amendment in stated.amended:
            yield from _folded(f"amended by {amendment.origin}: {amendment.because}")

    def effective(self) -> Iterator[str]:
        """The limits that count, use by use; uses with the same limits stand together."""
        yield f"Limits for {', '.join(self.at)}" if self.at else "Limits"
        uses: dict[tuple[str, ...], list[str]] = {}
        for application in self.rulebook.applications:
            uses.setdefault(tuple(self._limits_for(application)), []).append(application)
        for lines, applications in uses.items():
            everyone = len(uses) == 1 and len(applications) > 1
            yield from _folded("every use" if everyone else ", ".join(applications))
            yield from lines

    def _limits_for(self, application: str) -> Iterator[str]:
        chain = self.rulebook.chain(application)
        reason = next((self.rule.rule.not_for[name] for name in chain if name in self.rule.rule.not_for), "")
        if reason:
            yield from _folded(f"not applicable: {reason}", 4)
            return
        found = effective_limits(self.rule, chain, self.block)
        for condition, candidates in found.items():
            if condition:
                yield from _folded(condition, 4)
            yield from self._bands(candidates, 6 if condition else 4)
        if not found:
            yield from _folded("no limit is known", 4)
        yield from self._verdict(chain)

    def _bands(self, candidates: Sequence[Candidate], indent: int) -> Iterator[str]:
        for band in BANDS:
            told = [self._told(candidate) for candidate in candidates if candidate.bound.limit.band == band]
            if told:
                yield from _folded(f"{band:6} {', '.join(told)}", indent)

    def _told(self, candidate: Candidate) -> str:
        """One limit, as a number where it is known, with the number of the entry that states it."""
        bound = candidate.bound
        amount = self._amount(candidate)
        words = limit_words(bound, self.rule) if amount is None else f"{side_words(bound.limit.side)} {amount}"
        return f"{words} [{self.numbers[id(bound)]}]"

    def _amount(self, candidate: Candidate) -> str | None:
        """A limit in numbers, where the given sizes decide it."""
        if self.rule.is_demand:
            return None
        alone = CompiledEntry(ANY, None, (candidate.bound,))
        limits = measure(self.rule, self.block, (), limits=self.rule.limits.with_entries([alone])).limits
        number = POSITIONS.index((candidate.bound.limit.band, candidate.bound.limit.side))
        value = float(limits[number][0, 0])
        return write_quantity(value, self.unit) if np.isfinite(value) else None

    def _verdict(self, chain: tuple[str, ...]) -> Iterator[str]:
        """What the rule says where the given sizes are enough to judge."""
        measures = measure_for(self.rule, self.block, chain)
        value = float(measures.value[0, 0])
        if self.at and np.isfinite(value):
            verdict = Verdict(judge(self.rule, measures, Decision("simple")).codes[0, 0])
            shown = "" if self.rule.is_demand else f"{write_quantity(value, self.unit)} is "
            yield f"    {shown}{verdict}"

    def stated(self) -> Iterator[str]:
        """Every limit as it was stated, with its pack, line and basis, and what it overrules."""
        yield "Stated"
        for number, entry in enumerate(self.entries, 1):
            if not entry.bounds:
                continue
            limit = entry.bounds[0].limit
            yield from _folded(f"[{number}] {entry_words(entry, self.rule)}", 2, 6)
            origin = limit.origin
            yield from _folded(f"{origin.pack} {origin.version}, {origin.place.file}:{origin.place.line}", 6, 6)
            yield from _folded(f"{limit.basis or self.rule.rule.basis}", 6, 6)

    def elsewhere(self) -> Iterator[str]:
        """What was overruled, and what other sources say."""
        still = {bound.limit.origin for entry in self.entries for bound in entry.bounds}
        packs = {str(pack) for pack in self.rulebook.packs}
        for other in self.rule.others:
            gone = [
                tuple(bound for bound in entry.bounds if bound.limit.origin not in still) for entry in other.entries
            ]
            entries = [entry._replace(bounds=left) for entry, left in zip(other.entries, gone, strict=True) if left]
            if entries:
                yield from _folded(f"{'Overruled' if other.title in packs else 'Elsewhere'}: {other.title}", 0, 2)
                yield from self._others(entries, other)

    def _others(self, entries: Sequence[CompiledEntry], other: LimitSet) -> Iterator[str]:
        for entry in entries:
            yield from _folded(entry_words(entry, self.rule), 2, 6)
        for basis in dict.fromkeys(str(entry.bounds[0].limit.basis or other.basis) for entry in entries):
            yield from _folded(basis, 6, 6)

    def advice(self) -> Iterator[str]:
        """What to do, and what to beware of."""
        for side, words in self.rule.rule.remedies.items():
            too = "broken" if side == "broken" else f"too {side}"
            yield from _folded(f"When {too}: {words.replace('{', '(').replace('}', ')')}", 0, 2)
        if self.rule.rule.caution:
            yield from _folded(f"Caution: {self.rule.rule.caution}", 0, 2)
        if not self.rule.rule.concession_allowed:
            yield "No concession may be given."

    def guards(self) -> Iterator[str]:
        """The cases that hold it, and where their figures come from."""
        cases = [case for pack in self.rulebook.packs for case in read_cases(pack, self.rule.name)]
        sources = list(dict.fromkeys(case.source for case in cases if case.source))
        yield f"Held by {len(cases)} cases{':' if sources else '.'}"
        for source in sources[:MOST_SOURCES]:
            yield from _folded(source)
        if len(sources) > MOST_SOURCES:
            yield from _folded(f"and {len(sources) - MOST_SOURCES} more")


def _folded(text: str, indent: int = 2, following: int | None = None) -> Iterator[str]:
    rest = indent + 2 if following is None else following
    first, others = " " * indent, " " * rest
    yield from textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=others, break_on_hyphens=False)
