"""The short report fits a page: the answers to what was measured stand at its head, and nothing is lost with --all."""

from __future__ import annotations

import pytest
from places import DATA
from shipped_reports import report_on

from checker import Report, read_record, record_from, rulebook_for, write_text

WARM = {
    "record": 1,
    "assembly": "Engine 9",
    "application": "street",
    "rule_packs": {"four-stroke": ">=1,<2"},
    "units": {"length": "in"},
    "stations": {"cylinder": 4},
    "temperatures": {"parts": "70 degF", "materials": {"cylinder_bore": "iron", "piston_diameter": "aluminium"}},
    "instruments": {"gauge": {"expanded_uncertainty": "0.1 thou", "set_with": "steel"}},
    "facts": {"piston_alloy": "4032", "skirt_coating": "bare", "bore_surface": "iron"},
    "readings": {
        "cylinder_bore": {"with": "gauge", "values": ["4.0302", "4.0301", "4.0302", "4.0302"]},
        "piston_diameter": {"with": "gauge", "values": ["4.0272", "4.0271", "4.0272", "4.0274"]},
    },
}


@pytest.fixture(scope="module")
def day_one() -> Report:
    record = read_record(DATA / "day_one.yaml")
    return rulebook_for(record).check(record)


def test_the_first_evening_fits_forty_lines_and_begins_with_its_answers(day_one: Report) -> None:
    lines = write_text(day_one).splitlines()
    assert len(lines) <= 40
    head = "\n".join(lines[:15])
    for measured in (
        "Main bearing oil clearance (5)",
        "Rod bearing oil clearance (8)",
        "Piston to wall clearance (8)",
        "Top ring end gap (8)",
        "Second ring end gap (8)",
    ):
        assert measured in head


def test_the_example_fits_sixty_lines() -> None:
    assert len(write_text(report_on("demo")).splitlines()) <= 60


def test_many_choices_are_counted_but_the_few_that_decide_otherwise_are_named(day_one: Report) -> None:
    """A gap of 0.019 in on a 4.03 in bore: 0.0047 in per inch, under the 0.0065 of a hypereutectic with a high ring."""
    (finding, *_) = (it for it in day_one.findings if it.name == "top-ring-gap" and it.station == 0)
    (told,) = finding.under_choices
    assert told == (
        "depends on piston alloy and top ring groove: outside for hypereutectic with close to the crown, "
        "which asks for at least 0.0262 in; within for the other 7"
    )


def test_what_would_do_in_the_place_of_a_gap_is_told_in_full(day_one: Report) -> None:
    short, whole = (" ".join(write_text(day_one, whole=whole).split()) for whole in (False, True))
    assert "needs rod journal diameter" in short
    assert "rod journal diameter, connecting rod 1 to 8 (or rod journal, as made or ground to)" in whole


def test_values_alike_are_not_told_from_one_another_with_more_digits(day_one: Report) -> None:
    """Brought to 20 degrees clearances of one size differ by less than any gauge reads."""
    found = rulebook_for(warm := record_from(WARM)).check(warm)
    assert "Piston to wall clearance (4) 0.0028 to 0.0030 in 0.0020 to 0.0036 in" in " ".join(write_text(found).split())


def test_a_value_is_still_told_from_its_limit(day_one: Report) -> None:
    sizes = {"cylinder_bore": ["4.0000"] * 4, "piston_diameter": ["3.99799", "3.99798", "3.99797", "3.99798"]}
    found = rulebook_for(near := record_from({**WARM, "temperatures": {"parts": "20 degC"}, "readings": sizes})).check(
        near
    )
    assert "0.00201 in 0.00200 to 0.00360 in" in " ".join(write_text(found).split())
