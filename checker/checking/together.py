"""What the uses have in common that one record is judged for, and what is computed to judge each of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

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

    What the block has computed is more than one use by itself would have: that is told apart here.
    """

    def __init__(self, doubts: Doubts) -> None:
        self.doubts = doubts
        self.judged: dict[Asking, Judged] = {}
        self._before = frozenset(item.name for item, _ in doubts.block.computed())
        self._behind: dict[Expression, frozenset[str]] = {}
        self._refused: dict[str, bool] = {}

    def computed(
        self, expressions: Iterable[Expression], columns: Iterable[Column] = ()
    ) -> Iterator[tuple[CompiledCharacteristic, Expression]]:
        """What has been computed so far to give some values, in the order of the packs, and from what."""
        names = self._before.union(*{self._of(one) for one in expressions}, *map(self._of_column, columns))
        return ((item, derived) for item, derived in self.doubts.block.computed() if item.name in names)

    def impossible(self, expressions: Iterable[Expression]) -> Iterator[str]:
        """The characteristics among them whose value is refused."""
        for item, derived in self.computed(expressions):
            if item.name not in self._refused:
                self._refused[item.name] = bool(self.doubts.block.refuses(item, derived)[0])
            if self._refused[item.name]:
                yield item.name

    def _of(self, expression: Expression) -> frozenset[str]:
        found = self._behind.get(expression)
        if found is None:
            found = self._behind[expression] = frozenset[str]().union(*map(self._of_column, expression.columns))
        return found

    def _of_column(self, column: Column) -> frozenset[str]:
        """The names of all that is computed to give a column: not what was measured at every station."""
        view, derived = column.view.removeprefix(KNOWN), self.doubts.block.characteristics[column.name].derived
        if derived is None or not (view == COMPUTED or (view == VALUE and self._is_lacking(column.name))):
            return frozenset()
        return self._of(derived) | {column.name}

    def _is_lacking(self, name: str) -> bool:
        measured = self.doubts.block.measured.get(name)
        return measured is None or bool(np.isnan(measured).any())
