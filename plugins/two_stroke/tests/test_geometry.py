"""Crank, windows and squish against published charts, worked examples, general quadrature, and the physics behind."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from checker import Interval
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from checker_two_stroke.functions import FUNCTIONS
from checker_two_stroke.motion import (
    open_angle,
    piston_speed,
    piston_travel,
    port_closing_angle,
    port_opening_angle,
    whole_travel,
)
from checker_two_stroke.squish import greatest_squish_velocity
from checker_two_stroke.windows import specific_blowdown_time_area, specific_time_area, uncovered_area

MM, CC, RPM = 1e-3, 1e-6, 1 / 60
STROKE, ROD, BORE, SPEED = 54 * MM, 110 * MM, 54 * MM, 11000 * RPM
SWEPT = np.pi / 4 * BORE**2 * STROKE

throws = st.floats(20, 100)
ratios = st.floats(1.6, 2.5)
offsets = st.floats(-2, 2)
shares = st.floats(0.02, 0.98)


def at(function: Any, *sizes: float) -> float:
    return float(function(*(np.array([[size]]) for size in sizes))[0, 0])


@pytest.mark.parametrize(
    ("stroke", "rod_length", "depth", "duration"),
    [
        # Published port height chart for a stroke of 43 mm; the rod of 90 mm reproduces it.
        (43, 90, 21.5, 193.7),
        (43, 90, 24.0, 180.6),
        (43, 90, 26.0, 169.8),
        (43, 90, 28.0, 158.6),
        # Closed form of the slider-crank, worked by hand: 80.88 and 112.00 degrees after top dead centre.
        (54, 110, 26.0, 198.24),
        (54, 110, 40.0, 136.00),
    ],
)
def test_port_duration_as_published(stroke: float, rod_length: float, depth: float, duration: float) -> None:
    sizes = (stroke * MM, rod_length * MM, 0.0, depth * MM)
    assert np.rad2deg(at(open_angle, *sizes)) == pytest.approx(duration, abs=0.05)
    closes, opens = at(port_closing_angle, *sizes), at(port_opening_angle, *sizes)
    assert np.rad2deg(closes - opens) == pytest.approx(duration, abs=0.05)


def test_a_port_above_the_crown_is_open_and_one_below_the_stroke_never_opens() -> None:
    assert [at(port_opening_angle, 54, 110, 0, depth) for depth in (-1, 0)] == [0, 0]
    assert [at(open_angle, 54, 110, 0, depth) for depth in (-1, 0)] == [2 * np.pi] * 2
    assert [at(port_opening_angle, 54, 110, 0, depth) for depth in (54, 60)] == pytest.approx([np.pi] * 2, abs=1e-6)
    assert [at(open_angle, 54, 110, 0, depth) for depth in (54, 60)] == pytest.approx([0, 0], abs=1e-6)


def test_a_rod_shorter_than_the_crank_is_no_engine() -> None:
    assert np.isnan(at(port_opening_angle, 54, 20, 0, 26))
    assert np.isnan(at(port_closing_angle, 54, 20, 0, 26))
    assert np.isnan(at(piston_travel, 54, 20, 0, np.pi / 2))


@given(throws, ratios, offsets, shares)
def test_height_and_timing_undo_each_other(stroke: float, ratio: float, offset: float, share: float) -> None:
    rod_length = stroke * ratio
    depth = share * at(whole_travel, stroke, rod_length, offset)
    for timing in (port_opening_angle, port_closing_angle):
        angle = at(timing, stroke, rod_length, offset, depth)
        assert at(piston_travel, stroke, rod_length, offset, angle) == pytest.approx(depth, rel=1e-9)
        if timing is port_opening_angle:
            assert 0 < angle < np.pi + 0.1
    opens = at(port_opening_angle, stroke, rod_length, offset, depth)
    closes = at(port_closing_angle, stroke, rod_length, offset, depth)
    assert closes - opens == pytest.approx(at(open_angle, stroke, rod_length, offset, depth), abs=1e-9)


@given(throws, ratios, offsets, st.floats(0, 2 * np.pi))
def test_an_offset_seen_from_the_other_side_turns_the_other_way(
    stroke: float, ratio: float, offset: float, angle: float
) -> None:
    forwards = at(piston_travel, stroke, stroke * ratio, offset, angle)
    backwards = at(piston_travel, stroke, stroke * ratio, -offset, -angle)
    assert forwards == pytest.approx(backwards, abs=1e-9)


@given(throws, ratios, offsets)
def test_top_and_bottom_are_where_the_piston_turns_round(stroke: float, ratio: float, offset: float) -> None:
    """Against a search by a general library for where the height of the pin is greatest and least."""

    def below_the_reach(angle: float) -> float:
        return (
            rod_length + throw - throw * np.cos(angle) - np.sqrt(rod_length**2 - (throw * np.sin(angle) - offset) ** 2)
        )

    throw, rod_length = stroke / 2, stroke * ratio
    top = minimize_scalar(below_the_reach, bounds=(-0.5, 0.5), method="bounded", options={"xatol": 1e-10})
    bottom = minimize_scalar(lambda angle: -below_the_reach(angle), bounds=(2.6, 3.7), method="bounded")
    assert at(whole_travel, stroke, rod_length, offset) == pytest.approx(-bottom.fun - top.fun, abs=1e-7)
    assert at(piston_travel, stroke, rod_length, offset, 1.0) == pytest.approx(
        below_the_reach(top.x + 1.0) - top.fun, abs=1e-5
    )


def test_travel_from_bottom_dead_centre_as_published() -> None:
    """Trade article on dynamic compression: 3.48 in stroke, 5.70 in rod, 70 degrees past the bottom: 0.9053 in up."""
    assert 3.48 - at(piston_travel, 3.48, 5.70, 0, np.deg2rad(110)) == pytest.approx(0.9053, abs=5e-5)


def test_speed_is_what_the_travel_changes_by() -> None:
    angles, step, still = np.linspace(0.1, 3.0, 30), 1e-6, np.zeros(1)
    sizes = np.array(STROKE), np.array(ROD)
    ahead, behind = (piston_travel(*sizes, still, angles + shift) for shift in (step, -step))
    changes = (ahead - behind) / (2 * step) * 2 * np.pi * SPEED
    assert piston_speed(*sizes, angles, np.array(SPEED)) == pytest.approx(changes, rel=1e-6)


# The integrator warns of an interval that is a rounding error wide; no window is that.
NOTHING = st.just(0.0)


def width_at(depth: float, chord: float, corner: float, height: float) -> float:
    """Of a window with round corners, by Pythagoras."""
    corner = min(corner, chord / 2, height / 2)
    left = max(corner - min(depth, height - depth), 0.0)
    return chord - 2 * (corner - np.sqrt(corner**2 - left**2))


def test_a_window_wholly_open_is_its_rectangle_less_its_corners() -> None:
    whole = at(uncovered_area, 33, 5, 26, 54, 54)
    assert whole == pytest.approx(33 * 28 - (4 - np.pi) * 5**2)
    assert at(uncovered_area, 20, 50, 0, 20, 20) == pytest.approx(np.pi * 10**2)  # a round hole, however round
    assert at(uncovered_area, 33, 0, 26, 54, 40) == 33 * 14
    assert [at(uncovered_area, 33, 5, 26, 54, travel) for travel in (0, 26)] == [0, 0]


@settings(max_examples=30)
@given(st.floats(5, 60), NOTHING | st.floats(0.01, 20), st.floats(5, 40), NOTHING | st.floats(0.001, 1.2))
def test_open_area_against_quadrature(chord: float, corner: float, height: float, share: float) -> None:
    opened = min(share, 1.0) * height
    kinks = [min(corner, chord / 2, height / 2), height - min(corner, chord / 2, height / 2)]
    found, _ = quad(width_at, 0, opened, args=(chord, corner, height), points=[k for k in kinks if k < opened] or None)
    assert at(uncovered_area, chord, corner, 26, 26 + height, 26 + share * height) == pytest.approx(found, abs=1e-4)


@pytest.mark.parametrize("offset", [0.0, 1.5])
@pytest.mark.parametrize("floor", [50.0, 54.0, 57.0])
@pytest.mark.parametrize("corner", [0.0, 5.0])
def test_time_area_against_quadrature_over_the_crank_angle(offset: float, floor: float, corner: float) -> None:
    """Summed the other way round, open area by crank angle, by an adaptive integrator of a general library."""

    def open_at(angle: float) -> float:
        travel = at(piston_travel, 54, 110, offset, angle)
        return at(uncovered_area, 33, corner, 26, floor, travel)

    opens, closes = (at(timing, 54, 110, offset, 26) for timing in (port_opening_angle, port_closing_angle))
    transfer = at(port_opening_angle, 54, 110, offset, 40)
    per_angle = 2 * np.pi * SPEED * 120
    whole, _ = quad(open_at, opens, closes, limit=100, epsrel=1e-6)
    found = at(specific_time_area, 54, 110, offset, 33, corner, 26, floor, 120, SPEED)
    assert found == pytest.approx(whole / per_angle, rel=1e-5)
    blown, _ = quad(open_at, opens, transfer, limit=100, epsrel=1e-6)
    found = at(specific_blowdown_time_area, 54, 110, offset, 33, corner, 26, floor, 40, 120, SPEED)
    assert found == pytest.approx(blown / per_angle, rel=1e-5)


def test_a_transfer_that_opens_first_leaves_no_blowdown() -> None:
    assert at(specific_blowdown_time_area, 54, 110, 0, 33, 5, 26, 54, 20, 120, SPEED) == 0


def test_time_area_by_the_area_at_half_of_the_open_angle() -> None:
    """Jennings 1973 multiplies the time with the area at half of the open angle.

    Worked by hand with the piston of an endless rod: (cos 80 - cos 130)/(cos 80 + 0.56426) = 0.8164/0.7379, 10.6 %
    too much at 80 degrees, where 0.56426 is sin 80 over 100 degrees in radians.
    """
    opens = np.deg2rad(80)
    depth = 27 * (1 - np.cos(opens))
    long = 1e5  # a rod so long that the piston moves like a cosine
    whole = at(specific_time_area, 54, long, 0, 33, 0, depth, 54, 1, 1)
    halfway = at(uncovered_area, 33, 0, depth, 54, at(piston_travel, 54, long, 0, np.deg2rad(130)))
    assert halfway * (200 / 360) / whole == pytest.approx(0.8164 / 0.7379, rel=1e-3)


def squish(clearance: float, speed: float = 11000) -> float:
    """54 mm square, rod 110 mm, a band of half the bore's area, 10 cc in the bowl."""
    sizes = (STROKE, ROD, BORE, BORE * np.sqrt(0.5), 10 * CC, clearance * MM, speed * RPM)
    return at(greatest_squish_velocity, *sizes)


