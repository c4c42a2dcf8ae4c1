"""Slips of the pen and of the gauge are told with what was likely meant; honest scatter seldom is.

The slips are those that benches report (common practice): a factor of ten, digits swapped, a turn of the thimble,
inch blades on a millimetre spec, a value in the wrong row, one value for all, all alike.
"""

from __future__ import annotations

import numpy as np
import pytest
from examples import examples
from fits_tools import finding, fits, report
from hypothesis import given
from hypothesis import strategies as st

from checker import Flag, Verdict
from checker.errors import Place
from checker.records.entry import Reading
from checker.records.slips import looked_over
from checker.units.units import unit

INCHES = "units: {length: in}\nstations: {seat: 5}"
METRIC = "units: {length: mm}\nstations: {seat: 5}"
SHAFTS = ["2.4489", "2.4488", "2.4489", "2.4490", "2.4489"]
BORES = ["2.4514", "2.4513", "2.4515", "2.4514", "2.4513"]


def flags(readings: str, more: str = INCHES) -> list[Flag]:
    return list(report(readings, more).flags)


def with_slip(text: str, station: int = 3) -> str:
    values = [*SHAFTS[: station - 1], text, *SHAFTS[station:]]
    return f"shaft: [{', '.join(values)}]"


@pytest.mark.parametrize(
    ("text", "likely"),
    [
        ("2.4739", "one turn of the thimble, 2.4489 in?"),
        ("2.4240", "one turn of the thimble, 2.4490 in?"),
        ("2.4849", "two digits swapped, 2.4489 in?"),
        ("2.4498", "two digits swapped, 2.4489 in?"),
        ("0.24489", "ten times off, 2.4489 in?"),
        ("62.202 mm", ""),
        ("2.4589", ""),
    ],
)
def test_one_far_from_the_rest_is_told_with_the_likely_slip(text: str, likely: str) -> None:
    found = flags(with_slip(text))
    if text == "62.202 mm":  # 2.4489 in: a unit behind the number is no slip
        assert found == []
        return
    (flag,) = found
    assert (flag.where, flag.written) == ("seat 3", text)
    assert ("far from the others, near 2.4489 in" in flag.message) or flag.is_refused
    assert likely in flag.message
    assert likely or "?" not in flag.message


def test_a_suspicious_value_is_judged_as_written() -> None:
    found = report(f"{with_slip('2.4739')}\nbore: [{', '.join(BORES)}]", INCHES)
    assert finding(found, "clearance", 3).verdict in (Verdict.NOT_MEASURED, Verdict.OUTSIDE)
    assert finding(found, "clearance", 2).verdict is Verdict.WITHIN
    by_station = {reading.station: reading for reading in found.readings if reading.characteristic == "shaft"}
    assert by_station[2].middle == pytest.approx(2.4739 * 0.0254)
    assert by_station[2].set_aside == ""


@pytest.mark.parametrize(("bore", "told"), [("2.6504", 0), ("2.4514", 1)])
def test_a_shaft_of_another_size_in_a_bush_of_another_size_is_no_slip(bore: str, told: int) -> None:
    """Rear mains are bigger in some engines, and mains of four sizes have been made (common practice)."""
    found = flags(f"{with_slip('2.6480', 5)}\nbore: [{', '.join([*BORES[:4], bore])}]")
    assert len([flag for flag in found if "far from the others" in flag.message]) == told


def test_one_turn_of_a_metric_thimble() -> None:
    (flag,) = flags("shaft: [62.202, 62.199, 62.702, 62.204, 62.202]", METRIC)
    assert "one turn of the thimble, 62.202 mm?" in flag.message


def test_two_slips_at_one_station_do_not_hide_behind_their_mean() -> None:
    found = flags("shaft: {1: [2.4788, 2.4188], 2: 2.4489, 3: 2.4490, 4: 2.4489, 5: 2.4490}")
    assert [(flag.where, flag.written) for flag in found] == [("seat 1", "2.4788, 2.4188")]


