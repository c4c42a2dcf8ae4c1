"""Conditions in doubt: what no reading turns alone, several may turn together.

A condition has no slope by which first order could tell how far it is from turning, so it is tried with its readings
moved together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, combinations, product
from typing import TypeAlias

from checker.expressions.expression import Expression
from checker.judging.block import Shift
from checker.judging.corners import FEW_ROWS, part_of
from checker.packs.compiled import DEMANDS, POSITIONS, CompiledRule

Pair: TypeAlias = tuple[Sequence[Shift], Sequence[Shift]]
"""The moves of all readings that one cause of doubt moves, up and down."""

MOST_IN_PAIRS = 40
"""Of more causes of doubt than these about one condition the pairs are not tried."""


def conditions_of_limits(rule: CompiledRule, application: tuple[str, ...]) -> Iterator[Expression | None]:
    """What says which limits count for an application and those it is like, or whether a demand holds."""
    for band, side in (*POSITIONS, *DEMANDS):
        for candidate in rule.limits.candidates(application, band, side):
            yield candidate.when
            yield candidate.bound.expression if rule.is_demand else None


def corners_of(pairs: Sequence[Pair]) -> list[tuple[Shift, ...]]:
    """How several causes of doubt may move their readings together.

    Causes that do not hang together are hardly ever all at their worst: of so many the root is taken, as first order
    does (JCGM 100:2008, 5.1.2).
    """
    chosen = list(_together(len(pairs)))
    scaled = {size: [_scaled(pair, size) for pair in pairs] for size in {len(moved) for moved in chosen}}
    return [tuple(chain.from_iterable(scaled[len(moved)][cause][side] for cause, side in moved)) for moved in chosen]


def _together(count: int) -> Iterator[Sequence[tuple[int, int]]]:
    """Which of so many causes move together, each to its first side or its second: all choices while they are few, of
    more all at once and all pairs, of very many all the same way.
    """
    if 3**count <= FEW_ROWS:
        for sides in product((0, 1, 2), repeat=count):
            moved = [(cause, side) for cause, side in enumerate(sides) if side < 2]
            if len(moved) > 1:
                yield moved
        return
    ways = product((0, 1), repeat=count) if 2**count <= FEW_ROWS else ((0,) * count, (1,) * count)
    yield from (list(enumerate(sides)) for sides in ways)
    for one, other in combinations(range(count if count <= MOST_IN_PAIRS else 0), 2):
        yield from ([(one, side), (other, opposite)] for side, opposite in product((0, 1), repeat=2))


def _scaled(pair: Pair, count: int) -> tuple[list[Shift], list[Shift]]:
    """The moves of one cause among so many."""
    up, down = ([part_of(shift, count**-0.5) for shift in shifts] for shifts in pair)
    return up, down
