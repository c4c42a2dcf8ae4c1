"""Values at one kind of station seen from another that they belong to, or that belongs to them."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import Array


class Grouping(NamedTuple):
    """For each child station the index of the one it belongs to, and how many of those there are."""

    parents: npt.NDArray[np.intp]
    size: int


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
