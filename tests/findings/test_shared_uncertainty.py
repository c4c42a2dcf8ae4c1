"""A difference of readings of one gauge is in less doubt than the gauge, once somebody says how much they share."""

from __future__ import annotations

from typing import Any

import pytest
from judging import finding, report

from checker import Report, Verdict
from checker.new_record import SYSTEMS, new_record
from checker.reports.text import write_text
from checker.rulebook import load_rulebook

NOT_STATED = (
    "what part of the uncertainty of micrometer all its readings share is not stated, and falls out of a difference"
)
TO_DO = "do: state which part of its gauge's uncertainty all readings share, else measure more precisely"


def journal(**instrument: str) -> Report:
    sizes = {"front_at_0": "2.4490 in", "front_at_90": "2.4489 in", "rear_at_0": "2.4490 in", "rear_at_90": "2.4490 in"}
    readings: dict[str, Any] = {
        f"main_journal_{where}": {"with": "micrometer", "values": [size]} for where, size in sizes.items()
    }
    gauges = {"micrometer": {"expanded_uncertainty": "0.2 thou", **instrument}}
    return report("street", readings, instruments=gauges, stations={"main": 1})


def test_who_does_not_say_what_a_gauges_readings_share_is_told_to() -> None:
    judged = journal()
    found = finding(judged, "main-journal-roundness")
    assert found.verdict is Verdict.UNDECIDED
    assert any(remark.endswith(NOT_STATED) for remark in found.remarks)
    assert TO_DO in " ".join(write_text(judged).split())


def test_who_said_it_is_not_told_again() -> None:
    poor = finding(journal(shared="0.05 thou"), "main-journal-roundness")
    assert poor.verdict is Verdict.UNDECIDED
    assert not any("share" in remark for remark in poor.remarks)


def test_a_value_of_one_reading_of_each_gauge_has_nothing_to_share() -> None:
    readings = {
        "main_journal_diameter": {"with": "micrometer", "values": ["2.4489 in"]},
        "main_bearing_bore": {"with": "gauge", "values": ["2.4516 in"]},
    }
    gauges = {name: {"expanded_uncertainty": "0.2 thou"} for name in ("micrometer", "gauge")}
    found = finding(report("street", readings, instruments=gauges, stations={"main": 1}), "main-oil-clearance")
    assert not any("share" in remark for remark in found.remarks)


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_a_new_record_offers_decides_what_a_good_micrometer_can(system: str) -> None:
    text = new_record(load_rulebook("four-stroke"), "street", "A", system, {}, "a.yaml")
    (line,) = (line for line in text.splitlines() if "# micrometer:" in line)
    shared = line.split("shared: ")[1].split("}")[0]
    uncertainty = line.split("expanded_uncertainty: ")[1].split(",")[0]
    found = finding(journal(expanded_uncertainty=uncertainty, shared=shared), "main-journal-roundness")
    assert found.verdict is Verdict.WITHIN
