"""Evaluation on arrays, against the same arithmetic in plain Python, and with values missing or not covered."""

from __future__ import annotations

import math
import operator
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from examples import examples
from expression_tools import ENGINE, NO_STATIONS, SIX, Stations, number, scope_of, symbol, value_of
from hypothesis import assume, given
from hypothesis import strategies as st

from checker.expressions.compiling import compile_expression
from checker.expressions.evaluate import EvaluationError, evaluate
from checker.expressions.expression import Expression
from checker.expressions.functions import FUNCTIONS, A, Function
from checker.expressions.names import Column, Scope, Symbol
from checker.expressions.problems import ExpressionError
from checker.expressions.truth import Array
from checker.units.dimensions import DIMENSIONLESS

NAN, INF = math.nan, math.inf
NAMES = ("x", "y", "z")
PLAIN = scope_of(*(number(name, 0.5, 2.0) for name in NAMES))
Values = dict[str, float]
Worked = tuple[str, Callable[[Values], float]]

# --- the same arithmetic in plain Python ------------------------------------------------------------------------

leaves: st.SearchStrategy[Worked] = st.one_of(
    st.sampled_from(NAMES).map(lambda name: (name, lambda values: values[name])),
    st.sampled_from(["1", "0.25", "3.5", "2"]).map(lambda text: (text, lambda values: float(text))),
)


def _both(sign: str, join: Callable[[float, float], float]) -> Callable[[tuple[Worked, Worked]], Worked]:
    return lambda two: (f"({two[0][0]} {sign} {two[1][0]})", lambda values: join(two[0][1](values), two[1][1](values)))


def _called(name: str, function: Callable[..., float]) -> Callable[[tuple[Worked, ...]], Worked]:
    return lambda given: (
        f"{name}({', '.join(text for text, _ in given)})",
        lambda values: function(*(calculate(values) for _, calculate in given)),
    )


def _conditional(parts: tuple[Worked, Worked, Worked, Worked]) -> Worked:
    (a, a_of), (b, b_of), (c, c_of), (d, d_of) = parts

    def calculate(values: Values) -> float:
        left, right = b_of(values), c_of(values)
        is_less = left < right and not math.isclose(left, right, rel_tol=1e-9, abs_tol=1e-12)
        return a_of(values) if is_less else d_of(values)

    return f"({a} if {b} < {c} else {d})", calculate


def _grown(children: st.SearchStrategy[Worked]) -> st.SearchStrategy[Worked]:
    pairs = st.tuples(children, children)
    return st.one_of(
        pairs.map(_both("+", operator.add)),
        pairs.map(_both("-", operator.sub)),
        pairs.map(_both("*", operator.mul)),
        pairs.map(_both("/", operator.truediv)),
        children.map(lambda one: (f"({one[0]})**2", lambda values: one[1](values) ** 2)),
        children.map(lambda one: (f"(-{one[0]})", lambda values: -one[1](values))),
        pairs.map(_called("smaller_of", min)),
        pairs.map(_called("larger_of", max)),
        pairs.map(_called("hypot", math.hypot)),
        st.tuples(children).map(_called("abs", abs)),
        st.tuples(children).map(_called("sqrt", math.sqrt)),
        st.tuples(children).map(_called("atan", math.atan)).map(lambda one: (f"({one[0]}/1 rad)", one[1])),
        st.tuples(children, children, children, children).map(_conditional),
    )


@examples(300)
@given(
    st.recursive(leaves, _grown, max_leaves=8), st.lists(st.tuples(*[st.floats(0.5, 2.0)] * 3), min_size=1, max_size=4)
)
def test_evaluation_equals_plain_arithmetic_and_stays_in_range(
    worked: Worked, rows: list[tuple[float, float, float]]
) -> None:
    text, calculate = worked
    try:
        expression = compile_expression(text, PLAIN)
    except ExpressionError as error:
        # Only what can fail somewhere in the ranges may be refused here.
        assert all("plausible ranges" in problem.message for problem in error.problems)
        return
    columns = {name: np.array([[row[place]] for row in rows]) for place, name in enumerate(NAMES)}
    found = evaluate(expression, lambda column: columns[column.name], NO_STATIONS)
    for row, value in zip(rows, np.broadcast_to(found, (len(rows), 1))[:, 0], strict=True):
        expected = calculate(dict(zip(NAMES, row, strict=True)))
        assert value == pytest.approx(expected, rel=1e-9, abs=1e-9)
        slack = 1e-9 * max(1.0, abs(expected))
        assert expression.low - slack <= value <= expression.high + slack


