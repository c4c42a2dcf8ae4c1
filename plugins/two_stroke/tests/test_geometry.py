"""The geometry against published charts, worked examples and the physics it stands for."""

from __future__ import annotations

import numpy as np
import pytest

from checker_two_stroke.geometry import piston_speed, piston_travel, port_opening_angle, squish_velocity

MM, CC, RPM = 1e-3, 1e-6, 1 / 60


def opening(stroke: float, rod_length: float, depth: float) -> float:
    return float(
        np.rad2deg(port_opening_angle(*(np.array([[size * MM]]) for size in (stroke, rod_length, depth))))[0, 0]
    )


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
    assert 360 - 2 * opening(stroke, rod_length, depth) == pytest.approx(duration, abs=0.05)


def test_a_port_above_the_crown_is_open_and_one_below_the_stroke_never_opens() -> None:
    assert [opening(54, 110, depth) for depth in (-1, 0)] == [0, 0]
    assert [opening(54, 110, depth) for depth in (54, 60)] == pytest.approx([180, 180], abs=1e-4)


def test_a_rod_shorter_than_the_crank_is_no_engine() -> None:
    assert np.isnan(opening(54, 20, 26))
    assert np.isnan(piston_travel(np.array([54 * MM]), np.array([20 * MM]), np.array([np.pi / 2]))[0])


def test_travel_undoes_the_opening_angle() -> None:
    depths = np.linspace(0.5, 53.5, 50) * MM
    angles = port_opening_angle(np.array(54 * MM), np.array(110 * MM), depths)
    assert piston_travel(np.array(54 * MM), np.array(110 * MM), angles) == pytest.approx(depths)


def test_travel_from_bottom_dead_centre_as_published() -> None:
    """Trade article on dynamic compression: 3.48 in stroke, 5.70 in rod, 70 degrees past the bottom: 0.9053 in up."""
    stroke, rod_length = np.array(3.48), np.array(5.70)
    assert stroke - piston_travel(stroke, rod_length, np.deg2rad(110)) == pytest.approx(0.9053, abs=5e-5)


def test_speed_is_what_the_travel_changes_by() -> None:
    stroke, rod_length, speed = np.array(54 * MM), np.array(110 * MM), np.array(11000 * RPM)
    angles, step = np.linspace(0.1, 3.0, 30), 1e-6
    ahead, behind = (piston_travel(stroke, rod_length, angles + shift) for shift in (step, -step))
    changes = (ahead - behind) / (2 * step) * 2 * np.pi * speed
    assert piston_speed(stroke, rod_length, angles, speed) == pytest.approx(changes, rel=1e-6)


def squish(clearance: float, speed: float = 11000) -> float:
    """54 mm square, rod 110 mm, a band of half the bore's area, 10 cc in the bowl."""
    sizes = (54 * MM, 110 * MM, 54 * MM, 54 * MM * np.sqrt(0.5), 10 * CC, clearance * MM, speed * RPM)
    return float(squish_velocity(*(np.array([[size]]) for size in sizes))[0, 0])


@pytest.mark.parametrize(("clearance", "velocity"), [(1.0, 31.7), (0.7, 41.45)])
def test_squish_velocity_as_worked(clearance: float, velocity: float) -> None:
    """Worked with the textbook form for a bowl in a flat head (combustion engine textbook, from memory)."""
    assert squish(clearance) == pytest.approx(velocity, abs=0.05)


def test_squish_velocity_conserves_mass() -> None:
    """What leaves the band in a small turn must pass its edge: density is even, so volume shares say it all."""
    bore, bowl, volume, clearance, turning = 54 * MM, 54 * MM * np.sqrt(0.5), 10 * CC, 1.0 * MM, 11000 * RPM
    angles = np.deg2rad(np.linspace(1, 60, 20_000))
    gap = clearance + piston_travel(np.array(54 * MM), np.array(110 * MM), angles)
    whole = np.pi / 4 * bore**2 * gap + volume
    share_in_band = np.pi / 4 * (bore**2 - bowl**2) * gap / whole
    outflow = np.gradient(share_in_band, angles) * 2 * np.pi * turning * whole
    assert squish(1.0) == pytest.approx(float((outflow / (np.pi * bowl * gap)).max()), rel=1e-3)


def test_squish_velocity_grows_with_engine_speed_as_published() -> None:
    """Magazine series on two-stroke heads: 22 m/s at 9000 rpm is 29.3 at 12,000."""
    assert squish(1.0, 12000) / squish(1.0, 9000) == pytest.approx(29.3 / 22, rel=2e-3)