@pytest.mark.parametrize(("clearance", "velocity"), [(1.0, 31.7), (0.7, 41.45)])
def test_squish_velocity_as_worked(clearance: float, velocity: float) -> None:
    """Worked with the form of Heywood 1988, section 8.4, for a bowl in a flat head (from memory)."""
    assert squish(clearance) == pytest.approx(velocity, abs=0.05)


def test_squish_velocity_conserves_mass() -> None:
    """What leaves the band in a small turn must pass its edge: density is even, so volume shares say it all."""
    bowl, volume, clearance = BORE * np.sqrt(0.5), 10 * CC, 1.0 * MM
    angles = np.deg2rad(np.linspace(1, 60, 20_000))
    gap = clearance + piston_travel(np.array(STROKE), np.array(ROD), np.zeros(1), angles)
    whole = np.pi / 4 * BORE**2 * gap + volume
    share_in_band = np.pi / 4 * (BORE**2 - bowl**2) * gap / whole
    outflow = np.gradient(share_in_band, angles) * 2 * np.pi * SPEED * whole
    assert squish(1.0) == pytest.approx(float((outflow / (np.pi * bowl * gap)).max()), rel=1e-3)


def test_squish_velocity_by_small_steps_of_compression() -> None:
    """Band and bowl compressed apart by a small turn, without friction or heat, and then let even out.

    So G. P. Blair, Design and simulation of two-stroke engines, 1996, derives it (from memory). In the limit of small
    steps that is the closed form.
    """
    gamma, step = 1.4, np.deg2rad(0.01)
    angles = np.arange(np.deg2rad(60), np.deg2rad(2), -step)
    travel = piston_travel(np.array(STROKE), np.array(ROD), np.zeros(1), angles)
    bowl_area = np.pi / 4 * BORE**2 / 2
    band, bowl = bowl_area * (1.0 * MM + travel), 10 * CC + bowl_area * (1.0 * MM + travel)
    pressure = (band[:-1] + bowl[:-1]) ** -gamma
    in_band = pressure * (band[:-1] / band[1:]) ** gamma
    together = pressure * ((band + bowl)[:-1] / (band + bowl)[1:]) ** gamma
    # Of the band's own gas, that share stays which fills it at the pressure of both.
    left = 1 - (together / in_band) ** (1 / gamma)
    edge = np.pi * BORE * np.sqrt(0.5) * (1.0 * MM + travel[1:])
    velocity = left * band[1:] / edge / (step / (2 * np.pi * SPEED))
    assert squish(1.0) == pytest.approx(float(velocity.max()), rel=2e-3)


