"""Values at one kind of station seen from another that they belong to, or that belongs to them."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import Array


class Layout(Protocol):
    """How many stations there are, and which belong to which."""

    def count(self, stations: str | None) -> int:
        """How many stations of a kind."""

    def children(self, child: str, ancestor: str) -> npt.NDArray[np.intp]:
        """For each child station the index, from 0, of the ancestor station it belongs to."""


class Grouping(NamedTuple):
    """For each child station the index of the one it belongs to, and how many of those there are."""

    parents: npt.NDArray[np.intp]
    size: int


def grouping(layout: Layout, child: str, parent: str | None) -> Grouping:
    """Which child stations belong together: those of one parent, or all."""
    if parent is None:
        return Grouping(np.zeros(layout.count(child), dtype=np.intp), 1)
    return Grouping(layout.children(child, parent), layout.count(parent))


def neighbours(step: int, grouping: Grouping) -> npt.NDArray[np.intp]:
    """For each station the index of the one `step` on in its group, in the order of the layout; -1 at its end."""
    indices = np.full(len(grouping.parents), -1, dtype=np.intp)
    by_group = np.argsort(grouping.parents, kind="stable")
    ahead, behind = (by_group[:-step], by_group[step:]) if step > 0 else (by_group[-step:], by_group[:step])
    is_same = grouping.parents[ahead] == grouping.parents[behind]
    indices[ahead[is_same]] = behind[is_same]
    return indices


def neighbour(step: int, values: Array, grouping: Grouping) -> Array:
    """At each station the value of a neighbour; missing at the end of a group."""
    at = neighbours(step, grouping)
    found = np.broadcast_to(values, (values.shape[0], len(at)))[:, at]
    found[:, at < 0] = np.nan
    return found


def has_neighbour(step: int, grouping: Grouping) -> Array:
    """At which stations there is such a neighbour."""
    return (neighbours(step, grouping) >= 0)[np.newaxis].astype(np.float64)


def lifted(values: Array, grouping: Grouping) -> Array:
    """The values of the parent stations, as each child sees them."""
    return values[:, grouping.parents]


def by_parent(reduction: Callable[..., Array], grouping: Grouping, *arguments: Array) -> Array:
    """A reduction over the children of each parent station."""
    rows, count = max(map(len, arguments)), len(grouping.parents)
    counts = np.bincount(grouping.parents, minlength=grouping.size)
    if grouping.size and (counts == counts[0]).all():
        # As many of each: the children of one parent below those of another, and all of them reduced at once.
        order = np.argsort(grouping.parents, kind="stable").reshape(grouping.size, -1).T
        below = (
            np.broadcast_to(values, (len(values), count)).T[order].reshape(counts[0], grouping.size * len(values)).T
            for values in arguments
        )
        reduced = reduction(*(_for_all(values, grouping.size * rows) for values in below))
        return np.broadcast_to(reduced, (grouping.size * rows, 1)).reshape(grouping.size, rows).T
    given = [np.broadcast_to(values, (rows, count)) for values in arguments]
    reduced = np.empty((rows, grouping.size))
    for parent in range(grouping.size):
        members = grouping.parents == parent
        reduced[:, parent : parent + 1] = reduction(*(values[:, members] for values in given))
    return reduced


def _for_all(values: Array, rows: int) -> Array:
    """Values of so many rows: one row, where they are alike in all."""
    if len(values) == rows:
        return values
    return values[:1] if (values == values[:1]).all() else np.repeat(values, rows // len(values), axis=0)
