"""Carrying doubt through rules: how far each margin may be off.

First order (JCGM 100:2008, 5.1): every independent cause moves the readings by their expanded uncertainty, and the
moves of the margin are combined as the root of their squares. What one instrument moves together stays correlated,
also between a value and a limit computed from it. Of the two ways a cause can move a margin the larger counts, so that
a value at the bottom of a curve, as a difference of nothing is, does not look certain.

Moved readings are further rows of the record's block, so that a rule is evaluated once, however much is in doubt. What
no rule sees together moves in the same row: a rule then finds in each row at most one of its own readings moved.
Readings known only to lie between two ends are tried at their ends besides (corners.py), and so is the growth of a warm
part of which nobody knows what it is made of: that moves all that was measured on it together. That a limit holds
in between, wherever a condition in doubt may turn, and where a rule is no straight line, is proven or left open
(proof.py).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import count, product
from typing import TypeAlias

import numpy as np

from checker.expressions.names import VALUE, Column
from checker.expressions.truth import Array
from checker.judging.block import Block, Shift
from checker.judging.columns import GREATEST, LEAST, Columns, Move
from checker.judging.conformity import Decision, Doubt, all_shown, no_doubt
from checker.judging.corners import at_corners, moves_of
from checker.judging.enclosed import Cause, EnclosedBlock, uncertain
from checker.judging.measures import Measures
from checker.judging.proof import Asked, apart_of, proven
from checker.packs.compiled import Inputs
from checker.packs.limit_set import POSITIONS
from checker.records.instruments import COVERAGE

_Cause: TypeAlias = tuple[str, int]
"""A characteristic, and which of its own causes of doubt."""


class Doubts:
    """The causes of doubt about one record, as rows below what was measured."""

    def __init__(
        self, block: Block, columns: Columns, inputs: Sequence[Inputs], needs_instruments: bool = False
    ) -> None:
        """`inputs` are those of all the rules that will be asked about.

        If instruments are needed, nothing is known of a value behind which none is named.
        """
        self._measured = block
        self._each_apart: EnclosedBlock | None = None
        moves = {name: tuple(item.moves(needs_instruments)) for name, item in columns.gathered.items()}
        self._ends = {name: [move for move in found if move.is_hard] for name, found in moves.items()}
        self._soft = {name: [move for move in found if not move.is_hard] for name, found in moves.items()}
        self._moves: dict[str, list[tuple[int, Shift]]] = defaultdict(list)
        self._next = count(1, 2)
        self._each = self._laid_out(inputs, one_by_one=False)
        self._one = self._laid_out(inputs, one_by_one=True)
        self._shared = dict(self._instruments(columns))
        rows = next(self._next)
        self.block = block.moved(self._moves, rows) if rows > 1 else block

    def about_rule(self, asked: Asked, measures: Measures, decision: Decision) -> Doubt | None:
        """The doubt about a rule's margins for an application and those it is like, measured on all rows.

        Nothing where all its readings are exact. What is not shown to hold between the ends of a reading, where a rule
        bends, or wherever a condition in doubt may turn, is left open.
        """
        doubt = self.about(measures, asked.inputs, asked.measures)
        if doubt is None:
            # Whether there is a value at all is told as measured, though a function may be silent beside it.
            if not asked.inputs.viewed or not any(self._rows(asked.inputs)):
                return None
            if not asked.look(self._apart(decision))[0].any():
                return None
            doubt = no_doubt(len(POSITIONS), measures.value.shape[1])
        ends = list(self._ends_of(asked.inputs, by_view=True))

        def causes() -> Sequence[Cause]:
            return [*self._uncertain(asked.inputs), *ends]

        # The first row is as measured, and known already.
        asked = asked._replace(measured=self.block)
        return proven(asked, causes, bool(ends), measures.rows(slice(1)), doubt, decision, self._apart(decision))

    def _apart(self, decision: Decision) -> EnclosedBlock:
        """All that is in doubt, each value by itself."""
        if self._each_apart is None:
            every = Inputs(frozenset(self._soft), frozenset())
            causes = [*self._uncertain(every), *self._ends_of(every, by_view=True)]
            self._each_apart = apart_of(self.block, causes, decision, rows=1)
        return self._each_apart

    def bears_on(self, column: Column, decision: Decision) -> bool:
        """Whether a column comes out otherwise for readings that may just as well be, as far as doubt counts at all."""
        return decision.guard() > 0 and not self._apart(decision).fetch(column).is_exact.all()

    def about(self, measures: Measures, inputs: Inputs, again: Callable[[Block], Measures]) -> Doubt | None:
        """The doubt about margins, measured on all rows, as if nothing depended on conditions.

        `again` measures the same on another block.
        """
        rows = sorted(self._rows(inputs))
        ends = list(self._ends_of(inputs))
        if ends:
            shifts = [self._shifts(row, inputs) for first in rows for row in (first, first + 1)]
            return at_corners(measures, self._measured, ends, shifts, again)
        if not rows or len(measures.applies) == 1:
            return None
        own = measures.rows([0, *rows, *(row + 1 for row in rows)])
        moves, applies = moves_of(own.margins[:, 1:], own.margins[:, :1]), own.applies
        larger = np.maximum(np.abs(moves[:, : len(rows)]), np.abs(moves[:, len(rows) :]))
        none = np.zeros_like(moves[:, :1])
        return Doubt(
            standard=np.sqrt((larger**2).sum(axis=1, keepdims=True)) / COVERAGE,
            below=none,
            above=none,
            applies=(applies[1:] != applies[:1]).any(axis=0, keepdims=True),
            applies_at_all=np.zeros_like(applies[:1], dtype=np.bool_),
            shown=all_shown(own.margins),
        )

    def about_values(self, column: Column, inputs: Inputs) -> tuple[Array, Array]:
        """The values of a column as measured, and how far each may be off."""

        def again(block: Block) -> Measures:
            values = block.fetch(column)
            return Measures(values, np.zeros((len(POSITIONS), *values.shape)), np.ones_like(values))

        measures = again(self.block)
        doubt = self.about(measures, inputs, again)
        if doubt is None:
            return measures.value[:1], np.zeros_like(measures.value[:1])
        off = COVERAGE * doubt.standard[0] + np.maximum(doubt.below[0], doubt.above[0])
        return measures.value[:1], np.nan_to_num(off, nan=np.inf)

    def _rows(self, inputs: Inputs) -> Iterator[int]:
        """The rows in which something of a rule's own is moved up; the next of each moves it down."""
        for laid_out, names in ((self._each, inputs.names - inputs.across), (self._one, inputs.across)):
            for name in names:
                for number in range(len(self._soft.get(name, ()))):
                    yield from laid_out[name, number]
        yield from (row for row, names in self._shared.items() if not names.isdisjoint(inputs.names))

    def _shifts(self, row: int, inputs: Inputs) -> list[Shift]:
        """How far a rule's own readings are moved in a row."""
        return [shift for name in inputs.names for at, shift in self._moves.get(name, ()) if at == row]

    def _ends_of(self, inputs: Inputs, by_view: bool = False) -> Iterator[Cause]:
        """The readings of a rule that are known from their ends: together by characteristic, or each by itself.

        By view where the mean of several readings and the least of them are not held to each other.
        """
        together: dict[str, list[tuple[Shift, Shift]]] = defaultdict(list)
        for name in sorted(inputs.names):
            for move in self._ends.get(name, ()):
                views = [(view,) for view in move.up] if by_view and not move.of else [tuple(move.up)]
                for mask, some in product(_masks(move, name in inputs.across and not move.of), views):
                    up, down = ({view: moves[view] for view in some} for moves in (move.up, move.down))
                    if move.of:
                        together[move.of].append((Shift(name, up, mask), Shift(name, down, mask)))
                    elif any((shift * mask).any() for moves in (up, down) for shift in moves.values()):
                        yield Cause([(Shift(name, up, mask), Shift(name, down, mask))], is_round=False)
        for pairs in together.values():
            yield Cause(pairs, is_round=False)

    def _uncertain(self, inputs: Inputs) -> Iterator[Cause]:
        """A rule's uncertain readings: together by characteristic, each by itself, or by instrument."""
        for name in sorted(inputs.names):
            for move in self._soft.get(name, ()):
                for mask in _masks(move, one_by_one=name in inputs.across):
                    yield uncertain([Shift(name, move.up, mask)])
        for row, names in self._shared.items():
            if not names.isdisjoint(inputs.names):
                yield uncertain(self._shifts(row, inputs))

    def _laid_out(self, inputs: Sequence[Inputs], one_by_one: bool) -> dict[_Cause, list[int]]:
        """Give each cause its rows: one for all stations, or one for each for rules that compare stations.

        A rule sees also what moves for others in a row of its own, so that is told apart from all it rests on.
        """
        wanted = {name for known in inputs for name in (known.across if one_by_one else known.names - known.across)}
        groups = [sorted(known.names & wanted) for known in inputs]
        causes = [[(name, n) for name in names for n in range(len(self._soft.get(name, ())))] for names in groups]
        rows: dict[tuple[int, int], int] = defaultdict(lambda: next(self._next))
        laid_out: dict[_Cause, list[int]] = {}
        for (name, number), place in _told_apart(causes).items():
            move = self._soft[name][number]
            masks = list(_masks(move, one_by_one))
            laid_out[name, number] = [rows[place, station] for station in range(len(masks))]
            for row, mask in zip(laid_out[name, number], masks, strict=True):
                self._move(row, name, move, mask)
        return laid_out

    def _move(self, row: int, name: str, move: Move, stations: Array) -> None:
        self._moves[name] += (row, Shift(name, move.up, stations)), (row + 1, Shift(name, move.down, stations))

    def _instruments(self, columns: Columns) -> Iterator[tuple[int, frozenset[str]]]:
        """A row for what each instrument gives to all its readings alike."""
        together: dict[str, dict[str, Array]] = defaultdict(dict)
        for name, item in columns.gathered.items():
            for instrument, shift in item.shared.items():
                together[instrument][name] = shift
        for shifts in together.values():
            row = next(self._next)
            for name, shift in shifts.items():
                up = dict.fromkeys((VALUE, LEAST, GREATEST), shift)
                self._move(row, name, Move(up, {view: -move for view, move in up.items()}), np.ones(1))
            yield row, frozenset(shifts)


def _masks(move: Move, one_by_one: bool) -> Iterator[Array]:
    stations = next(iter(move.up.values())).shape[1]
    yield from np.eye(stations) if one_by_one else np.ones((1, stations))


def _told_apart(groups: Iterable[Sequence[_Cause]]) -> dict[_Cause, int]:
    """A number for each cause, the least that none has which is in a group with it."""
    bits: dict[_Cause, int] = {}
    beside: dict[_Cause, int] = defaultdict(int)
    for group in groups:
        together = 0
        for cause in group:
            together |= 1 << bits.setdefault(cause, len(bits))
        for cause in group:
            beside[cause] |= together
    taken: list[int] = []
    numbers = {}
    for cause, others in beside.items():
        number = next((number for number, mask in enumerate(taken) if not mask & others), len(taken))
        if number == len(taken):
            taken.append(0)
        taken[number] |= 1 << bits[cause]
        numbers[cause] = number
    return numbers