def test_squish_velocity_grows_with_engine_speed_as_published() -> None:
    """Magazine series on two-stroke heads: 22 m/s at 9000 rpm is 29.3 at 12,000."""
    assert squish(1.0, 12000) / squish(1.0, 9000) == pytest.approx(29.3 / 22, rel=2e-3)


ANYWHERE = {
    "stroke": (40 * MM, 80 * MM),
    "rod_length": (90 * MM, 160 * MM),
    "pin_offset": (-1.5 * MM, 1.5 * MM),
    "angle": (0.0, np.pi),
    "depth": (15 * MM, 60 * MM),
    "chord": (15 * MM, 50 * MM),
    "corner": (0.0, 8 * MM),
    "roof": (20 * MM, 35 * MM),
    "floor": (40 * MM, 80 * MM),
    "swept": (50 * CC, 500 * CC),
    "speed": (5000 * RPM, 14000 * RPM),
    "bore": (45 * MM, 70 * MM),
    "bowl": (25 * MM, 40 * MM),
    "bowl_volume": (5 * CC, 20 * CC),
    "clearance": (0.6 * MM, 1.6 * MM),
}
CRANK = ("stroke", "rod_length", "pin_offset")
WINDOW = ("chord", "corner", "roof", "floor")
TAKES = {
    "piston_travel": (*CRANK, "angle"),
    "port_opening_angle": (*CRANK, "depth"),
    "port_closing_angle": (*CRANK, "depth"),
    "uncovered_area": (*WINDOW, "depth"),
    "specific_time_area": (*CRANK, *WINDOW, "swept", "speed"),
    "specific_blowdown_time_area": (*CRANK, *WINDOW, "depth", "swept", "speed"),
    "greatest_squish_velocity": ("stroke", "rod_length", "bore", "bowl", "bowl_volume", "clearance", "speed"),
}


