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
    for parent in range(grouping.size):
        members = np.flatnonzero(grouping.parents == parent)
        ahead, behind = (members[:-step], members[step:]) if step > 0 else (members[-step:], members[:step])
        indices[ahead] = behind
    return indices


def neighbour(step: int, values: Array, grouping: Grouping) -> Array:
    """At each station the value of a neighbour; missing at the end of a group."""
    at = neighbours(step, grouping)
    whole = np.broadcast_to(values, (values.shape[0], len(at)))
    return np.where(at >= 0, whole[:, at], np.nan)


def has_neighbour(step: int, grouping: Grouping) -> Array:
    """At which stations there is such a neighbour."""
    return (neighbours(step, grouping) >= 0)[np.newaxis].astype(np.float64)


def lifted(values: Array, grouping: Grouping) -> Array:
    """The values of the parent stations, as each child sees them."""
    return values[:, grouping.parents]


def by_parent(reduction: Callable[..., Array], grouping: Grouping, *arguments: Array) -> Array:
    """A reduction over the children of each parent station."""
    given = np.broadcast_arrays(*arguments)
    reduced = np.empty((given[0].shape[0], grouping.size))
    for parent in range(grouping.size):
        members = grouping.parents == parent
        reduced[:, parent : parent + 1] = reduction(*(values[:, members] for values in given))
    return reduced
