"""Dimension algebra against dimensional analysis as any physics text has it, and against pint's own registry."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pint_registry import REGISTRY

from checker.units.dimensions import (
    DIMENSIONLESS,
    Dimension,
    conversion,
    describe,
    dimension_of,
    divide,
    multiply,
    power,
)

LENGTH, MASS, TIME, ANGLE = (dimension_of(name) for name in ("m", "kg", "s", "rad"))
NAMES = ("m", "kg", "s", "K", "rad", "N", "psi", "rpm", "lbf_ft", "cst", "ratio")


def test_force_pressure_and_power_follow_from_the_base() -> None:
    force = divide(multiply(MASS, LENGTH), power(TIME, 2))
    assert force == dimension_of("lbf") == dimension_of("N")
    assert divide(force, power(LENGTH, 2)) == dimension_of("psi")
    assert multiply(multiply(force, LENGTH), dimension_of("rpm")) == dimension_of("hp")


def test_an_angle_is_no_ratio() -> None:
    assert dimension_of("deg") == dimension_of("turn") == ANGLE
    assert ANGLE != DIMENSIONLESS
    assert dimension_of("rpm") == power(TIME, -1)
    assert divide(LENGTH, LENGTH) == DIMENSIONLESS == dimension_of("percent")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("inch", "length"),
        ("percent", "bare number"),
        ("rpm", "rotational speed"),
        ("lbf_per_inch", "force per length"),
        ("lbf_ft", "force times length"),
        ("oz_in", "mass times length"),
        ("cc_per_min", "volume per time"),
        ("per_K", "temperature^-1"),
    ],
)
def test_dimensions_in_words(name: str, words: str) -> None:
    assert describe(dimension_of(name)) == words


def test_roots_come_back_to_the_length() -> None:
    assert power(power(LENGTH, 2), 0.5) == LENGTH
    assert power(power(LENGTH, 1 / 3), 3) == LENGTH
    assert power(LENGTH, 0) == DIMENSIONLESS
    assert multiply(power(LENGTH, 0.1), power(LENGTH, 0.2)) == power(LENGTH, 0.3)
    assert hash(power(power(LENGTH, 2), 0.5)) == hash(LENGTH)


def test_a_dimension_survives_the_way_to_another_process() -> None:
    assert pickle.loads(pickle.dumps(dimension_of("psi"))) == dimension_of("psi")  # noqa: S301 - our own bytes


def test_temperatures_have_offsets_and_differences_have_none() -> None:
    assert conversion("degF") == (pytest.approx(5 / 9), pytest.approx(459.67 * 5 / 9))
    assert conversion("delta_degF") == (pytest.approx(5 / 9), 0.0)
    assert conversion("degC") == (1.0, 273.15)


REFERENCE_NAMES = {"lbf_ft": "lbf * ft", "cst": "cSt", "ratio": "", "rad": "rad", "rpm": "1 / minute"}


@given(st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from((-2, -1, -0.5, 0.5, 1, 2, 3))), max_size=4))
def test_algebra_agrees_with_the_general_registry(factors: list[tuple[str, float]]) -> None:
    ours: Dimension = DIMENSIONLESS
    theirs = REGISTRY.Quantity(1.0)
    for name, exponent in factors:
        ours = multiply(ours, power(dimension_of(name), exponent))
        theirs = theirs * REGISTRY.Quantity(1.0, REFERENCE_NAMES.get(name, name)) ** exponent
    without_angle = {f"[{base}]": float(exponent) for base, exponent in ours if base != "angle"}
    assert without_angle == pytest.approx({base: float(exponent) for base, exponent in theirs.dimensionality.items()})
