"""Wear between two dated builds, and what was done to one: station by station, with the doubt of the change."""

from __future__ import annotations

import json
from pathlib import Path

import judging
import pytest
from fits_tools import fits, record
from uncertainties import ufloat

from checker import Record, UsageError
from checker.builds import Builds, Difference, builds_data, compare_builds, write_builds
from checker.cli import main

HEAD = "units: {length: mm}\nstations: {seat: 2}\n"
GAUGES = "instruments:\n  gauge: {expanded_uncertainty: 0.004 mm}\n  micrometer: {expanded_uncertainty: 0.003 mm}\n"
BEFORE = "bore: {with: gauge, taken: 2025-05-01, values: [50.060, 50.061]}\n"
BEFORE += "shaft: {with: micrometer, taken: 2025-05-01, values: [50.000, 50.001]}"
AFTER = "bore: {with: gauge, taken: 2026-05-01, values: [50.072, 50.061]}\n"
AFTER += "shaft: {with: micrometer, taken: 2026-05-01, values: [49.996, 49.998]}"


def compared(before: str = BEFORE, after: str = AFTER, more: str = "", *names: str) -> Builds:
    records = record(before, HEAD + GAUGES), record(after, HEAD + GAUGES + more)
    return compare_builds(fits(), *records, names)


def at(builds: Builds, characteristic: str, station: int = 1) -> Difference:
    (found,) = (
        item for item in builds.differences if (item.characteristic, item.station) == (characteristic, station - 1)
    )
    return found


def test_wear_is_told_where_it_exceeds_its_doubt() -> None:
    """Both readings of a size are doubtful: 0.004 mm twice is 0.0057 mm of doubt about the change."""
    builds = compared()
    worn, same = at(builds, "bore", 1), at(builds, "bore", 2)
    assert worn.change == pytest.approx(12e-6)
    assert worn.doubt == pytest.approx(0.004e-3 * 2**0.5)
    assert (worn.is_told, same.is_told) == (True, False)
    assert not at(builds, "shaft", 1).is_told  # 0.004 of 0.0042 mm of doubt


def test_derived_values_are_compared_with_the_doubt_of_all_they_rest_on() -> None:
    found = at(compared(), "clearance", 1)
    before = ufloat(50.060, 0.002) - ufloat(50.000, 0.0015)
    after = ufloat(50.072, 0.002) - ufloat(49.996, 0.0015)
    assert found.change * 1000 == pytest.approx((after - before).nominal_value)
    assert found.doubt * 1000 == pytest.approx(2 * (after - before).std_dev, rel=1e-9)
    assert found.is_told


def test_what_was_renewed_in_between_is_no_wear() -> None:
    parts = "parts: {new bush: {fitted: 2026-04-30, bears_on: [bore], stations: [1]}}\n"
    builds = compared(more=parts)
    assert str(at(builds, "bore", 1).renewed) == "new bush fitted on 2026-04-30"
    assert at(builds, "clearance", 1).renewed is not None
    assert at(builds, "bore", 2).renewed is at(builds, "shaft", 1).renewed is None
    assert "new bush fitted on 2026-04-30, so this is no wear" in " ".join(write_builds(builds, False).split())


def test_a_stale_reading_is_not_compared() -> None:
    parts = "parts: {new bush: {fitted: 2026-06-01, bears_on: [bore], stations: [1]}}\n"
    builds = compared(more=parts)
    assert {(item.characteristic, item.station) for item in builds.differences} == {
        ("bore", 1),
        ("shaft", 0),
        ("shaft", 1),
        ("clearance", 1),
    }


def test_what_does_not_count_is_named_as_not_compared() -> None:
    told = " ".join(write_builds(compared(after="bore: [50.055, 500.6]"), False).split())
    assert "not compared, after: Bore: 500.6: outside what is possible" in told


def test_only_what_is_known_of_both_is_compared() -> None:
    builds = compared(before="bore: [50.060]", after="shaft: [50.000, 50.000]")
    assert builds.differences == ()
    assert "Nothing was measured in both builds." in write_builds(builds, False)


def test_what_one_of_them_alone_tells_does_not_read_as_unchanged() -> None:
    told = " ".join(write_builds(compared(before="bore: [50.060, 50.061]", after="bore: [50.060]"), False).split())
    assert told.endswith("no measurable change Bore not compared, nothing that counts after: Bore, seat 2")
    told = " ".join(write_builds(compared(before="bore: [50.060]", after="shaft: [50.000, 50.000]"), False).split())
    assert "not compared, nothing that counts before: Shaft (2)" in told
    assert "not compared" not in write_builds(compared(before="bore: [50.060]", after="bore: [50.060]"), False)


def test_intervals_are_doubt_too() -> None:
    builds = compared(before="end_float: {between: [0.10, 0.15]}", after="end_float: {between: [0.30, 0.35]}")
    found = at(builds, "end_float")
    assert found.change == pytest.approx(0.2e-3)
    assert found.doubt >= 0.025e-3 * 2**0.5 * (1 - 1e-12)
    assert found.is_told


