"""Concessions (ISO 9000): named, dated, reasoned; the verdict stays, and what ends one is told."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from fits_tools import finding, report

from checker import InputError, Report, Verdict
from checker.cli import main
from checker.reports.json_report import report_data
from checker.reports.text import write_text

HEAD = "units: {length: mm}\nstations: {seat: 2, pad: 2}\nbefore: assembled\ndecision: simple\n"
# Seat 1 holds. Seat 2 is 0.110 mm and must be at most 0.100 mm. Everything else the rules ask for is there and holds.
SOUND = """bore: {taken: 2026-05-01, values: {1: [50.060, 50.060], 2: [50.110, 50.110]}}
shaft: {taken: 2026-05-01, values: [50.000, 50.000]}
gap: [0.260, 0.260]
width: 40
load: 500 N
pad_height: [5, 5]
end_float: 0.15
bush: bronze"""
LOOSE = "{rule: clearance, station: 2, by: bench lead, dated: 2026-05-03, because: Test rig only.}"
JUNE = date(2026, 6, 1)


def judged(*concessions: str, readings: str = SOUND, more: str = "", on: date = JUNE) -> Report:
    return report(readings, f"{HEAD}{more}concessions: [{', '.join(concessions)}]\n", on=on)


def standing(found: Report) -> str:
    (_, words) = found.concessions[0]
    return words


def test_without_one_a_broken_must_stops_the_build() -> None:
    found = report(SOUND, HEAD, on=JUNE)
    assert (found.status, finding(found, "clearance", 2).verdict) == (1, Verdict.OUTSIDE)


def test_the_verdict_stays_and_the_report_says_who_accepted_it() -> None:
    found = judged(LOOSE)
    accepted = finding(found, "clearance", 2)
    assert accepted.verdict is Verdict.OUTSIDE
    assert accepted.concession == "accepted by bench lead on 2026-05-03: Test rig only."
    assert not accepted.breaks_must
    assert (found.status, standing(found)) == (0, "counts")
    text = " ".join(write_text(found, whole=True).split())
    assert "accepted by bench lead on 2026-05-03: Test rig only. (counts)" in text
    assert report_data(found)["concessions"][0]["standing"] == "counts"


def test_it_is_for_its_own_rule_and_station() -> None:
    assert judged(LOOSE.replace("station: 2", "station: 1")).status == 1
    assert judged(LOOSE.replace("rule: clearance", "rule: bore-taper")).status == 1
    assert judged(LOOSE.replace("station: 2, ", "")).status == 0


def test_an_advisory_can_be_accepted_too() -> None:
    readings = SOUND.replace("50.110, 50.110", "50.090, 50.090")
    found = judged(LOOSE, readings=readings)
    assert finding(found, "clearance", 2).verdict is Verdict.ADVISORY
    assert "bench lead" in finding(found, "clearance", 2).concession


@pytest.mark.parametrize(("day", "status"), [(date(2026, 5, 20), 0), (date(2026, 5, 21), 1)])
def test_it_ends_after_its_last_day(day: date, status: int) -> None:
    found = judged(LOOSE.replace("because", "until: 2026-05-20, because"), on=day)
    assert found.status == status
    assert finding(found, "clearance", 2).verdict is Verdict.OUTSIDE
    assert standing(found) == ("counts" if status == 0 else "does not count: ended on 2026-05-20")


@pytest.mark.parametrize("what", ["bore", "shaft"])
def test_a_reading_taken_later_ends_it(what: str) -> None:
    lines = [line.replace("2026-05-01", "2026-05-04") if line.startswith(what) else line for line in SOUND.splitlines()]
    found = judged(LOOSE, readings="\n".join(lines))
    assert found.status == 1
    assert standing(found) == f"does not count: {what} was measured again on 2026-05-04"


def test_a_part_fitted_later_ends_it() -> None:
    parts = "parts: {new bush: {fitted: 2026-05-10, bears_on: [bore], stations: [2]}}\n"
    readings = SOUND.replace("taken: 2026-05-01, values: {1", "taken: 2026-05-10, values: {1")
    found = judged(LOOSE, readings=readings, more=parts)
    assert found.status == 1
    assert standing(found) == "does not count: since then new bush fitted on 2026-05-10"


def test_what_happens_elsewhere_does_not_end_it() -> None:
    parts = "parts: {new bush: {fitted: 2026-05-10, bears_on: [bore], stations: [1]}}\n"
    values = "{1: {readings: [50.060, 50.060], taken: 2026-05-11}, 2: {readings: [50.110, 50.110], taken: 2026-05-01}}"
    changed = {"bore": f"bore: {values}", "gap": "gap: {taken: 2026-05-12, values: [0.260, 0.260]}"}
    readings = "\n".join(changed.get(line.split(":")[0], line) for line in SOUND.splitlines())
    assert judged(LOOSE, readings=readings, more=parts).status == 0


@pytest.mark.parametrize(("value", "status"), [("0.11 mm", 0), ("0.110 mm", 0), ("0.112 mm", 1), ("0.10 mm", 1)])
def test_it_may_name_the_value_it_was_given_for(value: str, status: int) -> None:
    found = judged(LOOSE.replace("by:", f"value: {value}, by:"))
    assert found.status == status
    assert status == 0 or standing(found).startswith("does not count: given for")


def test_a_rule_that_admits_none_is_not_moved_by_one() -> None:
    """The gap must be 0.0040 of the bore, 0.2002 mm."""
    readings = SOUND.replace("gap: [0.260, 0.260]", "gap: [0.190, 0.260]")
    tight = "{rule: gap, station: 1, by: bench lead, dated: 2026-05-03, because: Wanted.}"
    found = judged(tight, LOOSE, readings=readings)
    assert found.status == 1
    assert finding(found, "gap", 1).concession == ""
    assert standing(found) == "does not count: the rule admits none"


def test_what_is_not_measured_cannot_be_accepted() -> None:
    readings = SOUND.replace("2: [50.110, 50.110]", "2: not measured")
    found = judged(LOOSE, readings=readings)
    assert finding(found, "clearance", 2).verdict is Verdict.NOT_MEASURED
    assert (found.status, standing(found)) == (
        3,
        "open: nothing is missed so far, but the rule is not judged",
    )


def test_one_for_what_holds_is_listed_as_not_needed() -> None:
    assert standing(judged(LOOSE.replace("station: 2", "station: 1"))) == "not needed: nothing is missed there"


def test_of_several_the_latest_that_counts_is_named() -> None:
    earlier = LOOSE.replace("2026-05-03", "2026-05-02").replace("bench lead", "customer")
    ended = LOOSE.replace("2026-05-03", "2026-05-04").replace("because", "until: 2026-05-05, because")
    found = judged(earlier, LOOSE, ended)
    assert "bench lead on 2026-05-03" in finding(found, "clearance", 2).concession
    assert len(found.concessions) == 3


@pytest.mark.parametrize(
    ("concession", "says"),
    [
        (LOOSE.replace("rule: clearance", "rule: clearence"), "did you mean 'clearance'?"),
        (LOOSE.replace("station: 2", "station: 3"), "judges no station 3"),
        (LOOSE.replace("station: 2", "station: 2a"), "judges no station 2a"),
        (LOOSE.replace("rule: clearance", "rule: end-float"), "judges no station 2"),
        (LOOSE.replace("2026-05-03", "2026-13-03"), "is not a date"),
        (LOOSE.replace("because", "until: 2026-05-02, because"), "ends before it was given"),
        (LOOSE.replace("by:", "value: 3 kg, by:"), "mass"),
        (LOOSE.replace(", because: Test rig only.", ""), "'because' is missing"),
    ],
)
def test_one_that_cannot_be_is_refused(concession: str, says: str) -> None:
    with pytest.raises(InputError) as error:
        judged(concession)
    assert says in str(error.value)


ENGINE = """record: 1
assembly: Test engine
application: street
rule_packs: {four-stroke: ">=1,<2"}
stations: {main: 1}
readings:
  main_bearing_bore: [2.4500 in]
  main_journal_diameter: [2.4498 in]
concessions:
  - {rule: main-oil-clearance, station: 1, by: bench lead, dated: 2026-05-03, until: 2026-05-20, because: Rig only.}
"""


@pytest.mark.parametrize(("day", "status"), [("2026-05-20", 3), ("2026-05-21", 1)])
def test_the_command_judges_on_a_day(day: str, status: int, tmp_path: Path) -> None:
    """Two tenths of clearance are far too few, but a must is broken only once the concession has ended."""
    record, out = tmp_path / "engine.yaml", tmp_path / "report.txt"
    record.write_text(ENGINE)
    assert main(["check", str(record), "--on", day, "--output", str(out)]) == status
    text = " ".join(out.read_text().split())
    assert f"Judged on {day}" in text
    assert ("(counts)" if status == 3 else "(does not count: ended on 2026-05-20)") in text


def test_a_permission_of_nobody_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        judged(LOOSE.replace("bench lead", '" "').replace("Test rig only.", '"  "'))
    assert [problem.message for problem in caught.value.problems] == ["must not be empty"] * 2