# --- missing values ---------------------------------------------------------------------------------------------

conditions = st.recursive(
    st.sampled_from(["x < y", "y <= z", "z > 1.2", "x < y < z", "x + y > z", "known(x)", "smaller_of(x, y) > 1"]),
    lambda below: st.one_of(
        st.tuples(below, below).map(lambda two: f"({two[0]} and {two[1]})"),
        st.tuples(below, below).map(lambda two: f"({two[0]} or {two[1]})"),
        below.map(lambda one: f"(not ({one}))"),
        st.tuples(below, below).map(lambda two: f"((x if {two[0]} else y) > 1 or {two[1]})"),
    ),
    max_leaves=6,
)
maybe = st.one_of(st.just(NAN), st.just(INF), st.floats(0.5, 2.0))


@examples(300)
@given(conditions, st.tuples(maybe, maybe, maybe), st.tuples(*[st.floats(0.5, 2.0)] * 3))
def test_a_further_reading_never_contradicts_what_was_decided(
    text: str, values: tuple[float, ...], others: tuple[float, ...]
) -> None:
    assume("known" not in text)
    before = value_of(text, PLAIN, **dict(zip(NAMES, values, strict=True))).item()
    filled = [value if math.isfinite(value) else other for value, other in zip(values, others, strict=True)]
    after = value_of(text, PLAIN, **dict(zip(NAMES, filled, strict=True))).item()
    assert before in (0.0, 0.5, 1.0)
    assert after in (0.0, 1.0)
    assert before in (after, 0.5)


@pytest.mark.parametrize(
    ("text", "values", "expected"),
    [
        ("x < 1 or y < 1", (0.5, NAN), 1.0),
        ("x < 1 and y < 1", (1.5, NAN), 0.0),
        ("x < 1 and y < 1", (0.5, NAN), 0.5),
        ("not y < 1", (1.0, NAN), 0.5),
        ("0.7 < y < x", (0.6, NAN), 0.5),
        ("(x if y > 1 else 2) > 1", (1.0, NAN), 0.5),
    ],
)
def test_a_missing_reading_tells_nothing_only_where_it_decides(
    text: str, values: tuple[float, float], expected: float
) -> None:
    assert value_of(text, PLAIN, x=values[0], y=values[1]).item() == expected


@pytest.mark.parametrize(("there", "expected"), [(0.0, 0.0), (1.0, 1.0), (NAN, 0.5)])
def test_whether_a_value_is_there_can_be_left_open(there: float, expected: float) -> None:
    """What was written down but does not count leaves it open."""
    found = value_of("known(y) and x < 2", PLAIN, **{"x": 1.0, "y__known value": there})
    assert found.item() == expected


def test_a_missing_condition_gives_no_number() -> None:
    assert np.isnan(value_of("1 if x > 1 else 2", PLAIN, x=NAN)).all()
    assert np.isnan(value_of("cylinder_bore if piston_alloy is cast else stroke", **ALLOYS)[0, 2])


ALLOYS = {"cylinder_bore": [0.1] * 6, "piston_alloy": [0.0, 1.0, NAN, 2.0, 0.0, 0.0], "stroke": 0.08}


def test_choices() -> None:
    found = value_of('piston_alloy in (cast, "2618")', **ALLOYS)
    assert found.tolist() == [[1.0, 0.0, 0.5, 1.0, 1.0, 1.0]]
    assert value_of('piston_alloy is not "4032"', **ALLOYS).tolist() == [[1.0, 0.0, 0.5, 1.0, 1.0, 1.0]]


def test_a_missing_truth_of_a_series_cannot_be_told() -> None:
    rising = {"head_bolt_torque__rises": [1.0, 0.0, NAN, 1.0, 1.0, 1.0]}
    assert value_of("not rises(head_bolt_torque)", **rising).tolist() == [[0.0, 1.0, 0.5, 0.0, 0.0, 0.0]]
    assert np.isnan(value_of("count(rises(head_bolt_torque))", **rising)).all()


# --- not covered ------------------------------------------------------------------------------------------------

LINE = "interpolate(x, 1, 3, 1.5, 4)"


