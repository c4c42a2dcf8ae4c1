"""What was measured of a part that is another now, or was cut since, does not count, though one size of it is named.

A shop names what a part bears on by the size it knows the part by; what belongs to that size was of the former part.
"""

from __future__ import annotations

from typing import Any

import pytest
from judging import finding, report

from checker import Verdict

BORES = {f"cylinder_bore_{way}_{height}" for way in ("across", "along") for height in ("top", "middle", "bottom")}
PLANES = {f"{end}_at_{angle}" for end in ("front", "rear") for angle in (0, 90)}
SINCE = "2026-03-05"


def verdicts(rule: str, readings: dict[str, Any], bears_on: str) -> list[Verdict]:
    """Of readings of a day before and a day after the part was changed."""
    parts = {"part": {"fitted": SINCE, "bears_on": [bears_on]}}
    return [
        finding(report("street-performance", readings, taken=day, parts=parts), rule, 1).verdict
        for day in ("2026-03-01", "2026-03-09")
    ]


@pytest.mark.parametrize(
    ("bears_on", "rule", "readings"),
    [
        (
            "main_journal_diameter",
            "main-journal-taper",
            dict.fromkeys((f"main_journal_{p}" for p in PLANES), "2.449 in"),
        ),
        (
            "rod_journal_diameter",
            "rod-journal-roundness",
            dict.fromkeys((f"rod_journal_{p}" for p in PLANES), "2.1 in"),
        ),
        ("main_journal_diameter", "main-journal-runout", {"main_journal_runout": "0.0005 in"}),
        ("cylinder_bore", "bore-taper", dict.fromkeys(BORES, "4.03 in")),
        ("cylinder_bore", "bore-roundness", dict.fromkeys(BORES, "4.03 in")),
        ("cylinder_bore", "bore-roughness", {"bore_roughness": "15 uin"}),
        (
            "main_housing_bore",
            "main-housing-roundness",
            {f"main_housing_bore_{way}": "2.641 in" for way in ("vertical", "plus_45", "minus_45")},
        ),
        ("head_flatness_along", "head-flatness-across", {"head_flatness_across": "0.001 in"}),
        ("block_deck_height", "deck-flatness", {"deck_flatness": "0.001 in"}),
    ],
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_what_belongs_to_a_size_that_changed_is_measured_anew(
    bears_on: str, rule: str, readings: dict[str, Any]
) -> None:
    assert verdicts(rule, readings, bears_on) == [Verdict.NOT_MEASURED, Verdict.WITHIN]
