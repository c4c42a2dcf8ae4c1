"""Expressions at the edges of the grammar: nothing leaks to standard error, signs stand once, powers do not vanish."""

from __future__ import annotations

import warnings

import pytest
from expression_tools import number, scope_of
from hypothesis import given
from hypothesis import strategies as st

from checker.expressions.compiling import compile_expression
from checker.expressions.intervals import Interval, RangeError, power
from checker.expressions.problems import ExpressionError
from checker.expressions.syntax import parse

SCOPE = scope_of(number("x", 0.0, 10.0), number("small", 1e-9, 1e-6), number("y", -5.0, 5.0))


def problems_of(text: str) -> str:
    with pytest.raises(ExpressionError) as caught:
        compile_expression(text, SCOPE)
    return "; ".join(f"{problem.message} {problem.hint}" for problem in caught.value.problems)


@pytest.mark.parametrize(
    "text", ["x.1if x", "x.1if x else y", "x .1if x", "0.1if x > 1 else 2", "1or x", "0x1for x", "x.5and y"]
)
def test_a_number_run_into_a_word_leaks_no_warning(text: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert parse(text).problems


TOKENS = st.sampled_from(
    [
        "x",
        "y",
        ".",
        "1",
        ".1",
        "0.5",
        "1e3",
        "0x1f",
        "if",
        "else",
        "or",
        "and",
        "not",
        "is",
        "in",
        "(",
        ")",
        "'a'",
        "*",
        "+",
        "-",
    ]
)


@given(st.lists(st.tuples(TOKENS, st.sampled_from(("", " "))), max_size=9))
def test_no_text_leaks_a_warning(pieces: list[tuple[str, str]]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        parse("".join(piece + joint for piece, joint in pieces))


@pytest.mark.parametrize(
    "text", ["+x", "x * +y", "x - +y", "x**+2", "smaller_of(x, +y)", "not +x > 1", "x if +x > 1 else y", "x < +y"]
)
def test_a_plus_sign_stands_only_between_two_values(text: str) -> None:
    assert "a plus sign before a value leave it out" in problems_of(text)


@pytest.mark.parametrize("text", ["x + y", "x+y", "x + -y", "1e+3*x", "x - -y", "(x) + (y)"])
def test_other_signs_are_as_they_were(text: str) -> None:
    assert compile_expression(text, SCOPE).text == text


@pytest.mark.parametrize("text", ["(((small**4)**4)**4)**4", "((small**4)**4)**4", "x/(((small**4)**4)**4)"])
def test_repeated_powers_do_not_underflow_to_nothing(text: str) -> None:
    """Everything in it is above zero, so nothing of it may count as zero."""
    assert "underflow" in problems_of(text)


def test_a_power_of_zero_is_zero() -> None:
    assert power(Interval(0.0, 2.0), 4.0) == (0.0, 16.0)
    assert power(Interval(0.0, 0.0), 2.0) == (0.0, 0.0)


@given(st.floats(-1e9, 1e9), st.floats(-1e9, 1e9), st.sampled_from((1.0, 2.0, 3.0, 4.0, -1.0, -2.0, -4.0)))
def test_the_range_of_a_power_holds_its_values_and_zero_only_with_them(
    one: float, other: float, exponent: float
) -> None:
    base = Interval(*sorted((one, other)))
    try:
        found = power(base, exponent)
    except RangeError:
        return
    for value in (base.low, base.high, (base.low + base.high) / 2):
        powered = value**exponent
        hair = 1e-12 * abs(powered)
        assert found.low - hair <= powered <= found.high + hair
    assert 0.0 in base or 0.0 not in found
