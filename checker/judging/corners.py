"""Readings known only to lie between two ends: a rule is tried at every combination of their ends.

Where a margin rises or falls with each reading all the way, its worst is at one of these corners; that it is no worse
in between is for proof.py to show. Of many readings each is tried by itself, and all moved up and down together. What
is uncertain besides is carried at each corner too, and the most of it counts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from itertools import chain, product

import numpy as np

from checker.expressions.truth import Array
from checker.judging.block import Block, Shift
from checker.judging.conformity import Doubt, all_shown
from checker.judging.enclosed import Cause
from checker.judging.measures import Measures
from checker.records.instruments import COVERAGE

MOST_ROWS = 4096
"""With more rows than these to evaluate, each reading is tried by itself."""


def at_corners(
    measures: Measures,
    measured: Block,
    between: Sequence[Cause],
    uncertain: Sequence[Sequence[Shift]],
    again: Callable[[Block], Measures],
) -> Doubt:
    """The doubt about margins of readings `between` ends; `uncertain` are the moves of others, up and down by turns.

    `again` measures the same on another block.
    """
    ends = [tuple(zip(*cause.shifts, strict=True)) for cause in between]
    is_alone = 2 ** len(ends) * (1 + len(uncertain)) > MOST_ROWS
    corners = _one_by_one(ends) if is_alone else list(product(*ends))
    found = again(block_at(measured, corners, uncertain))
    shape = (len(corners), 1 + len(uncertain))
    margins = _by_corner(found.margins, shape)
    applies = _by_corner(found.applies[np.newaxis], shape)[0]
    moves = moves_of(margins[:, :, 0], measures.rows(slice(1)).margins)
    off = moves_of(margins[:, :, 1:], margins[:, :, :1])
    larger = np.maximum(np.abs(off[:, :, ::2]), np.abs(off[:, :, 1::2]))
    low, high = moves.min(axis=1), moves.max(axis=1)
    differs = applies != measures.applies[:1]
    return Doubt(
        standard=np.sqrt((larger**2).sum(axis=2)).max(axis=1, keepdims=True) / COVERAGE,
        below=-np.minimum(low, 0.0)[:, np.newaxis],
        above=np.maximum(high, 0.0)[:, np.newaxis],
        applies=differs[:, 1:].any(axis=(0, 1))[np.newaxis],
        applies_at_all=differs[:, 0].any(axis=0)[np.newaxis],
        shown=all_shown(moves),
    )


def _one_by_one(ends: Sequence[Sequence[Sequence[Shift]]]) -> list[Sequence[Sequence[Shift]]]:
    """All moved up, all moved down, and then each by itself, up and down by turns."""
    together = (tuple(up for up, _ in ends), tuple(down for _, down in ends))
    return [*together, *((end,) for pair in ends for end in pair)]


def moves_of(rows: Array, measured: Array) -> Array:
    """How far margins moved; where one can no longer be told, it may be anywhere."""
    with np.errstate(invalid="ignore"):
        moves = rows - measured
    return np.where(np.isnan(moves), np.where(np.isfinite(measured), np.nan, 0.0), moves)


def block_at(
    measured: Block, corners: Sequence[Sequence[Sequence[Shift]]], uncertain: Sequence[Sequence[Shift]]
) -> Block:
    """The record as measured, and below it for each corner a row by itself and one for each uncertain move."""
    moves: dict[str, list[tuple[int, Shift]]] = defaultdict(list)
    rows = 1
    for corner in corners:
        for shifts in ((), *uncertain):
            for shift in chain(*corner, shifts):
                moves[shift.name].append((rows, shift))
            rows += 1
    return measured.moved(moves, rows)


def _by_corner(values: Array, shape: tuple[int, int]) -> Array:
    """Rows by corner and move, without the first row; a rule that sees nothing moved has but one."""
    rows = np.broadcast_to(values, (len(values), 1 + shape[0] * shape[1], values.shape[2]))
    return rows[:, 1:].reshape(len(values), *shape, values.shape[2])