@pytest.mark.parametrize(
    "text",
    [
        LINE,
        f"2 - {LINE}",
        f"y / {LINE}",
        f"{LINE}**-2",
        f"exp(-{LINE})",
        f"atan({LINE})",
        f"smaller_of(y, {LINE})",
        f"larger_of(y, {LINE})",
        f"hypot(y, {LINE})",
        f"{LINE} if y > 1 else y",
        f"1 / (1 + 1/{LINE})",
    ],
)
def test_what_no_table_covers_is_never_a_number(text: str) -> None:
    covered = value_of(text, PLAIN, x=1.2, y=1.5)
    beyond = value_of(text, PLAIN, x=1.9, y=1.5)
    assert np.isfinite(covered).all()
    assert np.isinf(beyond).all()


def test_what_no_table_covers_compares_as_cannot_tell() -> None:
    assert value_of(f"y < {LINE}", PLAIN, x=1.9, y=1.5).item() == 0.5
    assert value_of(f"{LINE} if y < 1 else y", PLAIN, x=1.9, y=1.5).item() == 1.5


def test_a_derived_value_that_is_not_covered_stays_so() -> None:
    gaps = {"ring_gap": [INF, NAN, 0.001, 0.001, 0.001, 0.001], "stroke": 0.1}
    assert value_of("stroke + ring_gap", **gaps)[0, :3].tolist() == pytest.approx([INF, NAN, 0.101], nan_ok=True)
    assert value_of("greatest(ring_gap) - 0.1 mm", **{**gaps, "ring_gap": [INF] + [0.001] * 5}).tolist() == [[INF]]


def test_only_a_table_makes_a_result_infinite() -> None:
    assert np.isnan(value_of("2*stroke", stroke=INF)).all()


# --- stations ---------------------------------------------------------------------------------------------------


def test_children_see_the_values_of_their_parents() -> None:
    lift = np.arange(24, dtype=float).reshape(2, 12) / 1000
    bore = np.arange(1, 13, dtype=float).reshape(2, 6)
    found = value_of("intake_valve_lift / cylinder_bore", intake_valve_lift=lift, cylinder_bore=bore)
    np.testing.assert_allclose(found, lift / np.repeat(bore, 2, axis=1))
    later = value_of("intake_valve_lift / (2*cylinder_bore)", intake_valve_lift=lift, cylinder_bore=bore)
    np.testing.assert_allclose(later, found / 2)


def test_reductions_per_parent() -> None:
    widths = np.arange(12, dtype=float).reshape(2, 6)
    found = value_of('total(rod_width, "crankpin") / crankpin_width', rod_width=widths, crankpin_width=[[0.5] * 3] * 2)
    np.testing.assert_allclose(found, [[6, 10, 14], [30, 34, 38]])
    assert value_of('count(rod_width > 2.5, "crankpin")', ANY_WIDTH, rod_width=widths).tolist() == [
        [1, 1, 1],
        [2, 2, 2],
    ]


ANY_WIDTH = scope_of(Symbol("rod_width", DIMENSIONLESS, "rod", 0, 99))


def test_a_parent_without_children_has_no_total() -> None:
    layout = Stations({"rod": 2, "crankpin": 3}, {("rod", "crankpin"): [0, 0]})
    found = value_of('total(rod_width, "crankpin")', ENGINE, layout, rod_width=[0.01, 0.02])
    np.testing.assert_allclose(found, [[0.03, NAN, NAN]])


def test_a_reduction_is_seen_at_every_station() -> None:
    found = value_of("main_journal_diameter - mean(main_journal_diameter)", main_journal_diameter=[1.0, 2.0, 3.0, 6.0])
    assert found.tolist() == [[-2.0, -1.0, 0.0, 3.0]]


def test_one_row_of_the_assembly_serves_many_rows() -> None:
    found = value_of("main_journal_diameter + stroke", main_journal_diameter=np.ones((3, 4)), stroke=0.1)
    assert found.shape == (3, 4)


# --- the machine ------------------------------------------------------------------------------------------------


def _plain(text: str, scope: Scope = PLAIN) -> Expression:
    return compile_expression(text, scope)


def test_columns_are_never_changed() -> None:
    column = np.array([[1.0], [2.0]])
    held = column.copy()

    def vandal(values: Array) -> Array:
        values[:] = 0.0
        return values

    scope = scope_of(number("x", 0.5, 2), functions={**FUNCTIONS, "vandal": Function("vandal", (A,), A, call=vandal)})
    with pytest.raises(EvaluationError, match=r"vandal\(x\).*read-only"):
        evaluate(_plain("vandal(x)", scope), lambda _: column, NO_STATIONS)
    np.testing.assert_array_equal(column, held)
    assert not evaluate(_plain("x"), lambda _: column, NO_STATIONS).flags.writeable


