"""Drop and lift against published values, the least against a finer grid, and ranges against what lies in them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from checker import Interval
from hypothesis import given, settings
from hypothesis import strategies as st

from checker_piston_to_valve.clearance import least_by_the_cam, least_in_table
from checker_piston_to_valve.functions import FUNCTIONS
from checker_piston_to_valve.motion import Array, lobe_lift_at, piston_drop

Twin = dict[str, float]

# 3.48 in stroke, 5.70 in rod, valve at 23 degrees, 230 degrees at 0.050 in, lobe 0.350 in, rocker 1.5; inches, degrees
TWIN: Twin = {
    "drop": 0.25,
    "leaning": 23.0,
    "stroke": 3.48,
    "rod": 5.70,
    "centreline": 106.0,
    "duration": 230.0,
    "event": 0.05,
    "lobe": 0.35,
    "ratio": 1.5,
    "lash": 0.0,
}
ANGLES = ("leaning", "centreline", "duration")


def at(value: float) -> Array:
    return np.array([[value]])


def by_the_cam(**changes: float) -> tuple[float, float]:
    """The least in inches and its angle in degrees."""
    of = {**TWIN, **changes}
    least, angle = least_by_the_cam(*(at(math.radians(of[name]) if name in ANGLES else of[name]) for name in TWIN))
    return float(least[0, 0]), math.degrees(float(angle[0, 0]))


@pytest.mark.parametrize(
    ("degrees", "stroke", "rod", "drop"),
    [(60, 86.0, 143.0, 26.4339), (90, 88.4, 154.9, 50.64), (180, 86.0, 143.0, 86.0), (0, 86.0, 143.0, 0.0)],
)
def test_piston_drop_is_that_of_slider_and_crank(degrees: float, stroke: float, rod: float, drop: float) -> None:
    """The closed form of the handbooks (C. F. Taylor), worked apart from this code; mm."""
    assert piston_drop(at(math.radians(degrees)), at(stroke), at(rod))[0, 0] == pytest.approx(drop, abs=1e-3)


def test_piston_drop_seventy_degrees_after_the_bottom() -> None:
    """A published page on trapped compression: 3.48 in stroke, 5.70 in rod, risen 0.9053 in."""
    assert 3.48 - piston_drop(at(math.radians(110)), at(3.48), at(5.7))[0, 0] == pytest.approx(0.9053, abs=1e-4)


@pytest.mark.parametrize(("degrees", "adds"), [(5, 0.008), (10, 0.032), (15, 0.071)])
def test_what_the_piston_adds_along_a_leaning_valve(degrees: float, adds: float) -> None:
    """Slider and crank worked apart from this code: 3.48 in stroke, 5.70 in rod, 23 degrees."""
    found = piston_drop(at(math.radians(degrees)), at(3.48), at(5.7))[0, 0] * math.cos(math.radians(23))
    assert found == pytest.approx(adds, abs=5e-4)


def test_the_lobe_passes_through_its_events_and_its_lift() -> None:
    def lift(off: float) -> float:
        angles = (math.radians(each) for each in (106 + off, 106, 230))
        return float(lobe_lift_at(*map(at, (*angles, 0.05, 0.35)))[0, 0])

    assert [lift(off) for off in (0, 115, -115, 170)] == pytest.approx([0.35, 0.05, 0.05, 0.0])
    # A published card: 230 degrees at 0.050 in, 274 at 0.006 in; this lobe has some 6 degrees more.
    assert lift(137) > 0.006 > lift(141)


def test_the_least_is_where_a_finer_grid_finds_it() -> None:
    fine = np.radians(np.linspace(-40, 40, 80_001))
    parts = [np.full_like(fine, each) for each in (math.radians(106), math.radians(230), 0.05, 0.35)]
    drop = piston_drop(fine, np.full_like(fine, 3.48), np.full_like(fine, 5.70)) * math.cos(math.radians(23))
    curve = 0.25 + drop - 1.5 * lobe_lift_at(fine, *parts)
    least, angle = by_the_cam()
    assert 0.0 <= least - curve.min() < 5e-5
    assert angle == pytest.approx(math.degrees(fine[curve.argmin()]), abs=0.3)


def test_the_intake_comes_nearest_after_and_the_exhaust_before_the_top() -> None:
    intake, exhaust = by_the_cam(), by_the_cam(centreline=-106.0)
    assert exhaust == pytest.approx((intake[0], -intake[1]))
    assert 5.0 <= intake[1] <= 15.0


def test_an_advance_takes_lift_slope_times_degrees_from_the_intake() -> None:
    least, angle = by_the_cam()

    def opened(centreline: float) -> float:
        degrees = (angle, centreline, 230.0)
        return 1.5 * float(lobe_lift_at(*map(at, (*(math.radians(each) for each in degrees), 0.05, 0.35)))[0, 0])

    slope = (opened(105.5) - opened(106.5)) / 1.0
    assert slope > 0.004
    assert least - by_the_cam(centreline=105.0)[0] == pytest.approx(slope, rel=0.05)
    assert by_the_cam(centreline=-115.0)[0] > by_the_cam(centreline=-114.0)[0]


def test_drop_lash_and_what_is_not_covered() -> None:
    least, angle = by_the_cam()
    assert by_the_cam(drop=0.26) == pytest.approx((least + 0.01, angle))
    assert by_the_cam(lash=0.016)[0] == pytest.approx(least + 0.016)
    assert by_the_cam(rod=1.7)[0] == math.inf
    assert by_the_cam(lobe=0.09)[0] == math.inf


@pytest.mark.parametrize(("duration", "centreline"), [(204, 110), (210, 108), (230, 106), (236, -114)])
@pytest.mark.parametrize("sharpness", [1.6, 2.0, 3.0, 4.5])
@pytest.mark.parametrize("longer", [-6.0, 0.0, 8.0])
def test_other_lobes_of_one_card_stay_within_the_doubt(
    duration: float, centreline: float, sharpness: float, longer: float
) -> None:
    """Lobes (1 - u^p)^q through both durations: the pack takes a quarter of what the cam takes for its doubt."""
    lift = 0.350
    short = math.acos(math.sqrt(0.05 / lift))
    wide = math.acos(math.sqrt(0.006 / lift)) / short * duration + longer
    inner, outer = (1 - (event / lift) ** (1 / sharpness) for event in (0.05, 0.006))
    power = math.log(outer / inner) / math.log(wide / duration)
    foot = duration / 2 / inner ** (1 / power)
    angles = np.linspace(-40, 40, 1601)
    lobe = lift * (1 - np.minimum(np.abs(angles - centreline) / foot, 1.0) ** power) ** sharpness
    radians = np.radians(angles)
    drop = piston_drop(radians, np.full_like(angles, 3.48), np.full_like(angles, 5.70)) * math.cos(math.radians(23))
    other = float((0.25 + drop - 1.5 * lobe).min())
    least, _ = by_the_cam(duration=duration, centreline=centreline)
    assert abs(other - least) <= 0.25 * (0.25 - least)


# A synthetic table of the trade's form: free drop and lobe lift every 5 degrees from 15 before to 15 after; inches
DROPS = (0.640, 0.520, 0.445, 0.420, 0.445, 0.520, 0.640)
LIFTS = (0.010, 0.030, 0.060, 0.095, 0.130, 0.165, 0.200)


def in_table(
    drops: tuple[float, ...] = DROPS, ratio: float = 1.5, lash: float = 0.0, advance: float = 0.0
) -> tuple[float, float]:
    least, angle = least_in_table(*map(at, (*drops, *LIFTS, ratio, lash, math.radians(advance))))
    return float(least[0, 0]), math.degrees(float(angle[0, 0]))


@pytest.mark.parametrize(("ratio", "station"), [(1.5, 0.250), (1.6, 0.237)])
def test_the_table_is_least_near_its_least_station(ratio: float, station: float) -> None:
    """By hand at the stations: 0.250 and 0.237 in, both 5 degrees after; between stations it is a little less."""
    least, angle = in_table(ratio=ratio)
    assert station - 0.003 < least <= station
    assert 5.0 <= angle <= 7.5


def test_gasket_lash_and_advance_in_the_table() -> None:
    least, angle = in_table()
    assert in_table(tuple(each + 0.02 for each in DROPS)) == pytest.approx((least + 0.02, angle))
    assert in_table(lash=0.01)[0] == pytest.approx(least + 0.01)
    # 0.035 in of lobe lift for 5 degrees, straight from 5 before to 15 after
    assert in_table(advance=2.0)[0] == pytest.approx(least - 2.0 * 0.007 * 1.5)


def test_a_table_that_falls_to_its_end_is_not_covered() -> None:
    assert in_table(tuple(0.5 for _ in DROPS))[0] == math.inf
    assert in_table(advance=40.0)[0] == math.inf


@settings(max_examples=60, deadline=None)
@given(st.tuples(*[st.floats(0.0, 0.04)] * 17), st.floats(-4.0, 4.0), st.integers(0, 2**32 - 1))
def test_the_table_lies_in_the_range_stated_for_it(wide: tuple[float, ...], advance: float, seed: int) -> None:
    low = (*DROPS, *LIFTS, 1.5, 0.0, math.radians(advance))
    high = tuple(value + part for value, part in zip(low, wide, strict=True))
    lies_in(("least_drop_over_lift", "angle_of_least_drop_over_lift"), low, high, seed)


@settings(max_examples=60, deadline=None)
@given(st.tuples(*[st.floats(0.0, 0.1)] * 10), st.sampled_from([106.0, -114.0]), st.integers(0, 2**32 - 1))
def test_the_cam_lies_in_the_range_stated_for_it(wide: tuple[float, ...], centreline: float, seed: int) -> None:
    of = {**TWIN, "centreline": centreline}
    low = tuple(math.radians(value) if name in ANGLES else value for name, value in of.items())
    high = tuple(value + part * max(abs(value), 0.05) for value, part in zip(low, wide, strict=True))
    lies_in(("least_piston_to_valve", "angle_of_least_piston_to_valve"), low, high, seed)


def lies_in(names: tuple[str, str], low: tuple[float, ...], high: tuple[float, ...], seed: int) -> None:
    points = np.random.default_rng(seed).uniform(low, high, (60, len(low))).T
    for name in names:
        function: Any = FUNCTIONS[name]
        found = function.range_of(*map(Interval, low, high))
        values = function(*(each[:, np.newaxis] for each in points))
        values = values[np.isfinite(values)]
        assert (values >= found.low - 1e-9).all()
        assert (values <= found.high + 1e-9).all()
        alone = function.range_of(*(Interval(each, each) for each in low))
        one = function(*map(at, low))[0, 0]
        if math.isfinite(one):
            assert (alone.low, alone.high) == pytest.approx((one, one), abs=1e-9)
