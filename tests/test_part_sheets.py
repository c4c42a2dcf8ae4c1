"""Which limit counts: physics always, the maker's sheet in place of practice, practice where no sheet speaks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sheet_limit_tools import SHEET, finding, report

from checker import Finding, Verdict
from checker.errors import InputError


def end_gap(value: float | str, sheet: str = "", use: str = "plain") -> Finding:
    """What is said of an end gap; it must be 0.30 to 0.90 mm, should be 0.40 to 0.60 mm, and butts at 0.10 mm."""
    sheets = f"end_gap: {{{sheet}, {SHEET}}}" if sheet else ""
    return finding(report(f"end_gap: {{1: {value} mm}}", sheets, use), "end-gap")


@pytest.mark.parametrize(
    ("value", "sheet", "verdict"),
    [
        ("0.25", "at_least: 0.20 mm, at_most: 0.35 mm", "within"),  # outside by practice
        ("0.38", "at_least: 0.20 mm, at_most: 0.35 mm", "outside"),  # advisory by practice
        ("0.95", "at_most: 1.00 mm", "within"),
        ("0.25", "at_most: 1.00 mm", "outside"),  # of too little the sheet says nothing
        ("0.35", "at_most: 1.00 mm", "advisory"),
        ("0.25", "at_least: 0.20 mm", "within"),
        ("0.70", "at_least: 0.20 mm", "advisory"),
    ],
)
def test_a_sheet_takes_the_place_of_practice_on_the_sides_it_speaks_of(value: str, sheet: str, verdict: str) -> None:
    assert str(end_gap(value, sheet).verdict) == verdict


def test_the_sheet_is_named_with_its_day_and_practice_is_told_with_its_verdict() -> None:
    found = end_gap("0.25", "at_least: 0.20 mm, at_most: 0.35 mm")
    assert {edge.from_part_sheet for edge in found.edges} == {"ring maker's sheet of 2026-01-10"}
    assert {edge.counted for edge in found.edges} == {"sheet"}
    assert found.remarks == ("general practice asks for 0.30 mm to 0.90 mm: outside, for your information",)


def test_where_both_say_the_same_nothing_is_remarked() -> None:
    assert end_gap("0.50", "at_least: 0.20 mm, at_most: 0.60 mm").remarks == ()


@pytest.mark.parametrize("sheet", ["at_least: 0.05 mm", "at_least: 0.05 mm, at_most: 0.90 mm", "at_least: -0.5 mm"])
def test_no_sheet_loosens_physics(sheet: str) -> None:
    found = end_gap("0.09", sheet)
    assert found.verdict is Verdict.OUTSIDE
    assert found.basis == "physics: the ends butt when it is hot"
    assert end_gap("0.11", sheet).verdict is Verdict.WITHIN


def test_what_a_sheet_is_silent_of_counts_only_where_it_leaves_room() -> None:
    """A sheet of at most 0.25 mm and a practice of at least 0.30 mm: the sheet is the requirement."""
    found = end_gap("0.20", "at_most: 0.25 mm")
    assert found.verdict is Verdict.WITHIN
    assert found.contradiction == ""


def test_limits_may_differ_by_station() -> None:
    sheets = f"end_gap: {{at_least: {{1: 0.20 mm, 2: 0.45 mm}}, at_most: [0.60 mm, 0.80 mm], {SHEET}}}"
    found = report("end_gap: {1: 0.42 mm, 2: 0.42 mm}", sheets)
    assert [str(finding(found, "end-gap", seat).verdict) for seat in (1, 2)] == ["within", "outside"]
    sheets = f"end_gap: {{at_least: {{all: 0.20 mm, 2: 0.45 mm}}, {SHEET}}}"
    found = report("end_gap: {1: 0.25 mm, 2: 0.42 mm}", sheets)
    assert [str(finding(found, "end-gap", seat).verdict) for seat in (1, 2)] == ["within", "outside"]


def test_a_station_of_which_no_sheet_speaks_is_held_to_practice() -> None:
    found = report("end_gap: {1: 0.25 mm, 2: 0.25 mm}", f"end_gap: {{at_least: {{1: 0.20 mm}}, {SHEET}}}")
    assert [str(finding(found, "end-gap", seat).verdict) for seat in (1, 2)] == ["within", "outside"]
    assert finding(found, "end-gap", 2).remarks == ()


@pytest.mark.parametrize(
    ("sheet", "told"),
    [
        ("at_least: {3: 0.2 mm}", "end_gap has no station 3"),
        ("at_least: 0.6 mm, at_most: 0.5 mm", "at_least lies above at_most"),
        ("dated: 2026-01-10", "expected at_least, at_most or both"),
        (
            "at_least: 0.2 mm, for: [plian]",
            "no use and no pack 'plian' that a sheet could be for (did you mean 'plain'?)",
        ),
        ("at_least: 0.2 mm, confirmed_by: bench lead", "who confirms a sheet says so by name and day"),
        ("at_least: 0.2 mm, confirmed_by: bench lead, confirmed_on: 2026-01-09", "before the sheet of 2026-01-10"),
        ("at_least: 0.2 mm, confirmed_by: bench lead, confirmed_on: 2999-01-01", "is that day still to come?"),
    ],
)
def test_what_is_wrong_with_a_sheet_is_told(sheet: str, told: str) -> None:
    dated = "source: ring maker's sheet" if "dated" in sheet else SHEET
    with pytest.raises(InputError) as caught:
        report("end_gap: {1: 0.25 mm}", f"end_gap: {{{sheet}, {dated}}}")
    assert told in str(caught.value)


@pytest.mark.parametrize(("value", "verdict"), [("0.15", "within"), ("0.25", "outside")])
def test_a_sheet_is_judged_where_a_fact_is_lacking_that_its_own_limits_do_not_need(value: str, verdict: str) -> None:
    sheets = f"alloyed_gap: {{at_least: 0.10 mm, at_most: 0.20 mm, {SHEET}}}"
    assert str(finding(report(f"alloyed_gap: {{1: {value} mm}}"), "alloyed-gap").verdict) == "not measured"
    found = report(f"alloyed_gap: {{1: {value} mm}}", sheets)
    assert {str(finding(found, name).verdict) for name in ("alloyed-gap", "plated-alloyed-gap")} == {verdict}


def test_a_sheet_that_is_silent_on_one_side_leaves_open_what_a_lacking_fact_leaves_open() -> None:
    sheets = f"alloyed_gap: {{at_most: 0.20 mm, {SHEET}}}"
    assert str(finding(report("alloyed_gap: {1: 0.05 mm}", sheets), "alloyed-gap").verdict) == "not measured"
    assert str(finding(report("alloyed_gap: {1: 0.21 mm}", sheets), "alloyed-gap").verdict) == "outside"
    found = finding(report("alloyed_gap: {1: 0.15 mm}", sheets), "alloyed-gap")
    assert (str(found.verdict), found.remarks[0]) == ("within", "within for every alloy")


LENGTHS = st.integers(min_value=0, max_value=120).map(lambda hundredths: hundredths / 100)


@given(LENGTHS, LENGTHS, LENGTHS, st.sampled_from(["plain", "hot"]))
def test_physics_counts_beside_every_sheet(value: float, low: float, width: float, use: str) -> None:
    """Whatever a sheet says, what physics forbids is never within; taking the sheet away does not make it so."""
    sheet = f"at_least: {low} mm, at_most: {low + width} mm"
    with_it, without = end_gap(value, sheet, use), end_gap(value, "", use)
    if value < 0.10:
        assert with_it.verdict is not Verdict.WITHIN
        assert without.verdict is Verdict.OUTSIDE
    if with_it.verdict is Verdict.WITHIN:
        assert value >= max(0.10, low)
        assert value <= low + width + 1e-9


@given(LENGTHS, LENGTHS)
def test_a_use_never_loosens_physics(value: float, low: float) -> None:
    for use in ("plain", "hot"):
        if value < 0.10:
            assert end_gap(value, f"at_least: {low} mm", use).verdict is not Verdict.WITHIN
