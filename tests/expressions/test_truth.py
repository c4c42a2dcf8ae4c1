"""Three-valued truth: Kleene's strong logic of indeterminacy (S. C. Kleene, Introduction to Metamathematics, 1952,
section 64; the truth tables from memory), and the comparison tolerance."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.expressions import truth

T, U, F = truth.TRUE, truth.CANNOT_TELL, truth.FALSE
VALUES = (T, U, F)
COMPARISONS = (truth.at_least, truth.at_most, truth.greater, truth.less)

# rows: left operand T, U, F; columns: right operand T, U, F
KLEENE_AND = ((T, U, F), (U, U, F), (F, F, F))
KLEENE_OR = ((T, T, T), (T, U, U), (T, U, F))


@pytest.mark.parametrize(("row", "column"), list(itertools.product(range(3), range(3))))
def test_and_or_follow_kleenes_tables(row: int, column: int) -> None:
    left, right = np.array([[VALUES[row]]]), np.array([[VALUES[column]]])
    assert truth.all_of(left, right) == KLEENE_AND[row][column]
    assert truth.any_of(left, right) == KLEENE_OR[row][column]


def test_negation_keeps_what_cannot_be_told() -> None:
    assert truth.negation(np.array([T, U, F])).tolist() == [F, U, T]


def test_more_than_two_operands_broadcast() -> None:
    rows, stations, one = np.array([[T], [F]]), np.array([[T, U, F]]), np.array([[T]])
    assert truth.all_of(rows, stations, one).tolist() == [[T, U, F], [F, F, F]]
    assert truth.any_of(rows, stations, 1 - one).tolist() == [[T, T, T], [T, U, F]]


def test_no_value_is_chosen_where_the_condition_cannot_be_told() -> None:
    chosen = truth.choose(np.array([T, U, F]), np.array([1.0, 1.0, 1.0]), np.array([2.0, 1.0, 2.0]))
    np.testing.assert_array_equal(chosen, [1.0, math.nan, 2.0])


def test_a_missing_truth_chooses_nothing() -> None:
    assert np.isnan(truth.choose(np.array([math.nan]), 1.0, 2.0)).all()
    assert truth.told(np.array([T, math.nan, F, math.inf, -math.inf])).tolist() == [T, U, F, U, U]


def test_the_value_not_chosen_may_be_missing() -> None:
    assert truth.choose(np.array([T, F]), np.array([1.0, math.nan]), np.array([math.nan, 2.0])).tolist() == [1.0, 2.0]


@pytest.mark.parametrize("comparison", COMPARISONS)
@pytest.mark.parametrize(("value", "limit"), [(math.nan, 1.0), (1.0, math.nan), (math.inf, 1.0), (1.0, -math.inf)])
def test_what_is_not_finite_is_never_decided(comparison: object, value: float, limit: float) -> None:
    assert callable(comparison)
    assert comparison(np.array([value]), np.array([limit])).tolist() == [U]


def test_inches_and_millimetres_agree_on_the_limit() -> None:
    # 1 in = 25.4 mm exactly (ISO 31-1, NIST SP 811 B.8)
    clearance = np.array([0.3438 * 0.0254 - 0.3412 * 0.0254])
    limit = 0.06604e-3
    assert clearance[0] != limit
    assert truth.at_most(clearance, limit) == T
    assert truth.at_least(clearance, limit) == T
    assert truth.greater(clearance, limit) == F
    assert truth.less(clearance, limit) == F


@pytest.mark.parametrize("limit", [2.5, -2.5, 0.0, 6.35e-6, 1e9])
def test_the_tolerance_is_as_stated(limit: float) -> None:
    stated = 1e-9 * abs(limit) + 1e-12
    near, far = np.array([limit - 0.99 * stated]), np.array([limit - 1.01 * stated])
    assert (truth.at_least(near, limit), truth.at_least(far, limit)) == (T, F)
    assert (truth.less(near, limit), truth.less(far, limit)) == (F, T)
    near, far = np.array([limit + 0.99 * stated]), np.array([limit + 1.01 * stated])
    assert (truth.at_most(near, limit), truth.at_most(far, limit)) == (T, F)
    assert (truth.greater(near, limit), truth.greater(far, limit)) == (F, T)


def test_the_tolerance_is_far_below_any_instrument() -> None:
    # a micrometer reading to a tenth of a thou on a 4 in bore; 0.1 um, the finest shop comparator
    assert truth.greater(np.array([4.0301 * 0.0254]), 4.03 * 0.0254) == T
    assert truth.greater(np.array([0.1 + 1e-7]), 0.1) == T


finite = st.floats(-1e6, 1e6)


@given(finite, finite)
def test_comparisons_agree_with_python_outside_the_tolerance(value: float, limit: float) -> None:
    array = np.array([value])
    if math.isclose(value, limit, rel_tol=2e-9, abs_tol=2e-12):
        return
    assert truth.at_least(array, limit) == (value >= limit)
    assert truth.at_most(array, limit) == (value <= limit)
    assert truth.greater(array, limit) == (value > limit)
    assert truth.less(array, limit) == (value < limit)


@given(finite, finite)
def test_each_comparison_is_the_negation_of_its_opposite(value: float, limit: float) -> None:
    array = np.array([value])
    assert truth.at_least(array, limit) == truth.negation(truth.less(array, limit))
    assert truth.at_most(array, limit) == truth.negation(truth.greater(array, limit))


@given(st.lists(st.sampled_from(VALUES), min_size=2, max_size=6), st.data())
def test_knowing_more_never_contradicts_what_was_decided(values: list[float], data: st.DataObject) -> None:
    known = [data.draw(st.sampled_from((T, F))) if value == U else value for value in values]
    for operation in (truth.all_of, truth.any_of):
        before, after = operation(*values), operation(*known)
        assert before in (after, U)


def test_choices_are_compared_by_their_position() -> None:
    assert truth.same(np.array([0.0, 1.0, math.nan]), 1.0).tolist() == [F, T, U]
