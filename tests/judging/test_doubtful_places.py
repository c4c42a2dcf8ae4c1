"""Where one thing written down cannot be, or nobody says how much is missing, nothing else there makes it good."""

from __future__ import annotations

import pytest
from fits_tools import finding, report

from checker import InputError
from checker.reports.overview import answer
from checker.reports.work import work_of

ONE_SEAT = "stations: {seat: 1, pad: 1}\n"


@pytest.mark.parametrize("pair", ["[0.25 mm, 9 mm]", "[9 mm, 0.25 mm]", "[0.25 mm, 0.26 mm, 9 mm]"])
def test_a_reading_that_cannot_be_spoils_those_beside_it(pair: str) -> None:
    """0.25 mm alone is within for a bore of 50 mm; a gap of 9 mm is not possible, and the mean could be anything."""
    sound = report("bore: {1: 50 mm}\ngap: {1: 0.25 mm}", ONE_SEAT)
    assert str(finding(sound, "gap").verdict) == "within"
    spoilt = report(f"bore: {{1: 50 mm}}\ngap: {{1: {pair}}}", ONE_SEAT)
    assert str(finding(spoilt, "gap").verdict) == "not measured"
    assert [flag.is_refused for flag in spoilt.flags] == [True]


def test_nothing_computed_takes_the_place_of_a_reading_that_cannot_be() -> None:
    parts = "bore: {1: 50.060 mm}\nshaft: {1: 50.000 mm}"
    assert str(finding(report(parts, ONE_SEAT), "clearance").verdict) == "within"
    found = finding(report(f"{parts}\nclearance: {{1: 6 mm}}", ONE_SEAT), "clearance")
    assert str(found.verdict) == "not measured"
    assert "written 6 mm" in str(found.missing[0])


def test_a_spread_knows_nothing_of_readings_of_which_one_cannot_be() -> None:
    found = report("bore: {1: [50.001 mm, 50.002 mm, 900 mm]}", ONE_SEAT)
    assert str(finding(found, "bore-taper").verdict) == "not measured"


@pytest.mark.parametrize("facts", ["bush: [bronze, polymer]", "bush: [bronze, steel]"])
def test_two_choices_for_one_thing_are_refused(facts: str) -> None:
    """The mean of the first choice and the third must not become the second."""
    with pytest.raises(InputError, match="cannot be both bronze and"):
        report(facts, ONE_SEAT)
    assert report("bush: [bronze, bronze]", ONE_SEAT).readings[0].written == "bronze"


def test_stations_that_nobody_counted_are_not_passed_over() -> None:
    """With one seat of two written down and no count, all looks well; it must not be called so."""
    everything = (
        "bore: {1: [50.060 mm, 50.060 mm]}\nshaft: {1: 50.000 mm}\ngap: {1: 0.260 mm}\nwidth: 40 mm\nload: 500 N"
    )
    more = "pad_height: {1: 5 mm}\nend_float: 0.15 mm\nbush: bronze"
    counted = report(f"{everything}\n{more}", f"{ONE_SEAT}before: assembled")
    assert counted.status == 0
    found = report(f"{everything}\n{more}", "before: assembled")
    assert found.status == 3
    assert "2 kinds of station not counted" in answer(found)
    assert {flag.title for flag in found.flags if "how many" in flag.message} == {"Seat", "Pad"}
    asked = [one.what for one in work_of(found)[0].find_out]
    assert asked == ["how many there are of: Seat", "how many there are of: Pad"]


@pytest.mark.parametrize("label", ['"01"', '"²"', '"٣"', "4000000000", "0", "front"])
@pytest.mark.parametrize("counted", ["", ONE_SEAT])
def test_a_label_that_is_no_plain_number_is_no_station(label: str, counted: str) -> None:
    """Nor does a large one make room for so many: that would be all there is of memory."""
    with pytest.raises(InputError, match=r"no seat|unknown key or station"):
        report(f"bore: {{{label}: 50 mm}}", counted)
