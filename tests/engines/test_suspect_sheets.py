"""Sheets that are wrong in print are suspected, with the likely cause; sound ones of the same tables are not."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from factory_tools import engines, sheets_of, suspected

from checker import load_rulebook, record_from
from checker.errors import InputError

ROWS = list(csv.DictReader((Path(__file__).parent / "suspect_sheets.csv").read_text().splitlines()))
# A wear limit that its table prints eight times as large as the greatest new value, as of the top ring, which is
# among the suspect rows.
SUSPECT_TOO = {("E07", "oil_ring_gap")}


def said_of(row: dict[str, str]) -> str:
    """What is said of one row as it is printed; empty where nothing is."""
    ends = {key: row[key] for key in ("at_least", "at_most") if row[key]}
    try:
        return suspected(row["engine"], {row["characteristic"]: ends}).get(row["characteristic"], "")
    except InputError as error:
        return str(error)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: " ".join(row.values())[:60])
def test_what_a_factor_or_an_impossible_range_explains_is_suspected(row: dict[str, str]) -> None:
    said = said_of(row)
    assert any(why in said for why in row["why"].split("|")) if row["why"] else not said


def test_two_rows_exchanged_are_both_named() -> None:
    """Side clearance for oil clearance and the other way round; the figures are those of a marine service manual."""
    said = suspected(
        "B",
        {
            "rod_oil_clearance": {"at_least": "0.006 in", "at_most": "0.014 in"},
            "rod_side_clearance": {"at_least": "0.0013 in", "at_most": "0.0027 in"},
        },
    )
    assert said["rod_oil_clearance"].startswith("exchanged with the row of rod side clearance")
    assert said["rod_side_clearance"] == "exchanged with the row of rod oil clearance?"


def test_a_ring_gap_a_little_under_practice_is_not_taken_for_the_row_of_the_other_ring() -> None:
    """A piston maker's 0.0058 and 0.0064 of the bore on much boost, where practice requires 0.0060 and 0.0057."""
    sheets = {
        name: {"at_least": gap, "source": "piston maker's sheet", "for": ["drag", "boosted"]}
        for name, gap in (("top_ring_gap", "0.50 mm"), ("second_ring_gap", "0.55 mm"))
    }
    record = {
        "assembly": "Turbo four",
        "application": "drag",
        "units": {"length": "mm"},
        "stations": {"cylinder": 1},
        "facts": {"boost_pressure": "2.6 bar", "piston_alloy": "2618"},
        "part_limits": sheets,
        "readings": {"cylinder_bore": {1: 86.5}, "top_ring_gap": {1: 0.56}, "second_ring_gap": {1: 0.6}},
    }
    report = load_rulebook("four-stroke", "boosted").check(record_from(record))
    assert report.suspect_sheets == ()


@pytest.mark.parametrize("worn", [False, True])
def test_no_sound_row_of_these_engines_is_suspected(worn: bool) -> None:
    found = {
        (engine.name, name): said
        for engine in engines()
        for name, said in suspected(engine.name, sheets_of(engine, worn)).items()
    }
    assert {row: said for row, said in found.items() if row not in SUSPECT_TOO} == {}


def test_the_rows_are_many() -> None:
    """Nothing is shown by rows that are not there."""
    assert sum(len(sheets_of(engine, worn=False)) for engine in engines()) > 800
