"""The cheapest choice for every station at once, with no more parts than there are (integer programming)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp
from scipy.sparse import coo_array

Array = npt.NDArray[np.float64]


class Even(NamedTuple):
    """The values of each option (column) at each station (row) that may not lie further apart than `most`."""

    values: Array
    most: float


def cheapest(
    costs: Array,
    uses: Array,
    stock: Array,
    excluded: Sequence[Sequence[int]] = (),
    even: Sequence[Even] = (),
) -> tuple[int, ...] | None:
    """The number of the option of each station, of the least total cost; None where no choice is possible.

    `costs` has a row a station and a column an option, infinite where it must not be; `uses` says how many of each
    part (column) an option (row) takes, and `stock` how many of each there are. `excluded` are choices not wanted, and
    `even` values that must lie near one another.
    """
    if not np.isfinite(costs).any(axis=1).all():
        return None
    if not excluded and not even and _one_part_each(uses, stock):
        return _assigned(costs)
    return _programmed(costs, uses, stock, excluded, even)


def _one_part_each(uses: Array, stock: Array) -> bool:
    """Whether each option takes one part that no other takes, of which there is one."""
    return bool((uses.sum(axis=1) == 1).all() and (uses.sum(axis=0) <= 1).all() and (stock == 1).all())


def _assigned(costs: Array) -> tuple[int, ...] | None:
    try:
        rows, columns = linear_sum_assignment(costs)
    except ValueError:  # there is no assignment of finite cost
        return None
    return tuple(map(int, columns)) if len(rows) == costs.shape[0] else None


def _programmed(
    costs: Array, uses: Array, stock: Array, excluded: Sequence[Sequence[int]], even: Sequence[Even]
) -> tuple[int, ...] | None:
    """One variable for each station and option that may be, 1 where it is taken, and the ends of what must be even."""
    stations, options = np.nonzero(np.isfinite(costs))
    count, more = stations.size, 2 * len(even)
    each = coo_array((np.ones(count), (stations, np.arange(count))), shape=(costs.shape[0], count)).toarray()
    constraints = [
        LinearConstraint(_widened(each, more), 1, 1),
        LinearConstraint(_widened(uses[options].T, more), -np.inf, stock),
    ]
    for choice in excluded:
        taken = (options == np.asarray(choice)[stations]).astype(np.float64)
        constraints.append(LinearConstraint(_widened(taken[np.newaxis, :], more), -np.inf, costs.shape[0] - 1))
    for number, one in enumerate(even):
        constraints += _even_constraints(each, one.values[stations, options], one.most, count + 2 * number, more)
    found = milp(
        np.concatenate([costs[stations, options], np.zeros(more)]),
        integrality=np.concatenate([np.ones(count), np.zeros(more)]),
        bounds=Bounds(
            np.concatenate([np.zeros(count), np.full(more, -np.inf)]),
            np.where(np.arange(count + more) < count, 1, np.inf),
        ),
        constraints=constraints,
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    chosen = np.zeros(costs.shape[0], dtype=np.intp)
    taken_ones = found.x[:count] > 0.5
    chosen[stations[taken_ones]] = options[taken_ones]
    return tuple(map(int, chosen))


def _widened(rows: Array, more: int) -> Array:
    """The same rows with room for more variables, which they do not see."""
    return np.hstack([rows, np.zeros((rows.shape[0], more))])


def _even_constraints(each: Array, values: Array, most: float, first: int, more: int) -> Iterator[LinearConstraint]:
    """Every value taken lies between two ends, and those no further apart than allowed; counted in what is allowed."""
    scaled = (values - values.mean()) / most if most > 0 else values - values.mean()
    taken = _widened(each * scaled, more)
    low, high = np.zeros_like(taken), np.zeros_like(taken)
    low[:, first] = high[:, first + 1] = 1
    yield LinearConstraint(taken - low, 0, np.inf)
    yield LinearConstraint(taken - high, -np.inf, 0)
    yield LinearConstraint((high - low)[:1], 0, 1 if most > 0 else 0)
