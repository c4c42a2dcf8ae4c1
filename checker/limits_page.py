"""One rule in full: its limits use by use, who states each of them where, and what they overrule."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from checker.findings.finding import BAND_WORDS
from checker.findings.text import Look
from checker.given import Given
from checker.judging.conformity import Decision
from checker.judging.judge import Verdict, judge
from checker.judging.measures import Measures, measure
from checker.limits import LimitVariant, RuleLimit, RuleLimits, limits_of
from checker.limits_text import IN_PLACE, by_limits, variant_words
from checker.notation.write import write_quantity
from checker.packs.cases import read_cases
from checker.packs.compiled import CompiledRule
from checker.packs.inspection import asked_words
from checker.packs.limit_set import CompiledEntry
from checker.packs.limit_words import bare_words, side_words
from checker.packs.limits import PHYSICS
from checker.packs.rule import NEVER
from checker.packs.titles import Titles
from checker.rulebook import Rulebook
from checker.units.units import unit

MOST_SOURCES = 8

_BANDS = {PHYSICS: "by physics", **BAND_WORDS}


def limits_page(
    rulebook: Rulebook, rule: CompiledRule, applications: Sequence[str], given: Given, sizes: str, look: Look
) -> str:
    """A page on one rule for these uses; `sizes` says in words what is given."""
    page = _Page(rulebook, rule, applications, given, sizes, look)
    parts = (page.head(), page.effective(), page.stated(), page.elsewhere(), page.advice(), page.guards())
    return "\n\n".join(text for part in parts if (text := "\n".join(part))) + "\n"


@dataclass(frozen=True)
class _Page:
    """One rule, the uses asked for, and what is given to compute its limits with."""

    rulebook: Rulebook
    rule: CompiledRule
    applications: Sequence[str]
    given: Given
    sizes: str
    look: Look

    @property
    def titles(self) -> Titles:
        return Titles(self.rulebook.layered)

    @cached_property
    def limits(self) -> Sequence[RuleLimits]:
        return [limits_of(self.rulebook, self.rule, name, self.given) for name in self.applications]

    @cached_property
    def entries(self) -> Mapping[tuple[str, str, str], tuple[int, CompiledEntry]]:
        """What is stated for the uses asked for, each with its number on the page."""
        counting = {_key(limit) for limits in self.limits for variant in limits.variants for limit in variant.limits}
        entries: dict[tuple[str, str, str], tuple[int, CompiledEntry]] = {}
        number = 0
        for entry in self.rule.limits.entries:
            when = "" if entry.when is None else entry.when.text
            keys = [(entry.application, when, str(bound.limit.origin)) for bound in entry.bounds]
            if not counting.isdisjoint(keys):
                number += 1
                entries.update((key, (number, entry)) for key in keys)
        return entries

    def head(self) -> Iterator[str]:
        """What the rule judges, where and when."""
        rule, stated = self.rule, self.rule.rule
        yield stated.title
        where = f" at every {self.titles.of(rule.stations)}" if rule.stations else ""
        due = self.rulebook.layered.milestone_titles[stated.before]
        yield from self._folded(f"judges {self.titles.said(stated.judges)}{where}, due {due}")
        item = self.rulebook.layered.characteristics.get(rule.judges.text)
        if item is not None and item.derived:
            yield from self._folded(f"where it was not measured it is {self.titles.said(str(item.derived))}")
        if item is not None:
            yield from self._folded(" ".join(filter(None, (item.how, item.with_ and f"With {item.with_}."))))
        if stated.when:
            yield from self._folded(f"applies only when {self.titles.said(stated.when)}")
        if stated.unless:
            yield from self._folded(f"does not apply when {self.titles.said(stated.unless)}")
        yield from self._folded(asked_words(stated, self.titles.said))
        yield from self._folded(f"{stated.system}; {stated.origin}")
        yield from self._folded(f"in a record or a pack: {rule.name}")
        if stated.limits_of:
            *band, lender = stated.limits_of.split(" of ")
            what = {"must": "required limits", "should": "recommended limits"}[band[0]] if band else "limits"
            title = self.rulebook.layered.rules[lender].title
            yield from self._folded(f"{what} taken from: {title}")
        for amendment in stated.amended:
            yield from self._folded(f"amended by {amendment.origin}: {amendment.because}")

    def effective(self) -> Iterator[str]:
        """The limits that count, use by use; uses with the same limits stand together."""
        yield f"Limits for {self.sizes}" if self.sizes else "Limits"
        for names, limits in by_limits(self.limits, self.titles).items():
            yield from self._folded(names)
            if limits.part_sheet:
                yield from self._folded(f"{IN_PLACE}: {limits.part_sheet}", 4)
            if limits.not_applicable:
                yield from self._folded(f"not applicable: {limits.not_applicable}", 4)
                continue
            for variant in limits.variants:
                yield from self._variant(variant)
            if not limits.variants:
                yield from self._folded("no limit is known", 4)
            if limits.needed:
                yield from self._folded(f"still needed: {', '.join(map(self.titles.of, limits.needed))}", 4)
            yield from self._verdict(limits)

    def _variant(self, variant: LimitVariant) -> Iterator[str]:
        label = variant_words(variant, self.titles)
        if label:
            yield from self._folded(label, 4)
        indent = 6 if label else 4
        for band, title in _BANDS.items():
            if words := [self._numbered(limit) for limit in variant.limits if limit.band == band]:
                yield from self._folded(f"{title:11} {', '.join(words)}", indent)
        if not variant.limits:
            yield from self._folded("no limit is known", indent)

    def _numbered(self, limit: RuleLimit) -> str:
        """One limit with the number of the statement it comes from."""
        words = limit.words if limit.side == "broken" else f"{side_words(limit.side)} {self.titles.said(limit.words)}"
        return f"{words} [{self.entries[_key(limit)][0]}]"

    def _verdict(self, limits: RuleLimits) -> Iterator[str]:
        """What the rule says where what is given is enough to judge, and no maker's sheet may say otherwise."""
        if limits.part_sheet:
            return
        measures = measure(self.rule, self.given.block(self.rulebook), self.rulebook.chain(limits.application))
        value = float(measures.value[0, 0])
        if self.given.values and np.isfinite(value) and not self._hangs_on_others(measures, limits.application):
            verdict = Verdict(judge(self.rule, measures, Decision("simple")).codes[0, 0])
            shown = "" if self.rule.is_demand else f"{write_quantity(value, unit(limits.unit))} is "
            yield f"    {shown}{verdict}"

    def _hangs_on_others(self, alone: Measures, application: str) -> bool:
        """Whether the verdict of a part hangs on how many others there are, or on what is measured of them.

        Of them nothing was given: a spread over parts that are all taken to be alike would always hold.
        """
        block, chain = self.given.block(self.rulebook, branching=2), self.rulebook.chain(application)
        for share in (-0.01, 0.0, 0.01):
            moved = {name: array.copy() for name, array in block.measured.items()}
            for name, array in moved.items():
                if self.rulebook.characteristics[name].unit is not None:
                    array[0, :-1] += share * (np.abs(array[0, :-1]) + 1e-3)
            seen = measure(self.rule, block.with_values(moved), chain)
            known, of_last = (
                np.append(one.limits[:, 0, station], one.value[0, station]) for one, station in ((alone, 0), (seen, -1))
            )
            if not np.allclose(known, of_last, rtol=1e-9, atol=0.0, equal_nan=True):
                return True
        return False

    def stated(self) -> Iterator[str]:
        """Every limit as it was stated, with its pack, line and basis, and what it overrules."""
        yield "Stated"
        for number, entry in dict(self.entries.values()).items():
            limit = entry.bounds[0].limit
            yield from self._folded(f"[{number}] {self._entry(entry)}", 2, 4)
            yield from self._folded(str(limit.origin), 6, 0)
            yield from self._folded(f"{limit.basis or self.rule.rule.basis}", 6, 0)

    def elsewhere(self) -> Iterator[str]:
        """What was overruled, and what other sources say."""
        still = {bound.limit.origin for entry in self.rule.limits.entries for bound in entry.bounds}
        packs = {str(pack) for pack in self.rulebook.packs}
        for other in self.rule.alternatives:
            gone = [
                tuple(bound for bound in entry.bounds if bound.limit.origin not in still) for entry in other.entries
            ]
            entries = [entry._replace(bounds=left) for entry, left in zip(other.entries, gone, strict=True) if left]
            if entries:
                yield from self._folded(f"{'Overruled' if other.title in packs else 'Elsewhere'}: {other.title}", 0)
                bases = dict.fromkeys(str(entry.bounds[0].limit.basis or other.basis) for entry in entries)
                yield from (line for entry in entries for line in self._folded(self._entry(entry), 2, 4))
                yield from (line for basis in bases for line in self._folded(basis, 6, 0))

    def _entry(self, entry: CompiledEntry) -> str:
        """What is stated for a use under a condition, every band."""
        bands = []
        for band, title in _BANDS.items():
            words = [
                f"{'' if bound.limit.side == 'broken' else side_words(bound.limit.side) + ' '}"
                f"{self.titles.said(bare_words(bound, self.rule))}"
                for bound in entry.bounds
                if bound.limit.band == band
            ]
            bands += [f"{title} {', '.join(words)}"] if words else []
        condition = f", when {self.titles.said(entry.when.text)}" if entry.when else ""
        return f"{self.titles.use(entry.application)}{condition}: {'; '.join(bands)}"

    def advice(self) -> Iterator[str]:
        """What to do, and what to beware of."""
        for side, action in self.rule.rule.remedy.by_side.items():
            too = "broken" if side == "broken" else f"too {side}"
            yield from self._folded(f"When {too}: {str(action).replace('{', '(').replace('}', ')')}", 0)
        if self.rule.rule.caution:
            yield from self._folded(f"Caution: {self.rule.rule.caution}", 0)
        if self.rule.rule.concession == NEVER:
            yield "No concession may be given."

    def guards(self) -> Iterator[str]:
        """The cases that hold it, and where their figures come from."""
        cases = [case for pack in self.rulebook.packs for case in read_cases(pack, (self.rule.name,))]
        sources = list(dict.fromkeys(case.source for case in cases if case.source))
        yield f"Held by {len(cases)} case{'' if len(cases) == 1 else 's'}{':' if sources else '.'}"
        for source in sources[:MOST_SOURCES]:
            yield from self._folded(source)
        if len(sources) > MOST_SOURCES:
            yield from self._folded(f"and {len(sources) - MOST_SOURCES} more")

    def _folded(self, text: str, indent: int = 2, more: int = 2) -> list[str]:
        """Text so far in; what goes on below stands further in by so many `more`."""
        return self.look.folded(text, self.look.width, " " * (indent + more), " " * indent)


def _key(limit: RuleLimit) -> tuple[str, str, str]:
    """What tells the statement of a limit from all others."""
    return limit.application, limit.when, limit.origin