def test_the_text_shows_what_changed_and_names_the_rest() -> None:
    text = " ".join(write_builds(compared(), in_full=False).split())
    assert "before: record.yaml, readings of 2025-05-01" in text
    assert "after: record.yaml, readings of 2026-05-01" in text
    assert "Bore seat 1 50.060 mm -> 50.072 mm: +0.012 mm, uncertainty 0.0057 mm" in text
    assert "no measurable change Bore, Shaft (2), Clearance" in text
    full = " ".join(write_builds(compared(BEFORE, AFTER, "", "bore"), in_full=True).split())
    assert "seat 2 50.061 mm -> 50.061 mm: no measurable change, uncertainty 0.0057 mm" in full
    assert "Shaft" not in full


def test_an_unknown_characteristic_is_refused() -> None:
    with pytest.raises(UsageError, match="did you mean 'bore'"):
        compared(BEFORE, AFTER, "", "boer")


# --- One record that holds what was measured before -------------------------------------------------------------------

TWICE = """record: 1
assembly: Test engine
application: street
rule_packs: {four-stroke: ">=1,<2"}
units: {length: in, volume: cc}
stations: {cylinder: 2}
parts: {head: {fitted: 2025-05-10, note: chambers opened, bears_on: [chamber_volume]}}
instruments: {burette: {expanded_uncertainty: 0.4 cc}}
earlier:
  chamber_volume: {with: burette, taken: 2025-05-01, values: [62.0, 62.4]}
readings:
  chamber_volume: {with: burette, taken: 2025-05-11, values: [64.1, 62.5]}
"""


def test_before_and_after_of_one_characteristic(tmp_path: Path) -> None:
    """Chamber work that was billed, and at the second cylinder not done."""
    path, out = tmp_path / "engine.yaml", tmp_path / "out.txt"
    path.write_text(TWICE)
    status = main(["compare-builds", str(path), "--characteristic", "chamber_volume", "--output", str(out)])
    assert status == 0
    text = " ".join(out.read_text().split())
    assert "cylinder 1 62.0 cc -> 64.1 cc: +2.1 cc, uncertainty 0.57 cc; head fitted on 2025-05-10" in text
    assert "cylinder 2 62.4 cc -> 62.5 cc: no measurable change, uncertainty 0.57 cc" in text


def test_earlier_readings_are_never_judged() -> None:
    earlier = "earlier:\n  bore: {taken: 2025-01-01, values: [1.0, 1.0]}\n"
    with_earlier = fits().check(record(BEFORE, HEAD + GAUGES + earlier))
    assert [reading.written for reading in with_earlier.readings if reading.characteristic == "bore"] == [
        "50.060",
        "50.061",
    ]


def test_two_records_on_the_command_line_as_data(tmp_path: Path) -> None:
    before, after, out = tmp_path / "a.yaml", tmp_path / "b.yaml", tmp_path / "out.json"
    before.write_text(TWICE.replace("64.1, 62.5", "64.1, 62.6"))
    after.write_text(TWICE.replace("2025-05-11", "2026-05-11").replace("64.1, 62.5", "64.1, 61.0"))
    assert main(["compare-builds", str(before), str(after), "--format", "json", "--output", str(out)]) == 0
    rows = json.loads(out.read_text())
    assert [(row["characteristic"], row["station"], row["told"]) for row in rows] == [
        ("chamber_volume", 1, False),
        ("chamber_volume", 2, True),
    ]
    assert rows[1]["change"] == pytest.approx(-1.6e-6)


def test_a_record_without_earlier_readings_needs_a_second(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "engine.yaml"
    path.write_text(TWICE.split("earlier:")[0] + "readings:" + TWICE.split("readings:")[1])
    assert main(["compare-builds", str(path)]) == 2
    assert "holds no earlier readings" in capsys.readouterr().err


def test_data_say_what_the_text_says() -> None:
    builds = compared()
    rows = builds_data(builds)
    assert len(rows) == len(builds.differences)
    assert {row["characteristic"] for row in rows} == {"bore", "shaft", "clearance"}
    assert isinstance(builds.before.record, Record)


def test_two_assemblies_or_builds_the_wrong_way_round_are_looked_at_again() -> None:
    assert "check this" not in write_builds(compared(), False)
    assert "the build given as the earlier one was measured later" in write_builds(compared(AFTER, BEFORE), False)
    other = record(AFTER, HEAD + GAUGES)._replace(assembly="Another rig")
    found = write_builds(compare_builds(fits(), record(BEFORE, HEAD + GAUGES), other), False)
    assert "check this: the earlier build is called 'Test rig'" in found
    stamped = [record(text, HEAD + GAUGES)._replace(serial_number=f"R-{n}") for n, text in enumerate((BEFORE, AFTER))]
    assert "check this: stamped 'R-0' before, and 'R-1' after" in write_builds(compare_builds(fits(), *stamped), False)


def test_a_size_that_rules_take_over_is_told_once() -> None:
    """The main journal's size is its diameter where that was measured."""
    readings = [judging.record("street", {"main_journal_diameter": {1: size}}) for size in ("2.4490 in", "2.4485 in")]
    book = judging.rulebook("four-stroke")
    told = write_builds(compare_builds(book, *readings), False)
    assert ("Main journal diameter" in told, "Main journal size" in told) == (True, False)
    assert "Main journal size" in write_builds(compare_builds(book, *readings, ["main_journal_size"]), True)
