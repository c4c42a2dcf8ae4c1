"""Carrying doubt through rules for many rows at once: what doubt.py does for one record.

Most rows need none of that: between what bounds their doubt lies is known of all rows at once (sensitivities.py). Of
the others each cause moves its readings in rows of their own, as many as were measured; what no cause bears on is taken
from the block as measured.
"""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterator, Mapping, MutableMapping, Sequence, Set
from functools import cached_property, partial
from typing import TypeAlias, TypeVar, cast

import numpy as np

from checker.expressions.boxes import Indices
from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import VALUE, Column
from checker.expressions.truth import Array, Truths
from checker.judging.block import Block, Shift
from checker.judging.columns import GREATEST, LEAST
from checker.judging.conformity import Decision, Doubt, Reach, all_shown
from checker.judging.corners import moves_of
from checker.judging.enclosed import Cause, EnclosedBlock, uncertain
from checker.judging.measures import Measures
from checker.judging.proof import Asked, apart_of, proven
from checker.on_demand import OnDemand
from checker.packs.compiled import Inputs
from checker.records.instruments import COVERAGE
from checker.tables.sensitivities import Ends, SensitiveBlock, Sizes, of_rows, reach_of

AT_ONCE = 8192
"""So many moved rows are evaluated together: more at once would only need more memory."""
_ALIKE = np.ones(1)
_Cause: TypeAlias = tuple[str, int | None]


_Key = TypeVar("_Key")


def _some_rows(whole: Mapping[_Key, Array], rows: Indices) -> Mapping[_Key, Array]:
    return OnDemand(whole.keys, lambda key: of_rows(whole[key], rows))


class _Some(Block):
    """Some of the rows of a block."""

    def __init__(self, block: Block, rows: Indices) -> None:
        measured, views = _some_rows(block.measured, rows), _some_rows(block.views, rows)
        super().__init__(block.characteristics, block.layout, measured, views)
        self._whole = block
        self._some = rows

    def _made(self, column: Column) -> Array:
        return of_rows(self._whole.fetch(column), self._some)

    def _result(self, expression: Expression) -> Array:
        return of_rows(self._whole.evaluate(expression), self._some)


class _Moved(Block):
    """A block in which some values are moved; what is possible, and what is known, is told by those measured."""

    def __init__(self, block: Block, moves: Mapping[str, Array]) -> None:
        measured = {name: block.measured[name] + move for name, move in moves.items()}
        ends = {Column(name, view): name for name in moves for view in (LEAST, GREATEST)}
        views = {column: block.views[column] + moves[name] for column, name in ends.items() if column in block.views}
        whole = ChainMap(measured, cast("MutableMapping[str, Array]", block.measured))
        own_first = ChainMap(views, cast("MutableMapping[Column, Array]", block.views))
        super().__init__(block.characteristics, block.layout, whole, own_first, beside=[(block, moves.keys())])
        self._as_measured_block = block

    def _made(self, column: Column) -> Array:
        as_measured = self._as_measured_block.fetch(column)
        if column.view.startswith(KNOWN):
            return as_measured
        moved, is_missing = super()._made(column), np.isnan(as_measured)
        return np.where(is_missing, np.nan, moved) if is_missing.any() else moved

    def _plausible(self, values: Array, _: object) -> Array:
        return values


