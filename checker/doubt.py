"""Carrying doubt through rules: how far each margin may be off.

First order (JCGM 100:2008, 5.1): every independent cause moves the readings by their expanded uncertainty, and the
moves of the margin are combined as the root of their squares. What one instrument moves together stays correlated,
also between a value and a limit computed from it. Of the two ways a cause can move a margin the larger counts, so that
a value at the bottom of a curve, as a difference of nothing is, does not look certain. Readings known only to lie in
an interval move the margin by its ends, and those moves are added up, which is the worst case.

Moved readings are further rows of the record's block, so that a rule is evaluated once, however much is in doubt. What
no rule sees together moves in the same row: a rule then finds in each row at most one of its own readings moved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import count
from typing import TypeAlias

import numpy as np

from checker.block import Block
from checker.columns import GREATEST, LEAST, Columns, Move
from checker.compiled import POSITIONS
from checker.conformity import COVERAGE, Doubt
from checker.inputs import Inputs
from checker.judge import Measures
from checker.names import VALUE, Column
from checker.truth import Array

_Cause: TypeAlias = tuple[str, int]
"""A characteristic, and which of its own causes of doubt."""
_Rows: TypeAlias = list[tuple[int, bool]]
"""The row moved up, before the one moved down, and whether the move is hard."""


class Doubts:
    """The causes of doubt about one record, as rows below what was measured."""

    def __init__(self, block: Block, columns: Columns, inputs: Sequence[Inputs]) -> None:
        """`inputs` are those of all the rules that will be asked about."""
        self._causes = {
            name: [((name, number), move) for number, move in enumerate(item.moves())]
            for name, item in columns.gathered.items()
        }
        self._moves: dict[Column, list[tuple[int, Array]]] = defaultdict(list)
        self._next = count(1, 2)
        self._each = self._laid_out([known.names - known.across for known in inputs], one_by_one=False)
        self._one = self._laid_out([known.across for known in inputs], one_by_one=True)
        self._shared = dict(self._instruments(columns))
        rows = next(self._next)
        self.block = block.moved(self._moves, rows) if rows > 1 else block

    def about(self, measures: Measures, inputs: Inputs) -> Doubt | None:
        """The doubt about a rule's margins, measured on all rows; nothing where all its readings are exact."""
        found = [*self._rows(self._each, inputs.names - inputs.across), *self._rows(self._one, inputs.across)]
        found += [row for row, names in self._shared.items() if not names.isdisjoint(inputs.names)]
        margins, applies = measures.margins, measures.applies
        if not found or len(applies) == 1:
            return None
        ups, is_hard = np.array([row for row, _ in found]), np.array([hard for _, hard in found])
        up, down = (_moved(margins[:, rows], margins[:, :1]) for rows in (ups, ups + 1))
        soft = np.maximum(np.abs(up), np.abs(down))[:, ~is_hard]
        low, high = np.minimum(up, down)[:, is_hard], np.maximum(up, down)[:, is_hard]
        differs = (applies[ups] != applies[:1]) | (applies[ups + 1] != applies[:1])
        return Doubt(
            standard=np.sqrt((soft**2).sum(axis=1, keepdims=True)) / COVERAGE,
            below=-np.minimum(low, 0.0).sum(axis=1, keepdims=True),
            above=np.maximum(high, 0.0).sum(axis=1, keepdims=True),
            applies=differs[~is_hard].any(axis=0, keepdims=True),
            applies_at_all=differs[is_hard].any(axis=0, keepdims=True),
        )

    def about_values(self, values: Array, inputs: Inputs) -> Array:
        """How far values may be off at the most, or by their expanded uncertainty; a row for each of the record."""
        limits = np.zeros((len(POSITIONS), *values.shape))
        doubt = self.about(Measures(values, limits, np.ones_like(values)), inputs)
        if doubt is None:
            return np.zeros_like(values[:1])
        return np.asarray(COVERAGE * doubt.standard[0] + np.maximum(doubt.below[0], doubt.above[0]))

    def _rows(self, laid_out: Mapping[_Cause, _Rows], names: Iterable[str]) -> Iterator[tuple[int, bool]]:
        for name in names:
            for cause, _ in self._causes.get(name, ()):
                yield from laid_out[cause]

    def _laid_out(self, groups: Iterable[Iterable[str]], one_by_one: bool) -> dict[_Cause, _Rows]:
        """Give each cause its rows: one for all stations, or one for each for rules that compare stations."""
        moves: dict[_Cause, Move] = {cause: move for found in self._causes.values() for cause, move in found}
        apart = _told_apart([cause for name in names for cause, _ in self._causes.get(name, ())] for names in groups)
        rows: dict[tuple[int, int], int] = defaultdict(lambda: next(self._next))
        laid_out = {}
        for cause, place in apart.items():
            move = moves[cause]
            stations = next(iter(move.up.values())).shape[1]
            masks = np.eye(stations) if one_by_one else np.ones((1, stations))
            laid_out[cause] = [(rows[place, number], move.is_hard) for number in range(len(masks))]
            for (row, _), mask in zip(laid_out[cause], masks, strict=True):
                self._move(row, cause[0], move, mask)
        return laid_out

    def _move(self, row: int, name: str, move: Move, mask: Array) -> None:
        for at, shifts in ((row, move.up), (row + 1, move.down)):
            for view, shift in shifts.items():
                self._moves[Column(name, view)].append((at, shift * mask))

    def _instruments(self, columns: Columns) -> Iterator[tuple[tuple[int, bool], frozenset[str]]]:
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
            yield (row, False), frozenset(shifts)


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


def _moved(rows: Array, measured: Array) -> Array:
    """How far margins moved; where one can no longer be told, it may be anywhere."""
    with np.errstate(invalid="ignore"):
        moves = rows - measured
    return np.where(np.isnan(moves), np.where(np.isfinite(measured), np.nan, 0.0), moves)
