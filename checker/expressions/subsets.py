"""Reductions over some of what there is: over the stations of which a condition holds, or over what is known."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array, Truths

Reduction: TypeAlias = Callable[[Array], Array]


def of_those(reduction: Reduction, is_monotone: bool, *arguments: Array) -> Array:
    """A reduction of (rows, stations) to (rows, 1) where the last argument is true; of no station it is missing.

    Where it cannot be told whether a station belongs to them, nor can the result be, unless it is one that only grows,
    or only falls, as stations are added, and is the same with all such stations and without any.
    """
    *values, membership = (np.atleast_2d(argument) for argument in arguments)
    if len(membership) == 1 and all(each.shape[1] == membership.shape[1] for each in values):
        members = membership[0] == TRUE  # of all rows alike
        if members.any() and not (membership == CANNOT_TELL).any():
            return reduction(*(each[:, members] for each in values))
    *values, membership = np.broadcast_arrays(*values, membership)
    result = _of_members(reduction, values, membership == TRUE)
    unclear = (membership == CANNOT_TELL).any(axis=-1, keepdims=True)
    if not unclear.any():
        return result
    if not is_monotone:
        return np.where(unclear, np.nan, result)
    with_all = _of_members(reduction, values, membership != FALSE)
    return np.where(unclear & (with_all != result), np.nan, result)


def _of_members(reduction: Callable[..., Array], values: list[Array], members: Truths) -> Array:
    """Row by row, those with the same members together."""
    reduced = np.full((members.shape[0], 1), np.nan)
    for pattern, rows in _alike(members):
        if pattern.any():
            reduced[rows] = reduction(*(each[rows][:, pattern] for each in values))
    return reduced


def _alike(members: Truths) -> Iterator[tuple[Truths, slice | npt.NDArray[np.intp]]]:
    """Which members there are, and the rows that have these."""
    if (members == members[:1]).all():
        yield members[0], slice(None)
        return
    # Eight stations a byte, eight bytes a number: numbers are sorted many times as fast as rows.
    packed = np.packbits(members, axis=1)
    whole = np.zeros((len(members), -(-packed.shape[1] // 8) * 8), dtype=np.uint8)
    whole[:, : packed.shape[1]] = packed
    keys = whole.view(np.uint64)
    order = np.lexsort(keys.T)
    is_first = np.concatenate([[True], (keys[order[1:]] != keys[order[:-1]]).any(axis=1)])
    for rows in np.split(order, np.flatnonzero(is_first)[1:]):
        yield members[rows[0]], rows


def of_known(reduction: Reduction, is_monotone: bool, *known_and_values: Array) -> Array:
    """A reduction, at each station, over those of several values that are known: `known, value, known, value, ...`."""
    arrays = np.broadcast_arrays(*(np.atleast_2d(each) for each in known_and_values))
    shape = arrays[0].shape
    known, values = (np.stack([each.ravel() for each in arrays[start::2]], axis=-1) for start in (0, 1))
    return of_those(reduction, is_monotone, values, known).reshape(shape)
