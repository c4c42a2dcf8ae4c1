"""A trade that the core has never heard of is a folder of YAML."""

from __future__ import annotations

import pytest
from pack_tools import GEAR_TRAIN, gear_rulebook
from places import DATA

from checker.cli import main
from checker.documents.document import read_document
from checker.records.record import record_in
from checker.reports.report import Report

RECORD = DATA / "gear_train_record.yaml"


@pytest.fixture(scope="module")
def report() -> Report:
    return gear_rulebook().check(record_in(read_document(RECORD)))


# Every figure is worked by hand from the record: module 2 mm, shafts of 50 and 40 mm, rolling bearings.
@pytest.mark.parametrize(
    ("rule", "where", "verdict", "shown"),
    [
        ("shaft-clearance", "shaft 1", "within", "0.01 mm"),  # 50.010 - 50.000; up to 0.0004 x 50 = 0.02
        ("shaft-clearance", "shaft 2", "outside", "0.03 mm"),  # 40.030 - 40.000; up to 0.016
        ("shaft-end-float", "shaft 1", "within", "0.12 mm"),  # the table gives 0.15 from 30 to 60 mm
        ("shaft-end-float", "shaft 2", "outside", "0.16 mm"),
        ("gear-press", "gear 1", "within", "30 um"),  # 50.000 - 49.970; up to 45 at 50 mm
        ("gear-press", "gear 3", "outside", "50 um"),  # 40.000 - 39.950; up to 40 at 40 mm
        ("gear-press", "gear 4", "not measured", ""),
        ("centre-distance", "mesh 1", "within", "0.02 mm"),  # 80.020 - 2 x (20 + 60)/2
        ("centre-distance", "mesh 2", "outside", "-0.01 mm"),  # 59.990 - 2 x (20 + 40)/2
        ("backlash", "mesh 1", "within", "0.08 mm"),  # mean of 0.07, 0.08, 0.09; 0.06 to 0.10
        ("backlash", "mesh 2", "advisory", "0.12 mm"),
        ("backlash-runout", "mesh 1", "within", "0.02 mm"),
        ("shaft-weight", "shaft 2", "not measured", ""),  # the weight of gear 4 is not known
        ("oil-kind", "", "within", ""),
        ("bolt-steps", "", "outside", ""),  # 20, 60, 40 N m
    ],
)
def test_it_is_judged_as_worked_by_hand(report: Report, rule: str, where: str, verdict: str, shown: str) -> None:
    (found,) = (item for item in report.findings if (item.name, item.where) == (rule, where))
    assert str(found.verdict) == verdict
    assert found.shown_value == shown


def test_remedies_carry_the_trades_words_and_our_numbers(report: Report) -> None:
    told = {(item.name, item.where): item.remedy for item in report.findings if item.remedy}
    assert told["gear-press", "gear 3"] == "Hone the gear by 10 um."
    assert told["shaft-clearance", "shaft 2"] == "Fit a smaller bearing: 0.014 mm too loose."
    assert told["shaft-end-float", "shaft 2"] == "Add 0.01 mm of shim."


def test_a_drive_that_breaks_a_must_stops(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(RECORD), "--pack", str(GEAR_TRAIN)]) == 1
    out = capsys.readouterr().out
    assert "STOP" in out
    assert "Block the drive before a hand goes near a mesh." in out
