"""Carrying doubt through a rule: how far each margin may be off.

First order (JCGM 100:2008, 5.1): every independent source moves the readings by one standard uncertainty, and the
moves of the margin are combined as the root of their squares. What one source moves together stays correlated, also
between a value and a limit computed from it. Readings known only to lie in an interval move the margin by its ends,
and those moves are added up, which is the worst case.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from checker.block import Block
from checker.columns import Reach, Source
from checker.conformity import Doubt
from checker.inputs import Inputs
from checker.judge import Measures
from checker.truth import Array


class Doubts:
    """The sources of doubt about one record.

    Moved readings are further rows of its block, so that a rule is evaluated once: as measured in the first row, then
    with each source up and down.
    """

    def __init__(self, block: Block, sources: Iterable[Source]) -> None:
        moves = []
        hard: list[bool] = []
        self._numbers: dict[Reach, dict[str, list[int]]] = {reach: defaultdict(list) for reach in Reach}
        for number, source in enumerate(sources):
            moves += [(source.up, source.of_spreads), (source.down, source.of_spreads)]
            hard.append(source.is_hard)
            for name in source.up:
                self._numbers[source.reach][name].append(number)
        self.block = block.moved(moves) if moves else block
        self._is_hard = np.array(hard)

    def about(self, measures: Measures, inputs: Inputs) -> Doubt | None:
        """The doubt about a rule's margins, measured on all rows; nothing where all its readings are exact."""
        bearing = sorted(self._bearing(inputs))
        margins = measures.margins
        if not bearing or margins.shape[1] == 1:
            return None
        base = margins[:, :1]
        up, down = (_move(margins[:, first::2][:, bearing], base) for first in (1, 2))
        is_hard = self._is_hard[bearing]
        low, high = np.minimum(up, down)[:, is_hard], np.maximum(up, down)[:, is_hard]
        return Doubt(
            standard=np.sqrt((((up - down)[:, ~is_hard] / 2) ** 2).sum(axis=1, keepdims=True)),
            below=-np.minimum(low, 0.0).sum(axis=1, keepdims=True),
            above=np.maximum(high, 0.0).sum(axis=1, keepdims=True),
        )

    def _bearing(self, inputs: Inputs) -> set[int]:
        """The sources that count for a rule: each reading moves once, and alone where stations are compared."""
        names = {Reach.ONE: inputs.across, Reach.EACH: inputs.names - inputs.across, Reach.ALL: inputs.names}
        return {
            number
            for reach, numbers in self._numbers.items()
            for name in numbers.keys() & names[reach]
            for number in numbers[name]
        }


def _move(moved: Array, margin: Array) -> Array:
    """How far a margin moved; where it can no longer be told, it may be anywhere."""
    with np.errstate(invalid="ignore"):
        move = moved - margin
    return np.where(np.isnan(move), np.where(np.isfinite(margin), np.nan, 0.0), move)
