"""A shop that does a part of an engine, honestly recorded: what it did holds, and it is asked for nothing else."""

from __future__ import annotations

from judging import rulebook
from places import DATA

from checker import Verdict, read_record
from checker.plugins import gather
from checker.reports.overview import answer
from checker.uses import uses_of

HEAD = read_record(DATA / "jobs" / "head_of_a_four.yaml")


def test_a_head_by_itself_holds() -> None:
    report = rulebook("four-stroke").check(HEAD)
    assert report.status == 0
    assert answer(report).startswith("ALL REQUIRED CHECKS OF THE JOB HOLD before the heads go on: ")
    assert report.counts[Verdict.ADVISORY] == report.counts[Verdict.UNDECIDED] == 0


def test_what_is_left_out_of_the_head_is_asked_for() -> None:
    lacking = rulebook("four-stroke").check(HEAD.without("exhaust_valve_margin"))
    assert lacking.status == 3
    assert {finding.name for finding in lacking.not_measured if finding.must_open} == {"exhaust-valve-margin"}


def test_as_a_whole_engine_the_rest_of_it_is_asked_for() -> None:
    assert rulebook("four-stroke").check(HEAD._replace(scope=())).open_musts > 100


def test_of_a_part_it_is_the_job_that_suits_a_use() -> None:
    (street,) = uses_of(HEAD, gather(), only=["street"])
    assert HEAD.before
    assert street.answer == "the job suits so far"
