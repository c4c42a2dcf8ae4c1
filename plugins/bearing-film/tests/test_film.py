"""The film against published values, another solution of the same equation, and what must hold of any film."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from checker import Interval
from hypothesis import given, settings
from hypothesis import strategies as st

from checker_bearing_film.bearing import best_sommerfeld_number, kinematic_viscosity, least_film, sommerfeld_number
from checker_bearing_film.functions import FUNCTIONS
from checker_bearing_film.reynolds import Array, solved
from checker_bearing_film.table import (
    film_over_clearance,
    flow_variable,
    friction_variable,
    side_flow_share,
)

# A. A. Raimondi, J. Boyd, "A solution for the finite journal bearing and its application to analysis and design",
# ASLE Transactions 1 (1958), parts I to III, full bearing: Sommerfeld numbers by eccentricity, from memory.
RAIMONDI_BOYD = {
    1.0: {0.1: 1.33, 0.2: 0.631, 0.4: 0.264, 0.6: 0.121, 0.8: 0.0446, 0.9: 0.0188, 0.97: 0.00474},
    0.5: {0.1: 4.31, 0.2: 2.03, 0.4: 0.779, 0.6: 0.319, 0.8: 0.0923, 0.9: 0.0313, 0.97: 0.00609},
    0.25: {0.1: 16.2, 0.2: 7.57, 0.4: 2.83, 0.6: 1.07, 0.8: 0.261, 0.9: 0.0736, 0.97: 0.0101},
}
POINTS = [(width, at, number) for width, column in RAIMONDI_BOYD.items() for at, number in column.items()]


def at(value: float) -> Array:
    return np.array([[value]])


@pytest.mark.parametrize(("width", "eccentricity", "number"), POINTS[1::3])
def test_the_solution_gives_raimondi_and_boyds_numbers(width: float, eccentricity: float, number: float) -> None:
    """Within 1.5 %; their grid of 1958 was coarse for the thinnest films."""
    found = solved(eccentricity, width, around=120, across=10).sommerfeld_number
    assert found == pytest.approx(number, rel=0.015 if eccentricity < 0.95 else 0.04)


@pytest.mark.parametrize(("width", "eccentricity", "number"), POINTS)
def test_the_table_gives_raimondi_and_boyds_films(width: float, eccentricity: float, number: float) -> None:
    (film,) = film_over_clearance(at(number), at(width))
    assert film == pytest.approx(1.0 - eccentricity, rel=0.015 if eccentricity < 0.95 else 0.03)


@pytest.mark.parametrize(("eccentricity", "number"), [(0.2, 0.123), (0.6, 0.0389), (0.8, 0.021)])
def test_a_very_wide_bearing_is_theirs_without_sides(eccentricity: float, number: float) -> None:
    """The same source, L/D infinite, from memory."""
    assert solved(eccentricity, 200.0, around=120, across=16).sommerfeld_number == pytest.approx(number, rel=0.015)


@pytest.mark.parametrize(
    ("number", "width", "film", "friction", "flow", "side"),
    [
        # Mechanical Engineering Design (Shigley), example 12-1: chart readings from memory; friction 3.5 is read
        (0.135, 1.0, 0.42, 3.5, 4.28, 0.655),
        # the same book, solution of problem 12-1 as read: S = 0.055 x 18.33 x 833.3^2 / 3.84e6 = 0.182
        (0.182, 0.5, 0.30, 5.4, 5.1, 0.81),
    ],
)
def test_worked_examples(number: float, width: float, film: float, friction: float, flow: float, side: float) -> None:
    given_ = (at(number), at(width))
    assert film_over_clearance(*given_)[0, 0] == pytest.approx(film, abs=0.01)
    assert friction_variable(*given_)[0, 0] == pytest.approx(friction, abs=0.15)
    assert flow_variable(*given_)[0, 0] == pytest.approx(flow, abs=0.06)
    assert side_flow_share(*given_)[0, 0] == pytest.approx(side, abs=0.01)


def test_the_clearance_is_that_of_the_diameter() -> None:
    """The example's inputs: radius 0.75 in, radial clearance 1.5 thou, 30 turns a second, 500 lbf, 4 microreyn."""
    reyn, inch, lbf = 6894.757, 0.0254, 4.4482216
    found = sommerfeld_number(
        at(4e-6 * reyn), at(30.0), at(500 * lbf), at(1.5 * inch), at(1.5 * inch), at(0.003 * inch)
    )
    assert found[0, 0] == pytest.approx(0.135, abs=0.0005)


@pytest.mark.parametrize(("eccentricity", "width"), [(0.05, 0.23), (0.63, 1.45), (0.85, 0.42), (0.985, 1.1)])
def test_the_table_is_as_near_the_solution_as_stated(eccentricity: float, width: float) -> None:
    film = solved(eccentricity, width)
    given_ = (at(film.sommerfeld_number), at(width))
    assert film_over_clearance(*given_)[0, 0] == pytest.approx(1.0 - eccentricity, rel=0.004)
    assert friction_variable(*given_)[0, 0] == pytest.approx(film.friction, rel=0.004)
    assert flow_variable(*given_)[0, 0] == pytest.approx(film.flow, abs=0.01)
    assert side_flow_share(*given_)[0, 0] == pytest.approx(film.side_flow / film.flow, abs=0.004)