def test_a_failure_is_told_once_and_leaves_nothing_behind() -> None:
    def failing(values: Array) -> Array:
        raise ZeroDivisionError("deliberate")

    scope = scope_of(number("x", 0.5, 2), functions={**FUNCTIONS, "fail": Function("fail", (A,), A, call=failing)})
    for _ in range(2):
        with pytest.raises(EvaluationError, match="fail"):
            evaluate(_plain("fail(x)", scope), lambda _: np.ones((1000, 1)), NO_STATIONS)
        assert evaluate(_plain("2*x"), lambda _: np.ones((1, 1)), NO_STATIONS).item() == 2.0


def test_an_interruption_is_not_swallowed() -> None:
    def interrupted(values: Array) -> Array:
        raise KeyboardInterrupt

    scope = scope_of(number("x", 0.5, 2), functions={**FUNCTIONS, "wait": Function("wait", (A,), A, call=interrupted)})
    with pytest.raises(KeyboardInterrupt):
        evaluate(_plain("wait(x)", scope), lambda _: np.ones((1, 1)), NO_STATIONS)


@pytest.mark.parametrize("column", [np.ones(3), np.ones((1, 1), dtype=np.int64), np.ones((1, 1), dtype=np.float32)])
def test_columns_of_another_kind_are_a_fault_of_the_caller(column: Array) -> None:
    with pytest.raises(TypeError, match="float64"):
        evaluate(_plain("2*x"), lambda _: column, NO_STATIONS)


def test_columns_that_do_not_match_are_a_fault_of_the_caller() -> None:
    columns = {"x": np.ones((2, 1)), "y": np.ones((3, 1))}
    with pytest.raises(EvaluationError, match="broadcast"):
        evaluate(_plain("x + y"), lambda column: columns[column.name], NO_STATIONS)


def test_a_fetch_may_itself_evaluate() -> None:
    inner = _plain("2*x")

    def fetch(column: Column) -> Array:
        return np.ones((1, 1)) if column.name == "x" else evaluate(inner, fetch, NO_STATIONS)

    assert evaluate(_plain("x + y"), fetch, NO_STATIONS).item() == 3.0


def test_threads_share_expressions() -> None:
    """A program keeps nothing of what it is taken in."""
    texts = ["x + y", "x*y - z", "sqrt(x**2 + y**2)", "x if y < z else z", "smaller_of(x, y) / z"]
    compiled = [_plain(text) for text in texts]
    start = threading.Barrier(4)

    def work(seed: int) -> int:
        random = np.random.default_rng(seed)
        start.wait()
        wrong = 0
        for _ in range(150):
            x, y, z = random.uniform(0.5, 2.0, (3, 5, 1))
            columns = {"x": x, "y": y, "z": z}
            expected = [x + y, x * y - z, np.hypot(x, y), np.where(y < z, x, z), np.minimum(x, y) / z]
            for expression, values in zip(compiled, expected, strict=True):
                found = evaluate(expression, lambda column, held=columns: held[column.name], NO_STATIONS)
                wrong += not np.allclose(found, values, rtol=1e-12)
        return wrong

    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(work, range(4))) == [0, 0, 0, 0]


def test_rows_do_not_lengthen_the_walk() -> None:
    """One walk serves a block: the functions are called once however many rows there are."""
    calls = []
    counted = Function("counted", (A,), A, call=lambda values: calls.append(values.shape) or values + 0.0)
    scope = scope_of(symbol("x", "m", "main", 0, 2), functions={**FUNCTIONS, "counted": counted})
    evaluate(_plain("counted(x) + 1 m", scope), lambda _: np.ones((500, 4)), SIX)
    assert calls == [(500, 4)]


def test_what_stands_in_several_places_is_calculated_once() -> None:
    calls = []
    counted = Function("counted", (A,), A, call=lambda values: calls.append(values.shape) or values + 0.0)
    scope = scope_of(symbol("x", "m", "main", 0, 2), functions={**FUNCTIONS, "counted": counted})
    found = evaluate(_plain("counted(2*x) + 2*counted( 2*x )", scope), lambda _: np.ones((1, 4)), SIX)
    assert found.tolist() == [[6.0] * 4]
    assert calls == [(1, 4)]
