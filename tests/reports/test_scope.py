"""A job on a part of an assembly: of the rest nothing is asked, and what is measured there is judged all the same."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from pack_tools import gear_record, gear_rulebook
from record_heads import TRAIN

import checker
from checker import Record, Report, UsageError, Verdict
from checker.html.hand_over_page import write_hand_over
from checker.new_record import new_record
from checker.reports.text import write_text

DAY = date(2026, 6, 1)
GEARS = gear_rulebook()
SHAFTS: dict[str, Any] = {"shaft_diameter": [50.0, 50.0], "bearing_bore": [50.06, 50.06], "end_float": [0.1, 0.1]}


def job(*scope: str, **readings: Any) -> Record:
    stated = {"scope": list(scope)} if scope else {}
    facts = {"bearing_kind": "plain"}
    return checker.record_from({"assembly": "R", **TRAIN, **stated, "facts": facts, "readings": readings})


def judged(*scope: str, **readings: Any) -> Report:
    return GEARS.check(job(*scope, **readings), on=DAY)


def said(report: Report, rule: str) -> list[Verdict]:
    return [Verdict(code) for one in report.judged if one.rule.name == rule for code in one.codes[0]]


def test_what_the_job_is_about_holds_while_nothing_else_is_asked() -> None:
    whole, part = judged(**SHAFTS), judged("shafts", **SHAFTS, gear_mass=[1, 1, 1, 1], shaft_length=[300, 300])
    assert (whole.status, part.status) == (3, 0)
    assert said(whole, "backlash") == [Verdict.NOT_MEASURED] * 2
    assert said(part, "backlash") == [Verdict.NOT_ASKED] * 2
    text = write_text(part)
    assert "ALL REQUIRED CHECKS OF THE JOB HOLD: 6 within; asked of Shafts and bearings alone" in text
    page = write_hand_over(part)
    assert "<dt>Job</dt><dd>Shafts and bearings</dd>" in page
    assert "Everything that must hold of Shafts and bearings was measured and holds" in page


def test_what_is_measured_of_the_rest_still_stops_it() -> None:
    """Backlash of a module of 2 mm: at least 0.04 mm (gears.yaml)."""
    report = judged("shafts", **SHAFTS, gear_module=[2, 2], backlash=[0.01, 0.08])
    assert (report.status, said(report, "backlash")) == (1, [Verdict.OUTSIDE, Verdict.WITHIN])


def test_what_the_job_is_about_is_asked_for() -> None:
    report = judged("gears", bearing_bore=SHAFTS["bearing_bore"])
    assert (report.status, said(report, "backlash")) == (3, [Verdict.NOT_MEASURED] * 2)
    unasked = report.with_verdict(Verdict.NOT_ASKED)
    assert {finding.system for finding in unasked} == {"Shafts and bearings"}
    assert {finding.remarks for finding in unasked} == {("Shafts and bearings: no part of the job",)}


def test_a_job_may_be_about_all_there_is() -> None:
    one, other = judged("gears", "SHAFTS and bearings", **SHAFTS), judged(**SHAFTS)
    assert [own.codes.tolist() for own in one.judged] == [own.codes.tolist() for own in other.judged]


def test_a_system_that_there_is_not_is_told_with_its_place() -> None:
    record = checker.record_from_text("record: 1\nassembly: R\napplication: general\nscope: gaers\nreadings: {}\n")
    with pytest.raises(UsageError, match=r":4:1: scope: no system is called 'gaers' \(did you mean 'gears'\?\)"):
        GEARS.check(record)


def test_each_row_of_a_table_is_about_the_same_job() -> None:
    table = {"end_float@1": [0.1, 0.9], "end_float@2": [0.1, 0.1], "shaft_diameter@1": [50.0, 50.0]}
    counts = GEARS.check_table(table, job("shafts"), on=DAY).counts.to_pylist()
    for row, count in enumerate(counts):
        ends = [table["end_float@1"][row], table["end_float@2"][row]]
        alone = judged("shafts", end_float=ends, shaft_diameter={1: 50.0})
        assert (count["status"], count["not_asked"]) == (alone.status, alone.counts[Verdict.NOT_ASKED])


def test_a_new_record_lists_what_the_job_asks_for() -> None:
    written = new_record(GEARS, "general", "Job 3", "mm", {"shaft": 2}, "job.yaml", scope=["shafts"])
    assert "scope: [Shafts and bearings]\n" in written
    assert "end_float" in written
    assert "backlash" not in written


def test_what_some_rules_alone_say_is_told_as_that() -> None:
    """All of two rules may hold, which is no word on the others."""
    record = gear_record("  joint_gap: 0.02 mm\n")
    alone = GEARS.only("joint-gap").check(record)
    assert alone.status == 0
    assert "ALL REQUIRED CHECKS OF THESE RULES HOLD: 1 within; judged by 1 of 10 rules alone." in write_text(alone)
    assert "Everything that must hold by these rules was measured and holds." in write_hand_over(alone)
    assert "rules alone" not in write_text(GEARS.check(record), whole=True)
