"""What a part maker's sheet says: with its source and day; the stricter counts, and conflicts with the packs are told.

The clearance must be 0.020 to 0.100 mm by the pack, and should be 0.030 to 0.080 mm.
"""

from __future__ import annotations

import pytest
from fits_tools import finding, report

from checker import Finding, Verdict

DATED = "source: bush maker's sheet, dated: 2026-01-10"


def clearance(value: str, sheet: str) -> Finding:
    more = f"stations: {{seat: 1}}\npart_limits: {{clearance: {{{sheet}, {DATED}}}}}\n"
    return finding(report(f"clearance: {{1: {value} mm}}", more), "clearance")


def test_a_stricter_sheet_decides_and_is_named_with_its_day() -> None:
    found = clearance("0.095", "at_most: 0.090 mm")
    assert found.verdict is Verdict.OUTSIDE
    assert [edge.from_part_sheet for edge in found.edges if edge.value == pytest.approx(90e-6)] == [
        "bush maker's sheet of 2026-01-10"
    ]
    (remark,) = found.remarks
    assert remark == (
        "bush maker's sheet of 2026-01-10 asks for at most 0.09 mm, the packs for 0.02 mm to 0.10 mm; "
        "the stricter of each side counts; the packs alone would say advisory"
    )


def test_a_looser_sheet_is_overruled_and_the_conflict_told() -> None:
    found = clearance("0.110", "at_most: 0.120 mm")
    assert found.verdict is Verdict.OUTSIDE
    assert "asks for at most 0.12 mm, the packs for 0.02 mm to 0.10 mm" in found.remarks[0]
    assert clearance("0.050", "at_most: 0.120 mm").remarks[0].endswith("the stricter of each side counts")


def test_a_stricter_sheet_that_holds_is_no_conflict() -> None:
    assert clearance("0.050", "at_most: 0.090 mm").remarks == ()


def test_sheet_and_pack_may_leave_nothing() -> None:
    found = clearance("0.110", "at_least: 0.105 mm")
    assert found.verdict is Verdict.OUTSIDE
    assert found.remarks[0] == (
        "no value satisfies both: required at least 0.105 mm (bush maker's sheet of 2026-01-10), "
        "required at most 0.10 mm (fits 1.0.0)"
    )
    assert found.remedy == ""
    assert " and at most " in found.band("must")
    assert clearance("0.050", "at_least: 0.105 mm").verdict is Verdict.OUTSIDE


@pytest.mark.parametrize("value", ["0.019", "0.021", "0.099", "0.101"])
def test_a_sheet_never_makes_it_easier(value: str) -> None:
    alone = finding(report(f"clearance: {{1: {value} mm}}", "stations: {seat: 1}"), "clearance").verdict
    for sheet in ("at_least: 0.001 mm", "at_most: 0.5 mm", "at_least: 0.03 mm, at_most: 0.09 mm"):
        assert clearance(value, sheet).verdict >= alone
