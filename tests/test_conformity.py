"""Deciding under doubt, against JCGM 106:2012, ISO 14253-1 and ILAC-G8, and as a law: more doubt never helps."""

from __future__ import annotations

from statistics import NormalDist

import pytest
from fits_tools import finding, report
from hypothesis import given
from hypothesis import strategies as st

from checker import Decision
from checker.conformity import probability_of_conformity

# JCGM 106:2012, examples of clause 7: a Zener diode (upper limit), a container (lower limit), SAE 40 oil (both).
# The printed figures are from memory; each was worked again.
PRINTED = [
    ({"value": -5.47, "standard": 0.05, "high": -5.40}, 0.92),
    ({"value": 507.5, "standard": 8.6, "low": 490.0}, 0.98),
    ({"value": 13.6, "standard": 1.8, "low": 12.5, "high": 16.3}, 0.66),
]


@pytest.mark.parametrize(("given_values", "printed"), PRINTED)
def test_probability_of_conformity_is_the_printed_one(given_values: dict[str, float], printed: float) -> None:
    assert probability_of_conformity(**given_values) == pytest.approx(printed, abs=0.005)


def test_guard_bands_are_those_of_the_standards() -> None:
    assert Decision("simple").guard() == 0.0
    assert Decision("guarded").guard() == 2.0  # ISO 14253-1:1998, the expanded uncertainty, k = 2
    assert Decision("probability", 0.95).guard() == pytest.approx(1.645, abs=0.0005)  # ISO 14253-1:2017, default
    # ILAC-G8:09/2019: with a guard band of r times U the risk at the acceptance limit is at most Phi(-2r).
    assert NormalDist().cdf(-2 * 1.0) == pytest.approx(0.02275, abs=1e-5)


def decided(clearance: str, uncertainty: str, decision: Decision) -> str:
    """The verdict on a clearance measured directly; it must lie between 0.020 and 0.100 mm."""
    found = report(
        f"clearance: {{1: {{value: {clearance} mm, with: gauge}}}}",
        f"instruments: {{gauge: {{expanded_uncertainty: {uncertainty} mm}}}}\nstations: {{seat: 1}}",
        decision=decision,
    )
    return str(finding(found, "clearance").verdict)


@pytest.mark.parametrize(
    ("clearance", "verdict"),
    [("0.060", "within"), ("0.115", "undecided"), ("0.117", "outside"), ("0.005", "undecided"), ("0.003", "outside")],
)
def test_a_value_is_decided_only_beyond_its_uncertainty(clearance: str, verdict: str) -> None:
    """ISO 14253-1: conformity and nonconformity are both proved only outside the zone of uncertainty."""
    assert decided(clearance, "0.016", Decision("guarded")) == verdict


def test_face_value_decides_at_the_limit() -> None:
    assert decided("0.079", "0.016", Decision("simple")) == "within"
    assert decided("0.101", "0.016", Decision("simple")) == "outside"


@given(
    st.integers(0, 150).map(lambda number: number / 1000),
    st.integers(1, 60),
    st.integers(1, 60),
    st.sampled_from([Decision("guarded"), Decision("probability", 0.95)]),
)
def test_more_uncertainty_never_decides(value: float, first: int, second: int, decision: Decision) -> None:
    small, large = sorted((first, second))
    before, after = (decided(f"{value:.3f}", f"{size / 1000:.3f}", decision) for size in (small, large))
    if before != "within":
        assert after != "within"
    if before == "undecided":
        assert after == "undecided"


def test_what_one_micrometer_adds_to_both_falls_out_of_a_difference() -> None:
    """JCGM 100:2008, 5.2: fully correlated doubts of bore and shaft cancel in bore less shaft."""
    readings = "bore: {1: {value: 50.060 mm, with: gauge}}\nshaft: {1: {value: 50.000 mm, with: gauge}}"
    more = "stations: {{seat: 1}}\ninstruments: {{gauge: {{expanded_uncertainty: 0.010 mm{}}}}}"
    apart = finding(report(readings, more.format("")), "clearance")
    together = finding(report(readings, more.format(", shared: 0.010 mm")), "clearance")
    assert apart.uncertainty == pytest.approx(2**0.5 * 10e-6, rel=1e-9)
    assert together.uncertainty == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("reading", ["above 0.03 mm", "below 0.09 mm", "0.01 to 0.06 mm", "{above: 0.03 mm}"])
def test_a_reading_open_at_an_end_is_never_within(reading: str) -> None:
    found = report(f"clearance: {{1: {reading}}}", "stations: {seat: 1}")
    assert str(finding(found, "clearance").verdict) == "undecided"
