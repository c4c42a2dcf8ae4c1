"""The cheapest choice for every station at once, with no more parts than there are (integer programming)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp
from scipy.sparse import coo_array

Array = npt.NDArray[np.float64]


def cheapest(
    costs: Array, uses: Array, stock: Array, excluded: Sequence[Sequence[int]] = ()
) -> tuple[int, ...] | None:
    """The number of the option of each station, of the least total cost; None where no choice is possible.

    `costs` has a row a station and a column an option, infinite where it must not be; `uses` says how many of each
    part (column) an option (row) takes, and `stock` how many of each there are. `excluded` are choices not wanted.
    """
    if not np.isfinite(costs).any(axis=1).all():
        return None
    if not excluded and _one_part_each(uses, stock):
        return _assigned(costs)
    return _programmed(costs, uses, stock, excluded)


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
    costs: Array, uses: Array, stock: Array, excluded: Sequence[Sequence[int]]
) -> tuple[int, ...] | None:
    """One variable for each station and option that may be: 1 where it is taken."""
    stations, options = np.nonzero(np.isfinite(costs))
    count = stations.size
    number = np.arange(count)
    each = coo_array((np.ones(count), (stations, number)), shape=(costs.shape[0], count))
    constraints = [LinearConstraint(each, 1, 1), LinearConstraint(coo_array(uses[options].T), -np.inf, stock)]
    for choice in excluded:
        taken = (options == np.asarray(choice)[stations]).astype(np.float64)
        constraints.append(LinearConstraint(taken[np.newaxis, :], -np.inf, costs.shape[0] - 1))
    found = milp(
        costs[stations, options],
        integrality=np.ones(count),
        bounds=Bounds(0, 1),
        constraints=constraints,
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    chosen = np.zeros(costs.shape[0], dtype=np.intp)
    taken_ones = found.x > 0.5
    chosen[stations[taken_ones]] = options[taken_ones]
    return tuple(map(int, chosen))