def test_every_function_is_tried() -> None:
    assert set(TAKES) == set(FUNCTIONS)
    assert {name: len(FUNCTIONS[name].arguments) for name in TAKES} == {name: len(of) for name, of in TAKES.items()}


@pytest.mark.parametrize("name", TAKES)
@settings(max_examples=12, deadline=None)
@given(data=st.data())
def test_the_range_holds_every_result(name: str, data: st.DataObject) -> None:
    """By wide and narrow ranges: a value in doubt is judged by them, and must not be within by too narrow a one."""
    function = FUNCTIONS[name]
    ranges, inside = [], []
    for argument in TAKES[name]:
        low, high = ANYWHERE[argument]
        ends = sorted(data.draw(st.floats(low, high)) + 0.0 for _ in range(2))
        ranges.append(Interval(*ends))
        inside.append(data.draw(st.floats(*ends)))
    found = at(function.call, *inside)
    assume(np.isfinite(found))
    low, high = function.range_of(*ranges)
    slack = 1e-9 + 1e-6 * abs(found)
    assert low - slack <= found <= high + slack


def test_an_exact_size_has_an_exact_range() -> None:
    exact = [Interval(low, low) for low in (STROKE, ROD, 0.0, 26 * MM)]
    low, high = FUNCTIONS["port_opening_angle"].range_of(*exact)
    assert high - low == pytest.approx(0, abs=1e-12)
    assert np.rad2deg(low) == pytest.approx(80.88, abs=0.005)
