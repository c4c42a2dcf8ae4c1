"""Judging the assemblies of a table as blocks of many rows; what arrays cannot tell is judged as a record of its own.

The verdicts are those of checking each row as a record. Where readings are known from their ends only, or nobody knows
how far they may be off, rules are judged row by row.
So is each row in which something is odd: a value that is not possible or does not agree with what others make of it,
several readings, or a text that says more than a number.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import product
from typing import NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from checker.checking import needs
from checker.checking.check import check_record
from checker.checking.question import Question
from checker.errors import InputError
from checker.expressions.boxes import Indices
from checker.expressions.faults import noting
from checker.expressions.names import COMPUTED, MEASURED, Column
from checker.expressions.truth import Array, Truths
from checker.frozen import FrozenMapping
from checker.judging.block import Block
from checker.judging.choices import MOST_COMBINATIONS, are_low, merged, on_one_side, open_facts, stated
from checker.judging.conformity import Doubt
from checker.judging.inspection import Inspector
from checker.judging.judge import Judged, Verdict, judge, judge_within
from checker.judging.measures import Measures, measure_for
from checker.judging.proof import Asked
from checker.packs.compiled import CompiledRule
from checker.tables.assemblies import Assemblies
from checker.tables.doubts import TableDoubts
from checker.tables.views import TableViews

Numbers = npt.NDArray[np.int64]

ROWS = 4096
"""So many rows are judged together: more at once would only need more memory."""
_NOTHING_SEEN = ()
_NOT_MEASURED = int(Verdict.NOT_MEASURED)  # compared many times as fast as a member of an Enum


class Book(needs.Book, Protocol):
    """What judging a table needs of a rulebook."""

    def only(self, *rules: str) -> Book: ...


class Told(NamedTuple):
    """What is said of some rows of a table, by rule; in one row where a rule says the same of all of them."""

    rows: Numbers
    judged: Mapping[str, Judged]


class Refused(NamedTuple):
    """A row that could not be judged, and why."""

    row: int
    error: InputError


class Judging:
    """One question asked of every assembly of a table."""

    def __init__(self, book: Book, assemblies: Assemblies, asked: Question) -> None:
        self.book = book
        self.assemblies = assemblies
        self.asked = asked
        self.inputs = partial(book.inputs, chain=asked.chain)
        self.names = [name for name, rule in book.judging.items() if rule.before in asked.due]
        found = assemblies.found
        measured = {*found.columns.gathered, *(wanted.item.name for wanted in assemblies.wanted)}
        resting = book.resting(asked.chain, asked.due)
        involved = {rule for name in measured for rule in resting.get(name, ())}
        self.involved = [name for name in self.names if name in involved]
        doubtful = assemblies.doubtful(asked.decision.needs_instruments)
        self.in_doubt = frozenset(name for name in self.involved if not doubtful.isdisjoint(self.inputs(name).names))
        unproven = assemblies.unproven(asked.decision.needs_instruments)
        self.by_row = [name for name in self.involved if not unproven.isdisjoint(self.inputs(name).names)]
        # What a part sheet comes to, and whether it is suspect, may differ from row to row.
        self.is_odd_everywhere = bool(found.set_aside or found.disputed or found.part_sheets)

    def told(self) -> Iterator[Told | Refused]:
        """What is said of all rows, in the order in which they are judged."""
        for start in range(0, self.assemblies.rows, ROWS):
            yield from self._told(slice(start, min(start + ROWS, self.assemblies.rows)))

    def _told(self, rows: slice) -> Iterator[Told | Refused]:
        count = rows.stop - rows.start
        measured, odd = self.assemblies.values(rows)
        for values in measured.values() if odd.any() else ():
            values[odd] = np.nan  # what is not possible is not to be calculated with; such rows are judged alone
        with noting() as faults:
            judged, is_odd = self._together(measured, count)
        odd |= is_odd
        if faults or self.is_odd_everywhere:
            odd[:] = True
        plain = np.flatnonzero(~odd)
        if self.by_row:
            yield from self._with_doubt(judged, rows.start, plain, count)
        elif plain.size:
            yield Told(
                rows.start + plain, {name: _picked(judged_rule, plain, count) for name, judged_rule in judged.items()}
            )
        for row in np.flatnonzero(odd).tolist():
            yield self._alone(self.book, rows.start + row)

    def _with_doubt(
        self, judged: Mapping[str, Judged], start: int, rows: Numbers, count: int
    ) -> Iterator[Told | Refused]:
        """Rows of which some rules are judged row by row, for what they rest on is in doubt."""
        some = self.book.only(*self.by_row)
        for row in rows.tolist():
            found = self._alone(some, start + row)
            if isinstance(found, Told):
                own = {name: _picked(judged_rule, np.array([row]), count) for name, judged_rule in judged.items()}
                found = found._replace(judged={**own, **found.judged})
            yield found

    def _alone(self, book: Book, row: int) -> Told | Refused:
        try:
            report = check_record(book, self.assemblies.record(row), self.asked)
        except InputError as error:
            return Refused(row, error)
        return Told(np.array([row]), {judged_rule.rule.name: judged_rule for judged_rule in report.judged})

    def _together(self, measured: Mapping[str, Array], count: int) -> tuple[dict[str, Judged], Truths]:
        """The verdicts of all rules by arrays, and which rows arrays cannot tell."""
        found = self.assemblies.found
        block = self._block(measured)
        odd = self._in_dispute(block, count)
        by_arrays = [name for name in self.involved if name not in set(self.by_row)]
        doubts = TableDoubts(block, self.assemblies.sizes(measured), self.asked.decision, count)
        judged = {name: self._judged(self.book.rules[name], doubts) for name in by_arrays}
        rest = [name for name in self.names if name not in judged]
        judged = {**self.book.unmeasured(self.asked.chain, found.layout).judged(rest), **judged}
        for item, derived in block.computed():
            odd |= block.refuses(item, derived)
        inspector = Inspector(block, self.asked.plan, _NOTHING_SEEN, found.past, self.inputs, frozenset(), count)
        return {name: inspector.inspected(judged[name]) for name in self.names}, odd

    def _block(self, measured: Mapping[str, Array]) -> Block:
        found = self.assemblies.found
        whole = FrozenMapping({**found.columns.measured, **measured})
        views = TableViews(measured, found.columns.views)
        return Block(self.book.characteristics, found.layout, whole, views)

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

    def _judged(self, rule: CompiledRule, doubts: TableDoubts) -> Judged:
        one = self._judged_on(rule, doubts)
        if not (one.codes == _NOT_MEASURED).any():
            return one
        return self._under_choices(one, doubts)

    def _judged_on(self, rule: CompiledRule, doubts: TableDoubts) -> Judged:
        measures, decision, inputs = self._measured(rule, doubts.block), self.asked.decision, self.inputs(rule.name)
        if rule.name not in self.in_doubt or not doubts.bear_on(inputs):
            return judge(rule, measures, decision)
        asked = Asked(rule, self.asked.chain, None, inputs, doubts.block)
        again = partial(self._measured, rule)
        reach = doubts.reach(asked) if len(measures.value) > 1 else None
        if reach is not None:

            def about(rows: Indices) -> tuple[Measures, Doubt]:
                some, own = doubts.of_rows(rows, inputs.names), measures.rows(rows)
                return own, some.about_rule(asked._replace(measured=some.block), own, again)

            return judge_within(rule, measures, decision, reach, about)
        doubt = doubts.about_rule(asked, measures, again)
        # What is proven is proven row by row, though a rule may see the same in all of them.
        if doubt.shown.shape[1] > len(measures.value):
            measures = measures.of_rows(doubt.shown.shape[1])
        return judge(rule, measures, decision, doubt)._replace(doubt=None)

    def _measured(self, rule: CompiledRule, block: Block) -> Measures:
        return measure_for(rule, block, self.asked.chain)

    def _under_choices(self, one: Judged, doubts: TableDoubts) -> Judged:
        """The verdicts that come out alike whatever the facts are that nobody stated, as for a record (choices.py)."""
        found, block = self.assemblies.found, doubts.block
        facts = tuple(open_facts(one.rule, self.inputs(one.rule.name), block, found.layout, found.set_aside))
        combinations = list(product(*(range(len(item.characteristic.choices)) for item in facts)))
        if not facts or len(combinations) > MOST_COMBINATIONS:
            return one
        filled = (stated(block, facts, np.array([choice], np.float64)) for choice in combinations)
        each = [self._judged_on(one.rule, doubts.with_values(values)) for values in filled]
        rows = max(len(judged.codes) for judged in (one, *each))
        one, each = one.of_rows(rows), [judged.of_rows(rows) for judged in each]
        codes = np.stack([judged.codes for judged in each])
        agreed = (one.codes == _NOT_MEASURED) & (codes == codes[0]).all(axis=0)
        agreed &= (codes[0] != _NOT_MEASURED) & on_one_side(are_low(each), codes)
        return merged(one, each, agreed)


def _picked(judged: Judged, rows: Numbers, count: int) -> Judged:
    """Some of the rows; what is said alike of all of them stays as it is."""
    if len(judged.codes) == 1 or len(rows) == count:
        return judged
    return judged._replace(
        measures=judged.measures.rows(rows), codes=judged.codes[rows], must_open=judged.must_open[rows]
    )
