"""The demo does the main job: every planted fault is found where it is, with a number, and nothing else is said.

Numbers are worked out by hand from the record and the pack's published limits; each is beside its test.
"""

from __future__ import annotations

import json
import re
from decimal import Decimal
from fractions import Fraction
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
from places import ROOT

from checker import Record, Report, Rulebook, Verdict, load_rulebook, record_from_text
from checker.cli import main
from checker.documents.document import Document, parse_json
from checker.findings.finding import Finding
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.judge import judge
from checker.judging.measures import measure
from checker.records.demo import demo_record
from checker.records.record import record_in

GOLDEN = ROOT / "tests" / "golden" / "demo.txt"
SILENT = (Verdict.WITHIN, Verdict.NOT_APPLICABLE)


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return load_rulebook("four-stroke")


@pytest.fixture(scope="module")
def record() -> Record:
    return demo_record()


@pytest.fixture(scope="module")
def report(rulebook: Rulebook, record: Record) -> Report:
    return rulebook.check(record)


def one(report: Report, rule: str, verdict: Verdict) -> Finding:
    """The only finding of a rule with a verdict."""
    (found,) = (finding for finding in report.findings if finding.name == rule and finding.verdict is verdict)
    return found


# --- The planted faults -----------------------------------------------------------------------------------------------


def test_what_is_wrong_is_found_and_nothing_else(report: Report) -> None:
    assert {(finding.name, finding.where, finding.verdict) for finding in report.findings} >= {
        ("top-ring-gap", "cylinder 6", Verdict.OUTSIDE),
        ("rod-oil-clearance", "connecting rod 5", Verdict.OUTSIDE),
        ("intake-valve-margin", "intake valve 7", Verdict.NOT_MEASURED),
        ("exhaust-valve-margin", "exhaust valve 4", Verdict.NOT_MEASURED),
    }
    # The fifth: the wide rod bearing may lie beyond the end of the table of oil grades.
    assert sum(finding.verdict not in SILENT for finding in report.findings) == 5
    assert [finding.name for finding in report.undecided] == ["oil-grade"]


def test_a_tight_ring_is_told_how_much_to_file(report: Report) -> None:
    """Trade ring gap chart 2019: 0.0045 in per inch; 3.9901 x 0.0045 = 0.01796, so 0.00296 of 0.0150 is lacking."""
    finding = one(report, "top-ring-gap", Verdict.OUTSIDE)
    assert finding.side == "low"
    first = "Measure again first, for a reading it rests on is in doubt; then: "
    assert finding.remedy.startswith(f"{first}File the top ring 0.0030 in, to 0.0180 in:")


def test_a_loose_rod_is_told_how_much_to_close(report: Report) -> None:
    """2.0038 - 2.0000 = 0.0038; one thou an inch and half a thou on top is 0.0025 in: 0.0013 too much."""
    finding = one(report, "rod-oil-clearance", Verdict.OUTSIDE)
    assert (finding.side, finding.shown_value) == ("high", "0.0038 in")
    assert finding.remedy.startswith("Close it by 0.0013 in:")


def test_a_missing_reading_is_named(report: Report) -> None:
    finding = one(report, "intake-valve-margin", Verdict.NOT_MEASURED)
    assert [str(gap) for gap in finding.missing] == ["intake valve margin, intake valve 7"]
    assert finding.must_open


def test_a_slipped_point_is_refused_with_what_it_may_have_been(report: Report) -> None:
    (flag,) = (flag for flag in report.flags if flag.is_refused)
    assert (flag.characteristic, flag.where, flag.written) == ("exhaust_valve_margin", "exhaust valve 4", "0.62")
    assert "ten times off, 0.0620 in?" in flag.message
    assert one(report, "exhaust-valve-margin", Verdict.NOT_MEASURED).must_open


def test_only_what_is_wrong_looks_suspicious(report: Report) -> None:
    suspicious = {(flag.characteristic, flag.where) for flag in report.flags if not flag.is_refused}
    assert suspicious == {
        ("rod_bearing_bore", "connecting rod 5"),
        ("rod_bearing_bore_left", "connecting rod 5"),
        ("rod_bearing_bore_right", "connecting rod 5"),
        ("top_ring_gap", "cylinder 6"),
    }


