"""Conditions in doubt: what no reading turns alone, several may turn together.

A condition has no slope by which first order could tell how far it is from turning, so it is tried with its readings
moved together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, combinations, product
from typing import TypeAlias

import numpy as np

from checker.expressions.expression import Expression
from checker.judging.block import Block, Shift, Truths
from checker.judging.corners import FEW_ROWS, block_at, part_of
from checker.packs.compiled import DEMANDS, POSITIONS, CompiledRule

Pair: TypeAlias = tuple[Sequence[Shift], Sequence[Shift]]
"""The moves of all readings that one cause of doubt moves, up and down."""

MOST_CAUSES = 40
"""More causes of doubt than these about one condition leave it undecided."""


def conditions_of_limits(rule: CompiledRule, application: tuple[str, ...]) -> Iterator[Expression | None]:
    """What says which limits count for an application and those it is like, or whether a demand holds."""
    for band, side in (*POSITIONS, *DEMANDS):
        for candidate in rule.limits.candidates(application, band, side):
            yield candidate.when
            yield candidate.bound.expression if rule.is_demand else None


def turned(condition: Expression, block: Block, pairs: Sequence[Pair]) -> Truths:
    """Where a condition comes out otherwise when several causes of doubt move their readings together; in one row.

    Each pair are the moves of one cause, up and down. Causes that do not hang together are hardly ever all at their
    worst: of so many the root is taken, as first order does (JCGM 100:2008, 5.1.2).
    """
    if len(pairs) > MOST_CAUSES:
        return np.ones_like(block.evaluate(condition)[:1], dtype=np.bool_)
    scaled = {size: [_scaled(pair, size) for pair in pairs] for size in range(2, len(pairs) + 1)}
    corners = [
        tuple(chain.from_iterable(scaled[len(moved)][cause][side] for cause, side in moved))
        for moved in _together(len(pairs))
    ]
    found = block_at(block, corners, ()).evaluate(condition)
    return np.asarray((found != found[:1]).any(axis=0, keepdims=True))


def _together(count: int) -> Iterator[Sequence[tuple[int, int]]]:
    """Which of so many causes move together, each to its first side or its second: all choices, of many all pairs."""
    if 3**count <= FEW_ROWS:
        for sides in product((0, 1, 2), repeat=count):
            moved = [(cause, side) for cause, side in enumerate(sides) if side < 2]
            if len(moved) > 1:
                yield moved
        return
    for one, other in combinations(range(count), 2):
        yield from ([(one, side), (other, opposite)] for side, opposite in product((0, 1), repeat=2))
    yield from ([(cause, side) for cause in range(count)] for side in (0, 1))


def _scaled(pair: Pair, count: int) -> tuple[list[Shift], list[Shift]]:
    """The moves of one cause among so many."""
    up, down = ([part_of(shift, count**-0.5) for shift in shifts] for shifts in pair)
    return up, down
