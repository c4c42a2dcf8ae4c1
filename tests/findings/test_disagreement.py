"""Where limits disagree: the report says so in a line, and names whose limit decided."""

from __future__ import annotations

from pathlib import Path

import pytest
from pack_tools import gear_record, gear_rulebook, write_pack

from checker.findings.finding import Finding
from checker.reports.json_report import report_data
from checker.reports.report import Report
from checker.reports.report_keys import PARTS
from checker.reports.text import write_text

HEAD = "pack: {}\nversion: 2.0.0\nrule_language: 1\ntitle: Test\nbuilds_on: {{{}}}\n"


def amending(folder: Path, name: str, limits: str, below: str = 'gear-train: ">=1"', more: str = "") -> Path:
    text = f"amends:\n  backlash:\n    because: Tested.\n    limits: {limits}\n    basis: {{kind: shop policy}}\n{more}"
    return write_pack(folder / name, pack=HEAD.format(name, below) + text)


def judged(backlash: str, *folders: Path, application: str = "general", more: str = "") -> Report:
    readings = {"gear_module": "{1: 2 mm}", "backlash": f"{{1: {backlash}}}"}
    return gear_rulebook(*folders).check(gear_record(readings, application, more))


def finding(report: Report) -> Finding:
    return next(found for found in report.findings if found.name == "backlash")


@pytest.mark.parametrize(
    ("backlash", "verdict", "remarks"),
    [
        # The gear train allows 0.04 to 0.16 mm and advises 0.06 to 0.10 mm on a module of 2 mm; the shop stops at 0.12.
        ("0.14 mm", "outside", ("gear-train 1.2.0 asks for 0.06 mm to 0.10 mm: advisory",)),
        ("0.11 mm", "advisory", ()),
        ("0.08 mm", "within", ()),
        ("0.17 mm", "outside", ()),
    ],
)
def test_an_overruled_limit_is_mentioned_where_it_would_decide_otherwise(
    tmp_path: Path, backlash: str, verdict: str, remarks: tuple[str, ...]
) -> None:
    found = finding(judged(backlash, amending(tmp_path, "shop", "{general: {must: {at_most: 0.06}}}")))
    assert str(found.verdict) == verdict
    assert found.remarks == remarks


def test_a_stricter_limit_that_was_overruled_is_mentioned_too(tmp_path: Path) -> None:
    report = judged("0.11 mm", amending(tmp_path, "shop", "{general: {should: {at_most: 0.06}}}"))
    assert str(finding(report).verdict) == "within"
    assert "gear-train 1.2.0 asks for 0.06 mm to 0.10 mm: advisory" in " ".join(write_text(report, whole=True).split())


def test_a_limit_that_two_packs_left_alone_is_mentioned_once(tmp_path: Path) -> None:
    one = amending(tmp_path, "one", "{heavy: {must: {at_most: 0.12}}}")
    other = amending(tmp_path, "other", "{general: {must: {at_most: 0.06}}}", 'gear-train: ">=1", one: ">=1"')
    assert finding(judged("0.14 mm", one, other)).remarks == ("gear-train 1.2.0 asks for 0.06 mm to 0.10 mm: advisory",)


def test_each_limit_on_the_way_is_mentioned(tmp_path: Path) -> None:
    one = amending(tmp_path, "one", "{general: {must: {at_most: 0.065}}}")
    other = amending(tmp_path, "other", "{general: {should: {at_most: 0.065}}}", 'gear-train: ">=1", one: ">=1"')
    # 0.125 mm: within for "other", advisory for "one" and for the gear train, which ask for the same.
    assert finding(judged("0.125 mm", one, other)).remarks == (
        "gear-train 1.2.0 asks for 0.06 mm to 0.10 mm: advisory",
    )
    # 0.135 mm: outside for both amendments, advisory for the gear train.
    assert finding(judged("0.135 mm", one, other)).remarks == (
        "gear-train 1.2.0 asks for 0.06 mm to 0.10 mm: advisory",
    )


def test_another_source_is_mentioned_by_its_title(tmp_path: Path) -> None:
    more = (
        "    alternatives:\n      - title: Older practice\n        basis: handbook\n"
        "        limits: {any: {must: {at_least: 0.05}}}\n"
    )
    found = finding(judged("0.08 mm", amending(tmp_path, "shop", "{heavy: {must: {at_most: 0.12}}}", more=more)))
    assert str(found.verdict) == "within"
    assert found.remarks == ("Older practice asks for at least 0.10 mm: outside",)


SHEET = "part_limits: {{backlash: {{{}, source: wheel maker's sheet}}}}\n"


@pytest.mark.parametrize(
    ("sheet", "backlash", "verdict", "decided_by_sheet"),
    [
        ("at_most: 0.12 mm", "0.14 mm", "outside", True),  # in place of the pack's 0.16 mm
        ("at_most: 0.20 mm", "0.21 mm", "outside", True),
        ("at_most: 0.20 mm", "0.03 mm", "outside", False),  # of too little the sheet says nothing
        ("at_least: 0.07 mm", "0.065 mm", "outside", True),
        ("at_least: 0.03 mm", "0.17 mm", "outside", False),
    ],
)
def test_of_pack_and_part_sheet_the_one_that_decides_is_named(
    sheet: str, backlash: str, verdict: str, decided_by_sheet: bool
) -> None:
    report = judged(backlash, more=SHEET.format(sheet))
    found = finding(report)
    assert str(found.verdict) == verdict
    told = " ".join(write_text(report, whole=True).split())
    assert ("part sheet: wheel maker's sheet" in told) == decided_by_sheet
    if not decided_by_sheet:
        assert "gear_train/gears.yaml" in told


def test_the_data_of_a_report_say_who_stated_each_limit(tmp_path: Path) -> None:
    report = judged(
        "0.14 mm",
        amending(tmp_path, "shop", "{general: {must: {at_most: 0.06}}}"),
        more=SHEET.format("at_least: 0.05 mm"),
    )
    data = report_data(report, PARTS)
    limits = next(item for item in data["findings"] if item["rule"] == "backlash")["limits"]
    statements = data["statements"]
    shop = statements[limits["must"]["high"]["stated"]]
    assert (shop["pack"], data["bases"][shop["basis"]]) == ("shop", "shop policy")
    assert limits["must"]["low"]["part_sheet"] == "wheel maker's sheet"
    assert limits["must"]["low"]["stated"] is None
    assert statements[limits["should"]["high"]["stated"]]["pack"] == "gear-train"


def test_a_part_sheet_speaks_of_the_part_not_of_how_far_its_readings_lie_apart() -> None:
    """Two readings 0.02 mm apart; the sheet asks for 0.05 mm of backlash, not of change."""
    report = judged("[0.07 mm, 0.09 mm]", more=SHEET.format("at_least: 0.05 mm"))
    change = next(found for found in report.findings if found.name == "backlash-runout")
    assert str(change.verdict) == "within"


def test_one_reading_says_nothing_of_how_far_readings_lie_apart() -> None:
    change = next(found for found in judged("0.08 mm").findings if found.name == "backlash-runout")
    assert str(change.verdict) == "not measured"
