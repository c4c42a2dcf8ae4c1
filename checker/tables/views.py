"""The readings of a table as a block has them, and what is made of them besides the values themselves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from checker.expressions.names import Column
from checker.expressions.truth import Array
from checker.judging.block import Block
from checker.judging.columns import GREATEST, IN_ORDER, IS_PERMUTATION, LEAST, SPREAD, VIEWS
from checker.on_demand import OnDemand


class TableBlock(Block):
    """Rows of a table in which what is not possible is missing already."""

    def _possible(self, values: Array, _: object) -> Array:
        return values


def table_views(measured: Mapping[str, Array], alike: Mapping[Column, Array]) -> Mapping[Column, Array]:
    """The views of what was measured row by row, and those of what is alike in all rows.

    Each place has one reading: rows in which several readings tell are odd, and judged as records.
    """

    def columns() -> Iterator[Column]:
        yield from (Column(name, view) for name in measured for view in VIEWS)
        yield from (column for column in alike if column.name not in measured)

    def made(column: Column) -> Array:
        values = measured.get(column.name)
        if values is None:
            return alike[column]
        if column.view in (LEAST, GREATEST):
            return values
        if column.view in (SPREAD, IN_ORDER, IS_PERMUTATION):
            return np.broadcast_to(np.nan, values.shape)  # takes no memory
        if column.view not in VIEWS:
            raise KeyError(column)
        return np.where(np.isnan(values), np.nan, 1.0)

    return OnDemand(columns, made)
