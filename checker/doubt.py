"""Carrying doubt through a rule: how far each margin may be off.

First order (JCGM 100:2008, 5.1): every independent source moves the readings by one standard uncertainty, and the
moves of the margin are combined as the root of their squares. What one source moves together stays correlated, also
between a value and a limit computed from it. Readings known only to lie in an interval move the margin by its ends,
and those moves are added up, which is the worst case.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from checker.block import Block
from checker.columns import Source
from checker.conformity import Doubt
from checker.judge import Measures
from checker.truth import Array


def doubts_about(
    measures: Measures, block: Block, sources: Iterable[Source], again: Callable[[Block], Measures]
) -> tuple[Doubt | None, ...]:
    """The doubt about each of a rule's four margins; nothing where all readings are exact.

    `again` measures the rule on a block with moved readings.
    """
    base = measures.margins
    squares: list[Array] = [np.zeros_like(margin) for margin in base]
    below: list[Array] = [np.zeros_like(margin) for margin in base]
    above: list[Array] = [np.zeros_like(margin) for margin in base]
    found = False
    for source in sources:
        found = True
        ups, downs = (
            [_move(moved, margin) for moved, margin in zip(again(shifted).margins, base, strict=True)]
            for shifted in (block.shifted(shift, source.of_spreads) for shift in (source.up, source.down))
        )
        for number, (up, down) in enumerate(zip(ups, downs, strict=True)):
            if source.is_hard:
                below[number] -= np.minimum(0.0, np.minimum(up, down))
                above[number] += np.maximum(0.0, np.maximum(up, down))
            else:
                squares[number] += ((up - down) / 2) ** 2
    if not found:
        return (None,) * len(base)
    return tuple(Doubt(np.sqrt(squares[number]), below[number], above[number]) for number in range(len(base)))


def _move(moved: Array, margin: Array) -> Array:
    """How far a margin moved; where it can no longer be told, it may be anywhere."""
    with np.errstate(invalid="ignore"):
        move = moved - margin
    return np.where(np.isnan(move), np.where(np.isfinite(margin), np.nan, 0.0), move)