def relaxed_number(eccentricity: float, width: float, around: int = 200, across: int = 20) -> float:
    """The Sommerfeld number by relaxing points of an even grid, suction cut off as it comes (Christopherson 1941)."""
    step, high = 2 * math.pi / around, 1.0 / across
    wide = 1.0 + eccentricity * np.cos(np.arange(around + 1) * step)
    face = ((wide[1:] + wide[:-1]) / 2) ** 3
    before, after = face[:-1, None] / step**2, face[1:, None] / step**2
    side = wide[1:-1, None] ** 3 / (width * high) ** 2
    drive = np.diff((wide[1:] + wide[:-1]) / 2)[:, None] / step
    whole = before + after + 2.0 * side
    pressure = np.zeros((around + 1, across + 2))  # the middle, its mirror image before it, and the edge
    parity = np.add.outer(np.arange(around - 1), np.arange(across)) % 2
    for _ in range(3000):
        most = 0.0
        for colour in (0, 1):
            pressure[:, 0] = pressure[:, 2]
            inner = pressure[1:-1, 1:-1]
            mean = before * pressure[:-2, 1:-1] + after * pressure[2:, 1:-1]
            mean += side * (pressure[1:-1, :-2] + pressure[1:-1, 2:]) - drive
            new = np.maximum(inner + 1.85 * (mean / whole - inner), 0.0)
            change = np.where(parity == colour, new - inner, 0.0)
            inner += change
            most = max(most, float(np.abs(change).max()))
        if most < 1e-8 * pressure.max():
            break
    along = (2 * pressure[1:-1, 2:-1].sum(axis=1) + pressure[1:-1, 1]) * high * step
    angle = np.arange(1, around) * step
    return float(1 / (3 * math.pi * math.hypot((along * np.cos(angle)).sum(), (along * np.sin(angle)).sum())))


@pytest.mark.parametrize(("eccentricity", "width"), [(0.3, 1.0), (0.6, 0.5), (0.85, 0.3)])
def test_another_solution_of_the_equation_agrees(eccentricity: float, width: float) -> None:
    number = relaxed_number(eccentricity, width)
    assert solved(eccentricity, width, 160, 12).sommerfeld_number == pytest.approx(number, rel=0.01)
    assert film_over_clearance(at(number), at(width))[0, 0] == pytest.approx(1.0 - eccentricity, rel=0.012)


@pytest.mark.parametrize(
    ("at_40", "at_100", "celsius", "expected"),
    [(32.0, 5.4, 80.0, 8.53), (95.0, 14.2, 130.0, 7.834), (66.0, 10.2, 90.0, 12.9), (32.0, 5.4, 40.0, 32.0)],
)
def test_viscosity_between_two_temperatures(at_40: float, at_100: float, celsius: float, expected: float) -> None:
    """ASTM D341, two-point form: a published spreadsheet example (8.53), and its equation worked by hand."""
    found = kinematic_viscosity(at(at_40 * 1e-6), at(at_100 * 1e-6), at(celsius + 273.15)) * 1e6
    assert found[0, 0] == pytest.approx(expected, rel=0.005)


INCH, LBF = 0.0254, 4.4482216152605


def big_end(millipascal_seconds: float, rpm: float, pounds: float, thou: float) -> float:
    """The film in microinches of a 2.1 in journal that is 0.84 in wide."""
    parts = (millipascal_seconds * 1e-3, rpm / 60, pounds * LBF, 2.1 * INCH, 0.84 * INCH, thou * 1e-3 * INCH)
    return float(least_film(*map(at, parts))[0, 0] / INCH * 1e6)


def test_big_ends_as_worked_by_hand_from_the_charts() -> None:
    """S = 0.0297 and a film of 0.082 of the radial clearance, interpolated between L/D of a quarter and a half."""
    assert big_end(3.5, 6500, 2500, 2.4) == pytest.approx(99, rel=0.02)
    assert big_end(2.9, 6500, 2500, 2.4) == pytest.approx(87, rel=0.02)
    assert big_end(3.5, 6500, 2500, 3.2) == pytest.approx(89, rel=0.02)
    assert big_end(2.6, 6500, 2500, 1.6) == pytest.approx(92, rel=0.02)
    assert big_end(3.5, 2500, 1500, 2.4) == pytest.approx(73, rel=0.02)


def test_no_clearance_has_no_film_and_off_the_table_nothing_is_said() -> None:
    assert big_end(3.5, 6500, 2500, 0.0) == 0.0
    assert big_end(3.5, 6500, 2500, -1.0) == 0.0
    assert big_end(3.5, 6500, 1e6, 2.4) == math.inf
    assert film_over_clearance(at(0.1), at(0.19))[0, 0] == math.inf
    assert film_over_clearance(at(0.1), at(1.7))[0, 0] == math.inf
    assert best_sommerfeld_number(at(1.7))[0, 0] == math.inf


