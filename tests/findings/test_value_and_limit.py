"""A value that is beyond its limit never prints as equal to it, nor does the limit as equal to the value."""

from __future__ import annotations

from fits_tools import finding, report

from checker.reports.text import write_text

HEAD = "units: {length: mm}\nstations: {seat: 2, pad: 4}\n"
SHEET = "part_limits: {clearance: {at_least: 0.04 mm, at_most: 0.06006 mm, source: bush sheet}}\n"


def test_a_limit_is_written_with_as_many_digits_as_its_value_needs() -> None:
    found = report("bore: [50.0601, 50.0601]\nshaft: [50.0, 50.0]", HEAD + SHEET)
    over = finding(found, "clearance")
    assert (over.shown_value, over.band("must")) == ("0.06010 mm", "0.04000 mm to 0.06006 mm")


def test_so_are_the_ends_of_the_values_of_several_stations() -> None:
    found = report("bore: [50.0601, 50.0602]\nshaft: [50.0, 50.0]", HEAD + SHEET)
    told = " ".join(write_text(found).split())
    assert "OUTSIDE Clearance (2) 0.06010 to 0.06020 mm 0.04000 to 0.06006 mm" in told
