"""What several uses have in common that one record is judged for, and what is computed to judge each of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set

import numpy as np

from checker.checking.kept import Asking
from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import COMPUTED, VALUE, Column
from checker.judging.doubt import Doubts
from checker.judging.judge import Judged
from checker.packs.compiled import CompiledCharacteristic


class Together:
    """What was judged so far, and the doubts of all uses on one block: what they ask alike is evaluated once.

    What the block computes is more than one use by itself would: that is told apart here. `written` are the names of
    all that was written down.
    """

    def __init__(self, doubts: Doubts, judged: Mapping[Asking, Judged], written: Set[str]) -> None:
        self.doubts = doubts
        self.judged = dict(judged)
        self._written = written
        self._of_expressions: dict[Expression, frozenset[str]] = {}
        self._refused: dict[str, bool] = {}

    def computed(self, names: Set[str]) -> Iterator[tuple[CompiledCharacteristic, Expression]]:
        """The characteristics with these names that are computed from what was written, as packs order them."""
        block = self.doubts.block
        for name, item in block.characteristics.items():
            if name in names and item.derived is not None and block.rests_on(name, self._written):
                yield item, item.derived

    def impossible(self, names: Set[str]) -> Iterator[str]:
        """The characteristics among them whose value is refused."""
        for item, derived in self.computed(names):
            if item.name not in self._refused:
                self._refused[item.name] = bool(self.doubts.block.refuses(item, derived)[0])
            if self._refused[item.name]:
                yield item.name

    def names_behind(self, expressions: Iterable[Expression]) -> frozenset[str]:
        """The names of all that is computed to evaluate some expressions."""
        return frozenset[str]().union(*map(self._of, expressions))

    def _of(self, expression: Expression) -> frozenset[str]:
        found = self._of_expressions.get(expression)
        if found is None:
            found = self._of_expressions[expression] = frozenset[str]().union(
                *map(self.names_behind_column, expression.columns)
            )
        return found

    def names_behind_column(self, column: Column) -> frozenset[str]:
        """The names of all that is computed to give a column: not what was measured at every station."""
        view, derived = column.view.removeprefix(KNOWN), self.doubts.block.characteristics[column.name].derived
        if derived is None or not (view == COMPUTED or (view == VALUE and self._is_lacking(column.name))):
            return frozenset()
        return self._of(derived) | {column.name}

    def _is_lacking(self, name: str) -> bool:
        measured = self.doubts.block.measured.get(name)
        return measured is None or bool(np.isnan(measured).any())
