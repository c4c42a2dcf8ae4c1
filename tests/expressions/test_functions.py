"""What expressions may call. Worked values from handbooks and from Python's own mathematics, named beside each."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from expression_tools import ANGLE, LENGTH, SIX, number, scope_of, value_of
from hypothesis import given
from hypothesis import strategies as st

from checker.expressions.compiling import compile_expression
from checker.expressions.functions import FUNCTIONS, A, B, Free, Function, FunctionError, Kind
from checker.expressions.intervals import Interval, RangeError
from checker.expressions.problems import ExpressionError
from checker.expressions.ranges import unchanged
from checker.units.dimensions import DIMENSIONLESS

NAN, INF = math.nan, math.inf


def call(name: str, *arguments: object) -> list[float]:
    arrays = [np.atleast_2d(np.asarray(argument, dtype=np.float64)) for argument in arguments]
    with np.errstate(all="ignore"):
        found: list[float] = FUNCTIONS[name](*arrays)[0].tolist()
    return found


# name, arguments, result, source of the result
WORKED = [
    ("sqrt", [2.25], 1.5, "arithmetic"),
    ("abs", [-0.25], 0.25, "arithmetic"),
    ("hypot", [3.0, 4.0], 5.0, "Euclid, Elements I.47"),
    ("smaller_of", [2.0, 3.0], 2.0, "arithmetic"),
    ("larger_of", [2.0, 3.0], 3.0, "arithmetic"),
    ("exp", [1.0], 2.718281828459045, "e, to sixteen digits"),
    ("log", [10.0], 2.302585092994046, "natural logarithm of 10"),
    ("log10", [2.0], 0.301029995663981, "common logarithm of 2, four-figure tables"),
    ("sin", [math.radians(30)], 0.5, "half of an equilateral triangle"),
    ("cos", [math.radians(60)], 0.5, "half of an equilateral triangle"),
    ("tan", [math.radians(45)], 1.0, "the diagonal of a square"),
    ("asin", [0.5], math.radians(30), "half of an equilateral triangle"),
    ("acos", [0.5], math.radians(60), "half of an equilateral triangle"),
    ("atan", [1.0], math.radians(45), "the diagonal of a square"),
    ("floor", [2.7], 2.0, "arithmetic"),
    ("floor", [-2.2], -3.0, "arithmetic"),
    ("ceiling", [2.2], 3.0, "arithmetic"),
    ("between_angles", [math.radians(350), math.radians(10)], math.radians(20), "across the zero of a circle"),
    ("between_angles", [math.radians(90), math.radians(270)], math.radians(180), "opposite"),
    ("between_angles", [math.radians(-90), math.radians(630)], 0.0, "the same direction two turns apart"),
    ("interpolate", [2.5, 2.0, 10.0, 3.0, 20.0], 15.0, "half way"),
    ("interpolate", [2.5, 3.0, 20.0, 2.0, 10.0], 15.0, "half way, from the other end"),
]


@pytest.mark.parametrize(("name", "arguments", "result", "source"), WORKED)
def test_worked_values(name: str, arguments: list[float], result: float, source: str) -> None:
    assert call(name, *arguments) == [pytest.approx(result, rel=1e-12, abs=1e-12)], source


def test_binary_noise_does_not_round_a_whole_step_up() -> None:
    # 3 * 0.1 is 0.30000000000000004 in binary (IEEE 754), which is three steps of 0.1 and not four
    assert call("round_up", 3 * 0.1, 0.1) == [pytest.approx(0.3)]
    assert call("round_up", 0.301, 0.1) == [pytest.approx(0.4)]
    assert call("ceiling", 0.3 / 0.1 + 1e-15) == [3.0]
    assert call("floor", 0.7 / 0.1) == [7.0]


def test_a_hair_outside_a_domain_counts_as_its_edge() -> None:
    assert call("asin", 1 + 1e-12) == [math.pi / 2]
    assert call("acos", -1 - 1e-12) == [math.pi]
    assert call("sqrt", -1e-13) == [0.0]


@pytest.mark.parametrize(
    ("name", "argument"), [("sqrt", -0.1), ("asin", 1.1), ("acos", -1.1), ("log", -1.0), ("log", 0.0)]
)
def test_outside_its_domain_a_function_has_no_value(name: str, argument: float) -> None:
    assert np.isnan(call(name, argument)).all()


def test_beyond_its_points_a_line_does_not_cover() -> None:
    assert call("interpolate", [1.99, 2.0, 3.0, 3.01], 2.0, 10.0, 3.0, 20.0) == [INF, 10.0, 20.0, INF]
    assert np.isnan(call("interpolate", NAN, 2.0, 10.0, 3.0, 20.0)).all()


REDUCED = [
    ("spread", [1.0, 4.0, 2.0], 3.0),
    ("least", [1.0, 4.0, 2.0], 1.0),
    ("greatest", [1.0, 4.0, 2.0], 4.0),
    ("mean", [1.0, 4.0, 2.5], 2.5),
    ("total", [1.0, 4.0, 2.0], 7.0),
    ("count", [1.0, 0.0, 1.0], 2.0),
]


@pytest.mark.parametrize(("name", "values", "result"), REDUCED)
def test_reductions_across_stations(name: str, values: list[float], result: float) -> None:
    assert call(name, values) == [result]


@pytest.mark.parametrize("name", [name for name, _, _ in REDUCED if name != "count"])
def test_a_reduction_with_one_station_missing_is_missing(name: str) -> None:
    assert np.isnan(call(name, [1.0, NAN, 2.0])).all()
    assert call(name, [1.0, INF, 2.0]) == [INF]
    assert np.isnan(call(name, [NAN, INF])).all()


def test_a_count_with_one_condition_unknown_is_missing() -> None:
    assert np.isnan(call("count", [1.0, 0.5, 0.0])).all()


@pytest.mark.parametrize("name", [name for name, _, _ in REDUCED])
def test_a_reduction_of_no_stations_is_missing(name: str) -> None:
    assert np.isnan(FUNCTIONS[name](np.empty((3, 0)))).all()


CALLED = [function for function in FUNCTIONS.values() if function.call]


@pytest.mark.parametrize("function", CALLED, ids=lambda function: function.name)
@pytest.mark.parametrize("blank", [NAN, INF, -INF])
def test_nothing_is_made_of_a_missing_argument(function: Function, blank: float) -> None:
    for position, kind in enumerate(function.arguments):
        arguments = [np.full((1, 2), 0.5 + number) for number in range(len(function.arguments))]
        arguments[position] = np.full((1, 2), 0.5 if kind is Kind.CONDITION else blank)
        with np.errstate(all="ignore"):
            found = function(*arguments)
        assert not np.isfinite(found).any()
        if math.isnan(blank):
            assert np.isnan(found).all()


def one(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high)


RANGED = [function for function in CALLED if not function.across]


@pytest.mark.parametrize("function", RANGED, ids=lambda function: function.name)
@given(st.data())
def test_ranges_contain_the_values(function: Function, data: st.DataObject) -> None:
    intervals, values = [], []
    for _ in function.arguments:
        ends = sorted(data.draw(one(-7, 7)) + 0.0 for _ in range(2))  # -0.0 and 0.0 are one end
        intervals.append(Interval(*ends))
        values.append(data.draw(one(*ends)))
    try:
        found = function.range_of(*intervals)
    except RangeError:
        return
    with np.errstate(all="ignore"):
        value = float(function(*(np.full((1, 1), value) for value in values))[0, 0])
    if function.ends and math.isinf(value):
        return
    slack = 1e-9 * max(1.0, abs(value))
    assert found.low - slack <= value <= found.high + slack


@pytest.mark.parametrize("function", [item for item in CALLED if item.across], ids=lambda function: function.name)
@given(st.lists(st.floats(-7, 7), min_size=1, max_size=9))
def test_ranges_contain_the_reductions(function: Function, values: list[float]) -> None:
    if function.arguments == (Kind.CONDITION,):
        values = [float(value > 0) for value in values]
    found = function.range_of(Interval(min(values), max(values)))
    value = float(function(np.array([values]))[0, 0])
    assert found.low - 1e-9 <= value <= found.high + 1e-9


@pytest.mark.parametrize("low, high", [(0.0, 1.5), (1.0, 2.0), (-2.0, 4.0), (3.0, 9.5), (0.1, 0.2)])
def test_the_range_of_a_sine_is_tight(low: float, high: float) -> None:
    angles = np.linspace(low, high, 100_001)
    for name, function in (("sin", np.sin), ("cos", np.cos)):
        found = FUNCTIONS[name].range_of(Interval(low, high))
        assert (found.low, found.high) == pytest.approx((function(angles).min(), function(angles).max()), abs=1e-8)


@pytest.mark.parametrize(
    ("name", "interval"),
    [
        ("sqrt", (-1.0, 1.0)),
        ("log", (0.0, 1.0)),
        ("log10", (-1.0, 1.0)),
        ("asin", (0.0, 1.1)),
        ("acos", (-1.1, 0.0)),
        ("tan", (1.0, 2.0)),
        ("exp", (0.0, 1000.0)),
    ],
)
def test_a_function_that_can_fail_within_a_range_says_so(name: str, interval: tuple[float, float]) -> None:
    with pytest.raises(RangeError):
        FUNCTIONS[name].range_of(Interval(*interval))


TAPER = Function("taper", (LENGTH, LENGTH), LENGTH, call=lambda top, bottom: np.abs(top - bottom))
LONGEST = Function("longest", (A,), A, call=lambda values: values.max(axis=-1), across=True)


def added(function: Function) -> dict[str, Function]:
    return {**FUNCTIONS, function.name: function}


def test_a_function_is_added_as_the_module_shows() -> None:
    scope = scope_of(number("x", 0, 9), functions=added(TAPER))
    assert value_of("taper(0.5 in, 0.498 in)", scope) == pytest.approx(0.002 * 0.0254)
    assert LONGEST(np.array([[1.0, 3.0], [NAN, 3.0]]))[0] == 3.0


@pytest.mark.parametrize(
    "misbehaving",
    [
        lambda x: np.zeros(7),
        lambda x: x[0],
        lambda x: "text",
        lambda x: None,
        lambda x: x / "a",
        lambda x: x.mean(),
        lambda x: x + 1j,
        lambda x: x.astype(str),
    ],
    ids=["shape", "row", "text", "nothing", "fails", "one number", "complex", "figures as text"],
)
def test_a_function_that_misbehaves_is_named(misbehaving: Callable[..., object]) -> None:
    function = Function("wobble", (A,), A, call=misbehaving)
    with pytest.raises(FunctionError, match="wobble"):
        function(np.ones((2, 3)))


def test_a_function_that_fails_quietly_gives_no_value_and_never_not_covered() -> None:
    function = Function("wobble", (A,), A, call=lambda x: 1 / (x - 1))
    with np.errstate(all="ignore"):
        assert np.isnan(function(np.ones((1, 1)))).all()


def test_a_condition_of_a_plugin_that_cannot_be_told_stays_so() -> None:
    function = Function("is_even", (DIMENSIONLESS,), Kind.CONDITION, call=lambda x: x % 2 == 0)
    assert function(np.array([[2.0, 3.0, NAN]])).tolist() == [[1.0, 0.0, 0.5]]


def test_a_condition_of_a_plugin_is_true_or_false_or_cannot_be_told() -> None:
    function = Function("may_be", (DIMENSIONLESS,), Kind.CONDITION, call=lambda x: x)
    assert function(np.array([[1.0, 0.0, 0.3, 2.0, -1.0]])).tolist() == [[1.0, 0.0, 0.5, 0.5, 0.5]]


def test_a_function_gets_arrays_even_for_constants() -> None:
    shapes = []
    function = Function("seen", (A,), A, call=lambda x: shapes.append(x.shape) or x * 1.0)
    assert value_of("seen(2)", scope_of(functions=added(function))).item() == 2.0
    assert shapes == [(1, 1)]


@pytest.mark.parametrize(
    "bounds",
    [lambda x: 1 / 0, lambda x: None, lambda x: (0.0, NAN), lambda x: (0.0, INF)],
    ids=["fails", "none", "nan", "inf"],
)
def test_a_range_that_cannot_be_told_is_a_problem_of_the_expression(bounds: Callable[..., object]) -> None:
    function = Function("vague", (A,), A, call=np.abs, bounds=bounds)  # type: ignore[arg-type]
    with pytest.raises(ExpressionError, match="vague"):
        compile_expression("vague(x)", scope_of(number("x", 0, 9), functions=added(function)))


def test_each_row_is_held_to_the_bounds_of_its_own_arguments() -> None:
    """In a table that of another row reaches as far; and what is reduced is held to them as what is not."""
    half = Function("half", (A,), A, call=lambda x: x / 10 + 0.46, bounds=lambda x: x, plugin="shop 1.0")
    low = Function("low", (A,), A, lambda x: x.min(axis=-1) / 10 + 0.46, lambda x: x, across=True, plugin="shop 1.0")
    for function in (half, low):
        fine, wrong = np.array([[0.5, 0.9]]), np.array([[0.1, 0.2]])
        assert np.isfinite(function(fine)).all()
        for rows in (wrong, np.concatenate([fine, wrong]), np.concatenate([fine, [[NAN, NAN]], wrong])):
            with pytest.raises(FunctionError, match=r"beyond its own bounds of 0.1 to 0.2"):
                function(rows)


@pytest.mark.parametrize(
    "arguments",
    [
        {"name": "f", "arguments": (A,), "result": A},
        {"name": "f", "arguments": (A,), "result": A, "call": np.abs, "view": "value"},
        {"name": "f", "arguments": (A,), "result": B, "call": np.abs},
        {"name": "f", "arguments": (A,), "result": Kind.VALUE, "call": np.abs},
    ],
)
def test_an_impossible_function_is_refused(arguments: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="'f'"):
        Function(**arguments)  # type: ignore[arg-type]


def test_signatures_are_those_of_geometry() -> None:
    assert FUNCTIONS["sin"].arguments == (ANGLE,)
    assert FUNCTIONS["sqrt"].result == Free("a", 0.5)
    assert FUNCTIONS["least"].bounds is unchanged
    assert SIX.count("rod") == 6
