"""Judging the assemblies of a table as blocks of many rows; what arrays cannot tell is judged as a record of its own.

The verdicts are those of checking each row as a record. Where readings are known from their ends only, were warm and
cannot be brought to 20 degrees, or not without a look at their digits, or nobody knows how far they may be off, rules
are judged row by row.
So is each row in which something is odd: a value that is not possible or does not agree with what others make of it,
several readings, a text that says more than a number, or a size beside which a part sheet may be suspect.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from checker.checking.book import Book
from checker.checking.check import check_record
from checker.checking.question import Question
from checker.errors import InputError
from checker.expressions.boxes import Indices
from checker.expressions.faults import noting
from checker.expressions.names import COMPUTED, MEASURED, Column
from checker.expressions.truth import Array, Truths
from checker.frozen import FrozenMapping
from checker.judging.block import Block
from checker.judging.choices import alike_under_all, combinations_of, open_facts, stated
from checker.judging.conformity import Doubt
from checker.judging.inspection import Inspector, is_asked_throughout
from checker.judging.judge import Judged, Verdict, judge
from checker.judging.measures import Measures
from checker.judging.proof import Asked
from checker.judging.rows import Doubtful, Ruled, compared, judge_rows
from checker.judging.unmeasured import standing
from checker.tables.assemblies import Assemblies
from checker.tables.doubts import TableDoubts
from checker.tables.sheets import sheets_of
from checker.tables.told import Numbers, Told, told_by_comparing, told_of
from checker.tables.views import TableBlock, table_views

LEAST, ROWS, IN_DOUBT = 2048, 8192, 4096
"""So many rows are judged together; fewer where something is in doubt, for each cause keeps arrays of its own."""
CELLS = 4_000_000
"""So many numbers at the most are read into memory at once: more than 32 MB the C library never keeps to use again, nor
then what is freed besides, and to be given new memory for each block takes a quarter of the time.
"""
_NOTHING_SEEN = ()
_TOLD_BY_COMPARING = frozenset({Verdict.WITHIN, Verdict.NOT_APPLICABLE})
_NOT_MEASURED = int(Verdict.NOT_MEASURED)  # compared many times as fast as a member of an Enum


class Refused(NamedTuple):
    """A row that could not be judged, and why."""

    row: int
    error: InputError


class Judging:
    """One question asked of every assembly of a table."""

    def __init__(self, book: Book, assemblies: Assemblies, asked: Question, wanted: Sequence[Verdict]) -> None:
        """Findings are told with these verdicts."""
        self.book = book
        self.wanted = np.array(wanted, dtype=np.int64)
        self.tells_all = not _TOLD_BY_COMPARING.isdisjoint(wanted)
        self.assemblies = assemblies
        self.asked = asked
        self.failed: Counter[str] = Counter()
        """How functions of plugins failed so far, each with the number of rows in which it did."""
        found = assemblies.found
        self.sheets = sheets_of(book, found, asked)
        self.rules, self.inputs = self.sheets.rules, self.sheets.context.inputs
        self.names = list(self.rules)
        measured = found.columns.gathered.keys() | assemblies.told
        resting = book.resting(asked.chain, asked.due)
        involved = {rule for name in measured for rule in resting.get(name, ())}
        self.involved = [name for name in self.names if name in involved or name in self.sheets.rules_touched]
        doubtful = assemblies.doubtful(asked.decision.needs_instruments)
        self.in_doubt = frozenset(self._resting_on(doubtful))
        unproven = assemblies.unproven(asked.decision.needs_instruments)
        self.by_row = self._resting_on(unproven)
        # A record that is judged by some rules is judged by those that its sheets bring besides.
        apart = {*self.by_row, *(self.sheets.alone if self.by_row else ())}
        by_arrays = [name for name in self.involved if name not in apart]
        self.is_odd_everywhere = bool(found.set_aside or found.disputed or self.sheets.are_suspect)
        alike = self._block({})
        self.standing = dict(self._standing(by_arrays, alike))
        self.is_odd_everywhere |= any(alike.refuses(*computed)[0] for computed in alike.computed())
        is_asked = (is_asked_throughout(self.rules[name], asked.plan) for name in self.names)
        self.inspected = [name for name, is_asked in zip(self.names, is_asked, strict=True) if not is_asked]
        self.under_choices = frozenset(name for name in by_arrays if self._may_be_open(name, alike))
        in_full = {*by_arrays} if self.tells_all else self.under_choices | set(self.inspected)
        self.in_full = [name for name in by_arrays if name in in_full]
        self.by_comparing = [name for name in by_arrays if name not in in_full]
        self.unmeasured = [name for name in self.names if name not in {*self.involved}]

    def _resting_on(self, some: frozenset[str]) -> list[str]:
        """The rules of the table that rest on some characteristics."""
        return [name for name in self.involved if not some.isdisjoint(self.inputs(name).names)] if some else []

    def _standing(self, by_arrays: Iterable[str], alike: Block) -> Iterator[tuple[str, Ruled]]:
        """The rules whose limits no row bears on, if they can be told from what is alike for all of them."""
        unmeasured = self.book.unmeasured(self.asked.chain, self.assemblies.found.layout)
        told, given = self.assemblies.told, self.assemblies.found.columns.gathered.keys()
        for name in by_arrays:
            if name in self.sheets.rules_touched:
                continue
            rule, limiting = self.rules[name], self.book.limiting(name, self.asked.chain)
            if limiting.isdisjoint(told):
                is_given = not limiting.isdisjoint(given)
                known = standing(rule, alike, self.asked.chain) if is_given else unmeasured.standing(name)
                if known is not None:
                    yield name, known

    def _may_be_open(self, name: str, alike: Block) -> bool:
        """Whether a rule may rest on a fact that nobody stated, in some rows or in all."""
        found = self.assemblies.found
        return any(open_facts(self.rules[name], self.inputs(name), alike, found.layout, found.set_aside))

    def told(self) -> Iterator[Told | Refused]:
        """What is said of all rows, in the order in which they are judged."""
        at_once = IN_DOUBT if self.in_doubt else min(ROWS, max(LEAST, CELLS // max(1, self.assemblies.cells)))
        for start in range(0, self.assemblies.rows, at_once):
            yield from self._told(slice(start, min(start + at_once, self.assemblies.rows)))

    def _told(self, rows: slice) -> Iterator[Told | Refused]:
        measured, odd = self.assemblies.values(rows)
        for values in measured.values() if odd.any() else ():
            values[odd] = np.nan  # what is not possible is not to be calculated with; such rows are judged alone
        with noting() as faults:
            told, is_odd = self._together(measured, np.arange(rows.start, rows.stop))
        odd |= is_odd
        if faults or self.is_odd_everywhere:
            odd[:] = True
        plain = np.flatnonzero(~odd)
        if self.by_row:
            yield from self._with_doubt(told, plain)
        elif plain.size:
            yield told.of(plain)
        for row in np.flatnonzero(odd).tolist():
            yield self._alone(self.book, rows.start + row)

    def _with_doubt(self, told: Told, rows: Numbers) -> Iterator[Told | Refused]:
        """Rows of which some rules are judged row by row, for what they rest on is in doubt."""
        some = self.book.only(*(name for name in self.by_row if name not in self.sheets.alone))
        for row in rows.tolist():
            own = told.of(np.array([row]))
            found = self._alone(some, int(own.rows[0]))
            yield own.with_others(found) if isinstance(found, Told) else found

    def _alone(self, book: Book, row: int) -> Told | Refused:
        try:
            report = check_record(book, self.assemblies.record(row), self.asked)
        except InputError as error:
            return Refused(row, error)
        self.failed.update(set(report.context.stopped.values()))
        refused = sum(bool(reading.set_aside) for reading in report.readings)
        return told_of(report.judged, np.array([row]), self.wanted, refused)

    def _together(self, measured: Mapping[str, Array], rows: Numbers) -> tuple[Told, Truths]:
        """What is said of rows by arrays, and of which of them arrays cannot tell."""
        found, decision = self.assemblies.found, self.asked.decision
        block = self._block(measured)
        odd = self._in_dispute(block, rows.size) | self.sheets.odd_rows(block)
        unmeasured = self.book.unmeasured(self.asked.chain, found.layout).judged(self.unmeasured)
        judged = {name: unmeasured[name] for name in self.unmeasured}
        doubts = TableDoubts(block, self.assemblies.sizes(measured), decision, rows.size)
        judged |= {one.rule.name: one for one in self._judged(self.in_full, doubts, self.standing)}
        judged |= {name: self._under_choices(judged[name], doubts) for name in self.under_choices}
        plainly = compared(self._compared(self.by_comparing, doubts, self.standing, judged), rows.size)
        for item, derived in block.computed():
            odd |= block.refuses(item, derived)
        inspector = Inspector(block, self.asked.plan, _NOTHING_SEEN, found.past, self.inputs, frozenset(), rows.size)
        judged |= {name: inspector.inspected(judged[name]) for name in self.inspected if name in judged}
        told = told_of(judged.values(), rows, self.wanted)
        return told.with_others(told_by_comparing(plainly, decision, rows, self.wanted)), odd

    def _block(self, measured: Mapping[str, Array]) -> Block:
        found = self.assemblies.found
        whole = FrozenMapping({**found.columns.measured, **measured})
        views = table_views(measured, found.columns.views)
        return TableBlock(self.book.characteristics, found.layout, whole, views)

    def _in_dispute(self, block: Block, count: int) -> Truths:
        """In which rows something measured and the same computed may be further apart than either leaves open."""
        odd = np.zeros(count, dtype=np.bool_)
        for name in block.measured:
            item = block.characteristics[name]
            if item.agrees_within is not None and item.derived is not None and item.unit is not None:
                per = item.characteristic.per
                one, other = (block.fetch(Column(name, view, per)) for view in (MEASURED, COMPUTED))
                odd |= (np.abs(one - other) > item.agrees_within * (1 - 1e-9)).any(axis=1)
        return odd

    def _judged(self, names: Iterable[str], doubts: TableDoubts, standing: Mapping[str, Ruled]) -> Iterator[Judged]:
        """The verdicts of rules, with all that they see."""
        whole: dict[str, Judged] = {}
        yield from judge_rows(self._compared(names, doubts, standing, whole), doubts.rows, self.asked.decision)
        yield from whole.values()

    def _compared(
        self, names: Iterable[str], doubts: TableDoubts, standing: Mapping[str, Ruled], whole: dict[str, Judged]
    ) -> Iterator[Ruled]:
        """What is to be compared of each rule; those of which doubt is not bounded in all rows are judged `whole`."""
        for name in names:
            rule, part, doubtful = self.rules[name], self.sheets.parts.get(name), None
            if name in self.in_doubt and doubts.bear_on(inputs := self.inputs(name)):
                asked = Asked(rule, self.asked.chain, part, inputs, doubts.block)
                is_by_packs = name not in self.sheets.rules_touched
                reach = doubts.reach(asked, self.book.limiting(name, self.asked.chain)) if is_by_packs else None
                if reach is None:
                    measures, doubt = self._about(asked, doubts)
                    whole[name] = judge(rule, measures, self.asked.decision, doubt)._replace(doubt=None)
                    continue
                doubtful = Doubtful(reach, partial(self._about_some, asked, doubts))
            known = standing.get(name)
            seen = Ruled.of(rule, doubts.block, self.asked.chain, part) if known is None else known.seeing(doubts.block)
            yield seen if doubtful is None else seen.doubted(doubtful)

    def _about_some(self, asked: Asked, doubts: TableDoubts, rows: Indices) -> tuple[Measures, Doubt]:
        some = doubts.of_rows(rows, asked.inputs.names)
        return self._about(asked._replace(measured=some.block), some)

    def _about(self, asked: Asked, doubts: TableDoubts) -> tuple[Measures, Doubt]:
        """What a rule sees in each row, and all there is to know of the doubt about that."""
        # What is proven is proven row by row, though a rule may see the same in all of them.
        measures = asked.measures(doubts.block).of_rows(doubts.rows)
        return measures, doubts.about_rule(asked, measures)

    def _under_choices(self, one: Judged, doubts: TableDoubts) -> Judged:
        """The verdicts that come out alike whatever the facts are that nobody stated, as for a record (choices.py)."""
        found, block = self.assemblies.found, doubts.block
        if not (one.codes == _NOT_MEASURED).any():
            return one
        facts = tuple(open_facts(one.rule, self.inputs(one.rule.name), block, found.layout, found.set_aside))
        filled = (stated(block, facts, np.array([choice], np.float64)) for choice in combinations_of(facts))
        each = [next(self._judged([one.rule.name], doubts.with_values(values), {})) for values in filled]
        rows = max(len(judged.codes) for judged in (one, *each))
        return alike_under_all(one.of_rows(rows), [judged.of_rows(rows) for judged in each]) if each else one