class TableDoubts:
    """The causes of doubt about so many rows of a block."""

    def __init__(self, block: Block, sizes: Sizes, decision: Decision, rows: int) -> None:
        self.block = block
        self._sizes = sizes
        self._names = sizes.names
        self._decision = decision
        self.rows = rows
        self._ends = Ends(block, sizes, max(1.0, decision.guard() / COVERAGE))
        self._sensitive: dict[tuple[Set[str], Set[str]], SensitiveBlock] = {}

    @cached_property
    def _apart(self) -> EnclosedBlock:
        """All that is in doubt, each value by itself."""
        every = Inputs(frozenset(self._names), frozenset())
        return apart_of(self.block, self._uncertain(every), self._decision, self.rows)

    def bear_on(self, inputs: Inputs) -> bool:
        """Whether there is any that counts of what a rule rests on."""
        return self._decision.guard() > 0 and not inputs.names.isdisjoint(self._names)

    def reach(self, asked: Asked, limiting: Set[str]) -> Reach | None:
        """Between what the doubt about a rule's margins lies in all rows; none where that is not told.

        Some characteristics are `limiting`: its limits rest on them, and whether it applies.
        """
        seen = asked.inputs.names & self._names, asked.inputs.across & self._names
        block = self._sensitive.get(seen)
        if block is None:
            block = self._sensitive[seen] = SensitiveBlock(self._ends, *seen)
        guard = self._decision.guard_of_both()
        return reach_of(asked.rule, asked.chain, block, limiting.isdisjoint(self._names), guard)

    def of_rows(self, rows: Indices, names: Set[str]) -> TableDoubts:
        """The same about some of the rows, of what bears on some names."""
        return TableDoubts(_Some(self.block, rows), self._sizes.of_rows(rows, names), self._decision, len(rows))

    def about_rule(self, asked: Asked, measures: Measures) -> Doubt:
        """The doubt about a rule's margins, where there is any."""
        # Along a straight line what is moved down moves as far as up.
        is_straight = not np.any(asked.look(self._apart))
        doubt = self._first_order(asked, measures, (1.0,) if is_straight else (1.0, -1.0))
        return proven(
            asked, partial(self._uncertain, asked.inputs), False, measures, doubt, self._decision, self._apart
        )

    def with_values(self, values: Mapping[str, Array]) -> TableDoubts:
        """The same about other values of some characteristics, of which nothing is in doubt."""
        block = self.block.with_values(values)
        return TableDoubts(block, self._sizes, self._decision, self.rows)

    def _first_order(self, asked: Asked, measures: Measures, ways: Sequence[float]) -> Doubt:
        """First order of all that a rule sees, some causes at a time."""
        causes, rows = list(self._causes(asked.inputs)), len(measures.value)
        squares: Array | float = 0.0
        applies = np.zeros_like(measures.applies, dtype=np.bool_)
        most = max(1, AT_ONCE // (rows * len(ways)))
        for start in range(0, len(causes), most):
            some = causes[start : start + most]
            moved = asked.measures(self._moved(some, ways, rows, asked.inputs.names))
            if len(moved.value) == 1:
                moved = moved.of_rows(len(ways) * len(some) * rows)
            as_measured = measures.rows(np.tile(np.arange(rows), len(moved.value) // rows))
            moves = np.abs(moves_of(moved.margins, as_measured.margins))
            each = moves.reshape(*moves.shape[:-2], len(ways), -1, rows, moves.shape[-1])
            squares = squares + (each.max(axis=-4) ** 2).sum(axis=-3)
            applies |= (moved.applies.reshape(-1, *applies.shape) != measures.applies).any(axis=0)
        return self._doubt(measures, squares, applies)

    def _doubt(self, measures: Measures, squares: Array | float, applies: Truths) -> Doubt:
        standard = np.broadcast_to(np.sqrt(squares) / COVERAGE, measures.margins.shape)
        none, never = np.zeros_like(standard), np.zeros_like(measures.applies, dtype=np.bool_)
        return Doubt(standard, none, none, applies, never, all_shown(measures.margins))

    def _causes(self, inputs: Inputs) -> Iterator[_Cause]:
        """A characteristic at all its stations, or at each by itself where they are compared; or an instrument."""
        for name in sorted(inputs.names & self._sizes.own.keys()):
            if name in inputs.across:
                yield from ((name, station) for station in range(self._sizes.own[name].shape[1]))
            else:
                yield name, None
        for gauge, shifts in self._sizes.shared.items():
            if not inputs.names.isdisjoint(shifts):
                yield gauge, -1

    def _uncertain(self, inputs: Inputs) -> Sequence[Cause]:
        """What moves a rule's readings."""
        found = []
        for cause in self._causes(inputs):
            moves = self._moves(*cause).items()
            views = (VALUE, LEAST, GREATEST)
            found.append(uncertain([Shift(name, dict.fromkeys(views, move), _ALIKE) for name, move in moves]))
        return found

    def _moved(self, causes: Sequence[_Cause], ways: Sequence[float], rows: int, names: Set[str]) -> Block:
        """All rows for each cause moved one way, then the same the other way, as far as it moves some names."""
        moves: dict[str, Array] = {}
        for number, cause in enumerate(causes):
            for name, move in self._moves(*cause).items():
                # A rule that sees the same in all rows sees nothing that is not.
                if name in names and len(move) in (1, rows):
                    every = moves.setdefault(name, np.zeros((len(ways), len(causes), rows, move.shape[1])))
                    every[:, number] = np.multiply.outer(ways, move)
        whole = _Some(self.block, np.tile(np.arange(rows), len(ways) * len(causes)))
        return _Moved(whole, {name: move.reshape(-1, move.shape[-1]) for name, move in moves.items()})

    def _moves(self, name: str, station: int | None) -> Mapping[str, Array]:
        if station == -1:
            return self._sizes.shared[name]
        own = self._sizes.own[name]
        if station is None:
            return {name: own}
        return {name: own * (np.arange(own.shape[1]) == station)}
