"""The assignment against trying every choice there is."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from checker_select_fit import cheapest
from checker_select_fit.assignment import Even

INFINITE = float("inf")
COST = st.one_of(st.integers(0, 20).map(float), st.just(INFINITE))


def table(stations: int, options: int) -> st.SearchStrategy[np.ndarray]:
    row = st.lists(COST, min_size=options, max_size=options)
    return st.lists(row, min_size=stations, max_size=stations).map(np.array)


def by_trying(costs, uses, stock, excluded=(), even=()):
    """The least cost of all choices that are allowed; None where none is."""
    least = None
    for choice in product(range(costs.shape[1]), repeat=costs.shape[0]):
        cost = sum(costs[station, option] for station, option in enumerate(choice))
        spreads = [np.ptp([one.values[station, option] for station, option in enumerate(choice)]) for one in even]
        allowed = (
            np.isfinite(cost)
            and (uses[list(choice)].sum(axis=0) <= stock).all()
            and choice not in excluded
            and all(spread <= one.most for spread, one in zip(spreads, even, strict=True))
        )
        if allowed and (least is None or cost < least):
            least = cost
    return least


def cost_of(costs, choice):
    return None if choice is None else sum(costs[station, option] for station, option in enumerate(choice))


@settings(max_examples=30, deadline=None)
@given(table(3, 4))
def test_parts_of_their_own(costs) -> None:
    assert cost_of(costs, cheapest(costs, np.eye(4), np.ones(4))) == by_trying(costs, np.eye(4), np.ones(4))


@settings(max_examples=30, deadline=None)
@given(table(3, 4), st.lists(st.integers(0, 3), min_size=2, max_size=2), st.sets(st.integers(0, 63), max_size=3))
def test_halves_that_share_a_stock(costs, stock, left_out) -> None:
    """Four pairs of two sizes of halves, from what there is of each, some choices excluded."""
    uses = np.array([[2.0, 0.0], [1.0, 1.0], [1.0, 1.0], [0.0, 2.0]])
    every = list(product(range(4), repeat=3))
    excluded = [every[number] for number in left_out]
    available = np.array(stock, dtype=float) + 1
    found = cheapest(costs, uses, available, excluded)
    assert cost_of(costs, found) == by_trying(costs, uses, available, excluded)


@settings(max_examples=25, deadline=None)
@given(
    table(3, 3),
    st.lists(st.lists(st.integers(0, 9), min_size=3, max_size=3), min_size=3, max_size=3),
    st.integers(0, 6),
)
def test_what_must_lie_near_one_another(costs, values, most) -> None:
    even = Even(np.array(values, dtype=float), float(most))
    stock = np.full(3, 3.0)
    found = cheapest(costs, np.eye(3), stock, (), (even,))
    assert cost_of(costs, found) == by_trying(costs, np.eye(3), stock, (), (even,))


def test_one_part_twice_is_not_there_twice() -> None:
    assert cheapest(np.zeros((2, 1)), np.eye(1), np.ones(1)) is None
    assert cheapest(np.zeros((2, 1)), np.eye(1), np.full(1, 2.0)) == (0, 0)


def test_eight_by_eight_agrees_with_the_library() -> None:
    costs = np.random.default_rng(7).random((8, 8))
    rows, columns = linear_sum_assignment(costs)
    programmed = cheapest(costs, np.eye(8), np.ones(8), [(0,) * 8])
    assert cost_of(costs, programmed) == pytest.approx(costs[rows, columns].sum())
