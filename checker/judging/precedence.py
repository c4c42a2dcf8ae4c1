"""Which limit counts: physics always, beside it the maker's sheet, and general practice where no sheet speaks.

A sheet takes the place of what the packs require and recommend, on the sides and at the stations of which it speaks.
What it is silent of stays, unless that would leave no value at all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from checker.expressions.truth import Array, Truths
from checker.packs.limit_set import ABSENT, IS_LOW
from checker.records.part_sheet import PartLimit


def with_sheet(edges: Sequence[Array | float], part: PartLimit) -> list[Array]:
    """The limits by position, where a part sheet speaks too."""
    if part.is_beside:
        low, high = np.maximum(edges[0], part.low), np.minimum(edges[3], part.high)
        return [low, np.asarray(edges[1]), np.asarray(edges[2]), high]
    found = []
    for position, (edge, is_low, absent) in enumerate(zip(edges, IS_LOW, ABSENT, strict=True)):
        own = part.low if is_low else part.high
        kept = np.where(is_set_aside(edge, part, is_low), absent, edge)
        is_must = position in (0, 3)
        found.append(np.where(own == absent, kept, own if is_must else absent))
    return found


def is_set_aside(edge: Array | float, part: PartLimit, is_low: bool) -> Truths:
    """Where a limit of the packs lies beyond the other end of a sheet that is silent of its own side."""
    other = part.high if is_low else part.low
    return np.asarray(np.isfinite(edge) & (edge > other if is_low else edge < other))


def left_unclear(edge: Array | float, is_low: bool, is_unclear: Truths) -> Array:
    """A limit of a pack, unknown where it is unclear whether its rule applies at all."""
    return np.where(is_unclear & (edge != (-np.inf if is_low else np.inf)), np.nan, edge)


def stricter(edge: Array | float, other: Array | float, value: Array, is_low: bool) -> Array | float:
    """Of two limits that both count the stricter; where one is unknown, the other as far as the value breaks it."""
    absent = -np.inf if is_low else np.inf
    for this, only in ((edge, other), (other, edge)):
        if isinstance(this, float) and this == absent:
            return only
    both = np.maximum(edge, other) if is_low else np.minimum(edge, other)
    if not np.isnan(both).any():
        return both
    known = np.fmax(edge, other) if is_low else np.fmin(edge, other)
    is_broken = value < known if is_low else value > known
    return np.where(np.isnan(both) & ~is_broken, np.nan, known)