@pytest.mark.parametrize("text", ["0.010", "0.10"])
def test_inch_blades_on_a_millimetre_spec(text: str) -> None:
    """A blade of 10 thousandths, 0.254 mm, written down as 0.010, or as 0.10 of a millimetre."""
    (flag,) = flags(f"gap: [0.25, 0.26, {text}, 0.25, 0.25]", METRIC)
    assert "inch blades on a millimetre spec, 0.254 mm?" in flag.message


def test_millimetre_blades_on_an_inch_spec() -> None:
    (flag,) = flags("gap: [0.0180, 0.0185, 0.45, 0.0180, 0.0175]")
    assert flag.is_refused
    assert "millimetre blades on an inch spec, 0.0177 in?" in flag.message


def test_a_value_of_another_characteristic() -> None:
    found = flags(f"{with_slip('2.1001')}\nbore: [2.1001, 2.0999, 2.1000, 2.1002, 2.0998]")
    (flag,) = (flag for flag in found if flag.characteristic == "shaft")
    assert "a value of Bore?" in flag.message


def test_what_is_impossible_is_refused_and_not_judged() -> None:
    found = report("gap: [0.018, 0.018, 0.18, 1.8, 0.019]\nbore: {all: 4.0000}", INCHES)
    refused = [flag for flag in found.flags if flag.is_refused]
    assert [(flag.where, flag.written) for flag in refused] == [("seat 4", "1.8")]
    assert "outside what is possible, 0.0000 in to 0.1969 in: a hundred times off, 0.0180 in?" in refused[0].message
    assert finding(found, "gap", 4).verdict is Verdict.NOT_MEASURED
    assert "written 1.8, outside what is possible" in str(finding(found, "gap", 4).missing[0])
    suspicious = next(flag for flag in found.flags if flag.where == "seat 3")
    assert "ten times off, 0.0180 in?" in suspicious.message
    assert finding(found, "gap", 3).verdict is not Verdict.NOT_MEASURED


def test_an_impossible_result_names_the_reading_that_slipped() -> None:
    """Nothing tells 2.4849 by itself, but 2.4514 less 2.4849 is no clearance: two digits swapped."""
    readings = "bore: [2.4514]\nshaft: [2.4849]"
    found = report(readings, "units: {length: in}\nstations: {seat: 1}")
    (flag,) = found.flags
    assert (flag.characteristic, flag.is_refused) == ("clearance", True)
    assert "comes out as -0.0335 in" in flag.message
    assert "two digits swapped, 2.4489 in?" in flag.message
    assert finding(found, "clearance").verdict is Verdict.NOT_MEASURED
    assert "the readings behind it give an impossible value" in str(finding(found, "clearance").missing[0])


def test_one_value_for_all_is_judged_and_told() -> None:
    found = report("gap: {all: 0.018}\nbore: {all: 4.000}", INCHES)
    assert {flag.message for flag in found.flags} == {
        "one value given for every station; judged as if each had been measured"
    }
    assert {flag.where for flag in found.flags} == {"seat 1 to 5"}
    assert all(finding(found, "gap", station).verdict is Verdict.WITHIN for station in range(1, 6))


def test_all_alike_is_told_where_parts_differ() -> None:
    (flag,) = flags("shaft: [2.4489, 2.4489, 2.4489, 2.4489, 2.4489]")
    assert flag.where == "seat 1 to 5"
    assert "the same value everywhere" in flag.message


@pytest.mark.parametrize(
    "readings",
    [
        "gap: [0.018, 0.018, 0.018, 0.018, 0.018]",  # filed to one blade
        "shaft: [2.449, 2.449, 2.449, 2.449, 2.449]",  # read to a thousandth
        "shaft: [2.4489, 2.4489, 2.4489]",  # three may well be
        "shaft: [2 7/16, 2 7/16, 2 7/16, 2 7/16, 2 7/16]",  # a rule
        "gap: [0.0001, 0.0001, 0.0001, 0.0001, 0.0001]",  # one digit, as of a taper
    ],
)
def test_coarse_figures_are_alike_in_honest_work(readings: str) -> None:
    assert flags(readings) == []


