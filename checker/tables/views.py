"""The readings of a table as a block has them, and what is made of them besides the values themselves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from checker.expressions.names import Column
from checker.expressions.truth import Array
from checker.judging.block import Block
from checker.judging.columns import GREATEST, IN_ORDER, IS_PERMUTATION, LEAST, SPREAD, VIEWS


class TableBlock(Block):
    """Rows of a table in which what is not possible is missing already."""

    def _possible(self, values: Array, _: object) -> Array:
        return values


class TableViews(Mapping[Column, Array]):
    """The views of what was measured row by row, and those of what is alike in all rows.

    Each place has one reading: rows in which several readings tell are odd, and judged as records.
    """

    def __init__(self, measured: Mapping[str, Array], alike: Mapping[Column, Array]) -> None:
        self._measured = measured
        self._alike = alike

    def __getitem__(self, column: Column) -> Array:
        values = self._measured.get(column.name)
        if values is None:
            return self._alike[column]
        if column.view in (LEAST, GREATEST):
            return values
        if column.view in (SPREAD, IN_ORDER, IS_PERMUTATION):
            return np.broadcast_to(np.nan, values.shape)  # takes no memory
        return np.where(np.isnan(values), np.nan, 1.0)

    def __contains__(self, column: object) -> bool:
        if isinstance(column, Column) and column.name in self._measured:
            return column.view in VIEWS
        return column in self._alike

    def __iter__(self) -> Iterator[Column]:
        yield from (Column(name, view) for name in self._measured for view in VIEWS)
        yield from (column for column in self._alike if column.name not in self._measured)

    def __len__(self) -> int:
        return sum(1 for _ in self)