def test_the_best_clearance_has_the_thickest_film() -> None:
    best = best_sommerfeld_number(at(0.4))[0, 0]
    films = [big_end(3.5, 6500, 2500, thou) for thou in np.linspace(0.6, 4.0, 341)]
    at_a_metre = sommerfeld_number(*map(at, (3.5e-3, 6500 / 60, 2500 * LBF, 2.1 * INCH, 0.84 * INCH, 1.0)))[0, 0]
    thou_at_best = 1e3 * math.sqrt(at_a_metre / best) / INCH
    assert big_end(3.5, 6500, 2500, thou_at_best) == pytest.approx(max(films), rel=0.002)


def test_ten_thousand_bearings_at_once() -> None:
    clearance = np.linspace(1e-5, 1e-4, 10_000)[:, np.newaxis]
    film = least_film(at(3.5e-3), at(100.0), at(8000.0), at(0.05), at(0.02), clearance)
    assert film.shape == (10_000, 1)
    assert film[4321] == least_film(*map(at, (3.5e-3, 100.0, 8000.0, 0.05, 0.02, float(clearance[4321, 0]))))


# What engines and pumps have, SI: viscosity, speed, load, diameter, width, clearance
LIMITS = ((0.002, 0.05), (5.0, 200.0), (500.0, 2e4), (0.03, 0.08), (0.016, 0.03), (1e-5, 2e-4))
bearings = st.tuples(*(st.floats(low, high) for low, high in LIMITS))
GROWS = (1, 1, -1, 1, 1)


@settings(deadline=None)
@given(bearings, st.integers(0, 4), st.floats(1.001, 1.5))
def test_the_film_grows_with_all_but_the_load(bearing: tuple[float, ...], which: int, factor: float) -> None:
    more = tuple(value * factor if index == which else value for index, value in enumerate(bearing))
    before, after = (float(least_film(*map(at, each))[0, 0]) for each in (bearing, more))
    if math.isfinite(before) and math.isfinite(after):
        assert (after - before) * GROWS[which] >= -1e-9 * before


@settings(max_examples=40, deadline=None)
@given(bearings, st.tuples(*[st.floats(0.0, 0.3)] * 6), st.integers(0, 2**32 - 1))
def test_the_film_lies_in_the_range_stated_for_it(low: tuple[float, ...], wide: tuple[float, ...], seed: int) -> None:
    high = tuple(value * (1.0 + part) for value, part in zip(low, wide, strict=True))
    found = FUNCTIONS["least_film"].range_of(*map(Interval, low, high))
    points = np.random.default_rng(seed).uniform(low, high, (200, 6)).T
    film = least_film(*(each[:, np.newaxis] for each in points))
    film = film[np.isfinite(film)]
    assert (film >= found.low * (1 - 1e-9)).all()
    assert (film <= found.high * (1 + 1e-9)).all()
    # and no looser than the parts make it: a range of one clearance is almost one film
    alone = FUNCTIONS["least_film"].range_of(*(Interval(value, value) for value in low))
    assert alone.high - alone.low <= 1e-9 * alone.high


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["eccentricity_ratio", "film_friction", "film_flow", "side_flow_share"]),
    st.floats(0.0011, 100.0),
    st.floats(1.0, 3.0),
    st.floats(0.2, 1.5),
    st.floats(1.0, 1.3),
    st.integers(0, 2**32 - 1),
)
def test_each_variable_lies_in_its_range(
    name: str, number: float, more: float, width: float, wider: float, seed: int
) -> None:
    random = np.random.default_rng(seed)
    points = random.uniform((number, width), (number * more, width * wider), (200, 2)).T
    function: Any = FUNCTIONS[name]
    low, high = function.range_of(Interval(number, number * more), Interval(width, width * wider))
    values = function(*(each[:, np.newaxis] for each in points))
    values = values[np.isfinite(values)]
    assert (values >= low - 1e-9 * abs(low)).all()
    assert (values <= high + 1e-9 * abs(high)).all()


@settings(max_examples=40, deadline=None)
@given(st.floats(20, 300), st.floats(4, 30), st.floats(0, 190), st.floats(1, 1.3), st.floats(0, 20))
def test_the_viscosity_lies_in_its_range(thick: float, thin: float, celsius: float, more: float, span: float) -> None:
    ends = [(thick * 1e-6, thick * more * 1e-6), (thin * 1e-6, thin * more * 1e-6)]
    ends.append((celsius + 273.15, celsius + span + 273.15))
    low, high = FUNCTIONS["kinematic_viscosity"].range_of(*(Interval(*each) for each in ends))
    points = np.random.default_rng(0).uniform(*zip(*ends, strict=True), (200, 3)).T
    values = kinematic_viscosity(*points)
    assert (values >= low * (1 - 1e-9)).all()
    assert (values <= high * (1 + 1e-9)).all()