def test_what_is_right_for_the_street_is_not_for_nitrous(report: Report, record: Record) -> None:
    """Ring gap charts: 0.0040 in per inch is the least for the street, 0.0060 with a race shot; this is 0.0050."""
    text = files("checker_rules").joinpath("demo_record.yaml").read_text()
    with_shot = record_from_text(text.replace("\nfacts:\n", "\nfacts:\n  nitrous_power: 300 hp\n"))
    nitrous = load_rulebook("four-stroke", "nitrous").check(with_shot)
    tight = [finding.station for finding in nitrous.outside if finding.name == "top-ring-gap"]
    assert tight == list(range(8))
    assert [finding.station for finding in report.outside if finding.name == "top-ring-gap"] == [5]
    only_with_nitrous = {finding.name for finding in nitrous.outside} - {finding.name for finding in report.outside}
    assert only_with_nitrous == {"piston-to-wall-clearance"}
    first = next(finding for finding in nitrous.outside if finding.name == "top-ring-gap")
    assert first.remedy.startswith("File the top ring 0.0060 in, to 0.0260 in:")
    assert any(remark.startswith("four-stroke") and remark.endswith("within") for remark in first.remarks)


# --- The commands -----------------------------------------------------------------------------------------------------


def test_the_report_reads_as_it_did(capsys: pytest.CaptureFixture[str]) -> None:
    """To renew the golden file, read every line of: python -m checker demo | tee tests/golden/demo.txt"""
    assert main(["demo"]) == 0
    assert _lasting(capsys.readouterr().out) == _lasting(GOLDEN.read_text())


def _lasting(text: str) -> str:
    """The report without what changes with every day and edit of a pack: the date, digests and line numbers."""
    text = re.sub(r"udged on [0-9-]+", "udged on", text)
    return re.sub(r"\.yaml:\d+", ".yaml:0", re.sub(r"SHA-256 [0-9a-f]+", "SHA-256", text))


@pytest.mark.parametrize("command", ["check", "next"])
def test_the_status_says_that_a_must_is_broken(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, str(files("checker_rules").joinpath("demo_record.yaml"))]) == 1
    out = capsys.readouterr().out
    assert "cylinder 6" in out
    assert "intake valve 7" in out


# --- The same engine in millimetres -----------------------------------------------------------------------------------

METRIC = {"length": "mm", "torque": "N m", "force": "N", "pressure": "kPa"}
TO_METRIC = {
    # Exact by definition: international yard and pound 1959, standard gravity 9.80665 m/s2.
    "in": ("mm", Decimal("25.4")),
    "thou": ("um", Decimal("25.4")),
    "uin": ("um", Decimal("0.0254")),
    "lbf": ("N", Decimal("4.4482216152605")),
    "lb-ft": ("N m", Decimal("1.3558179483314004")),
    "psi": ("kPa", Decimal("6.894757293168361")),
    "ksi": ("MPa", Decimal("6.894757293168361")),
}
WRITTEN = re.compile(r"(-?[\d./]+)(?: ([A-Za-z-]+))?")


def test_inches_and_millimetres_get_the_same_verdicts(rulebook: Rulebook, record: Record, report: Report) -> None:
    data = dict(record.document.data)
    units = {name: data["units"].get(item.unit.kind) for name, item in rulebook.characteristics.items() if item.unit}
    for section in ("facts", "readings", "part_limits", "instruments"):
        data[section] = {
            name: _metric(given, units.get(name), record.document, (section, name))
            if section == "instruments" or name in units
            else given
            for name, given in data[section].items()
        }
    data["units"] = data["units"] | METRIC
    metric = rulebook.check(_record(data))
    before, after = _verdicts(report), _verdicts(metric)
    assert before.keys() == after.keys()
    assert {key: after[key] for key in before if after[key] is not before[key]} == {}
    assert one(metric, "rod-oil-clearance", Verdict.OUTSIDE).shown_value == "0.0965 mm"
    assert " mm:" in one(metric, "top-ring-gap", Verdict.OUTSIDE).remedy