def test_several_readings_at_one_place_are_told_apart_too() -> None:
    (flag,) = flags("width: [1.0003, 1.0001, 1.0252, 1.0002, 1.0001]")
    assert "one turn of the thimble, 1.0002 in?" in flag.message


def test_how_a_text_was_understood_is_noted_and_not_a_doubt() -> None:
    found = report("gap: {3: twenty-five tenths}", INCHES)
    assert found.flags == ()
    (note,) = found.notes
    assert "ten-thousandth" in note.message


def test_two_units_that_do_not_agree_are_a_doubt() -> None:
    (flag,) = flags("end_float: .0025 (.0063)")
    assert ".0063 mm is 0.0002 in, 0.0023 in from .0025 in: a misplaced decimal point" in flag.message


# --- Honest records ---------------------------------------------------------------------------------------------------


def looked_over_digits(stations: list[list[int]]) -> tuple[Reading, ...]:
    """Readings in ten-thousandths of an inch about 2.4489 in, judged for slips by themselves."""
    inch = unit("in")
    place = Place("record.yaml")
    readings = []
    for station, digits in enumerate(stations):
        for digit in digits:
            text = f"{2.4489 + digit * 1e-4:.4f}"
            value = inch.to_si(float(text))
            readings.append(Reading("shaft", station, value, value, text, inch, place))
    return looked_over(readings, fits().characteristics, {})


@examples(200)
@given(st.lists(st.integers(-3, 3), min_size=1, max_size=16))
def test_stations_within_six_digits_are_never_told_far(digits: list[int]) -> None:
    found = looked_over_digits([[digit] for digit in digits])
    assert all("far from" not in str(words) for reading in found for words in reading.suspicions)
    assert all(not reading.set_aside for reading in found)


@pytest.mark.parametrize(("stations", "most"), [(3, 0.02), (5, 0.03), (8, 0.02), (16, 0.01)])
@pytest.mark.parametrize("scatter", [1.0, 2.0, 5.0, 30.0])
def test_honest_scatter_is_seldom_told(stations: int, most: float, scatter: float) -> None:
    """The rate of sets with any suspicion among normally scattered ones, in digits; the seed is fixed."""
    random = np.random.default_rng(20)
    sets = np.rint(random.normal(0.0, scatter, (400, stations))).astype(int)
    told = [any(reading.suspicions for reading in looked_over_digits([[d] for d in digits])) for digits in sets]
    assert np.mean(told) <= most


@examples(100)
@given(st.lists(st.integers(-2000, 2000), min_size=1, max_size=10))
def test_looking_over_changes_no_value_and_drops_none(digits: list[int]) -> None:
    found = looked_over_digits([[digit] for digit in digits])
    assert [reading._replace(suspicions=(), set_aside="").written for reading in found] == [
        f"{2.4489 + digit * 1e-4:.4f}" for digit in digits
    ]
    assert [reading.station for reading in found] == list(range(len(digits)))


@pytest.mark.parametrize("shafts", ["1: 2.00, 2: 2.8514, 3: 2.0001", "3: 2.0001, 2: 2.8514, 1: 2.00"])
def test_what_is_told_does_not_hang_on_the_order_of_writing(shafts: str) -> None:
    found = flags(f"shaft: {{{shafts}}}\nbore: [2.8513, 2.8514, 2.8515]", "units: {length: in}\nstations: {seat: 3}")
    (told,) = [flag.message for flag in found if (flag.title, flag.where) == ("Shaft", "seat 2")]
    assert told.endswith("judged as written: a value of Bore?")