def _metric(given: Any, unit: str | None, document: Document, path: tuple[str | int, ...]) -> Any:
    """The same with every number that is or may be in inches or pounds in metric units, exactly."""
    if isinstance(given, dict):
        return {
            key: value if key in ("with", "taken") else _metric(value, unit, document, (*path, key))
            for key, value in given.items()
        }
    if isinstance(given, list):
        return [_metric(value, unit, document, (*path, number)) for number, value in enumerate(given)]
    text = document.written(*path)
    match = WRITTEN.fullmatch(text)
    name = (match.group(2) or unit) if match else None
    if match is None or name not in TO_METRIC:
        return text
    metric, factor = TO_METRIC[name]
    return f"{float(Fraction(match.group(1)) * Fraction(factor)):.7f} {metric}"


def _record(data: dict[str, Any]) -> Record:
    return record_in(parse_json(json.dumps(data).encode(), "record.json"))


def _verdicts(report: Report) -> dict[tuple[str, int], Verdict]:
    return {(finding.name, finding.station): finding.verdict for finding in report.findings}


# --- Nothing unmeasured passes ----------------------------------------------------------------------------------------


def test_no_reading_can_be_left_out_for_the_better(rulebook: Rulebook, report: Report) -> None:
    """Each reading in turn left out: nothing turns within, and nothing broken is lost from sight.

    A rule that did not apply may come to apply, and hold: a ring gapped at an unknown depth is judged at the worst.
    """
    whole, chain = report.context.block, report.context.chain
    left_out = 0
    for name in whole.measured:
        block = _without_each(name, whole)
        left_out += block.measured[name].shape[0] - 1
        for judged in report.judged:
            if name in rulebook.inputs(judged.rule.name, chain).names:
                part = report.context.part_limit(judged.rule)
                codes = judge(judged.rule, measure(judged.rule, block, chain, part=part), Decision("simple")).codes
                before, after = codes[:1], codes[1:]
                better = (after == Verdict.WITHIN) & (before != Verdict.WITHIN) & (before != Verdict.NOT_APPLICABLE)
                lost = (before == Verdict.OUTSIDE) & (after < Verdict.NOT_MEASURED)
                assert not (better | lost).any(), f"{judged.rule.name} without {name}"
    assert left_out > 1500


def _without_each(name: str, whole: Block) -> Block:
    """The record as it is, and below it a row for each station at which one characteristic is left out."""
    values = whole.measured[name]
    stations = np.flatnonzero(np.isfinite(values[0]))
    lacking = np.zeros((len(stations) + 1, values.shape[1]), dtype=bool)
    lacking[np.arange(1, len(stations) + 1), stations] = True
    views = {
        column: np.where(lacking, np.nan, seen) if column.name == name else seen for column, seen in whole.views.items()
    }
    measured = dict(whole.measured) | {name: np.where(lacking, np.nan, values)}
    return Block(whole.characteristics, whole.layout, measured, views)


@pytest.mark.parametrize(
    "name", ["cylinder_bore", "rod_bearing_bore", "top_ring_gap_bore", "piston_alloy", "rod_material", "lifter_type"]
)
def test_what_is_left_out_altogether_is_asked_for(
    name: str, rulebook: Rulebook, record: Record, report: Report
) -> None:
    """The whole way, with doubt: a record that lacks one characteristic has no more within, and some open must."""
    data = dict(record.document.data)
    for section in ("facts", "readings"):
        data[section] = {other: given for other, given in data[section].items() if other != name}
    poorer = rulebook.check(_record(data))
    before = _verdicts(report)
    turned = [
        judged.rule.name
        for judged in poorer.judged
        for station in np.flatnonzero(judged.codes[0] == Verdict.WITHIN).tolist()
        if before[judged.rule.name, station] not in (Verdict.WITHIN, Verdict.NOT_APPLICABLE)
    ]
    assert turned == []
    assert poorer.status != 0


def test_an_empty_record_of_the_same_engine_passes_nothing(rulebook: Rulebook, record: Record) -> None:
    kept = {key: value for key, value in record.document.data.items() if key not in ("facts", "part_limits")}
    report = rulebook.check(_record(kept | {"readings": {}}))
    assert report.counts[Verdict.WITHIN] == report.counts[Verdict.ADVISORY] == report.counts[Verdict.OUTSIDE] == 0
    assert report.status == 3
