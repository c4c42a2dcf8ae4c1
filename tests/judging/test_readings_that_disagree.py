"""What can be typed and computed must agree; what is within at face value says so; gross slips among few stations."""

from __future__ import annotations

from pathlib import Path

import pytest
from pack_tools import write_pack

from checker import Report, Rulebook, Verdict, load_rulebook, write_text
from checker.documents.document import parse_yaml
from checker.html.report_page import write_html
from checker.records.record import record_in
from checker.reports.csv_table import write_csv
from checker.reports.json_report import report_data
from checker.reports.junit import write_junit
from checker.reports.markdown import write_markdown
from checker.reports.overview import answer

PACK = """pack: bushes
version: 1.0.0
rule_language: 1
title: Bushes
applications: {plain: {title: Plain duty}}
milestones: [assembled]
stations: {seat: {title: Seat}}
means:
  bore gauge: {usual_uncertainty: [0.2 thou, 1 deg]}
  outside micrometer: {usual_uncertainty: 0.1 thou}
characteristics:
  bore: {title: Bore, per: seat, unit: in, plausible: [1 in, 9 in], with: bore gauge}
  shaft: {title: Shaft, per: seat, unit: in, plausible: [1 in, 9 in], with: outside micrometer}
  clearance:
    {title: Clearance, per: seat, unit: in, plausible: [-0.002 in, 0.015 in],
     agrees_within: 0.5 thou, derived: bore - shaft}
rules:
  clearance:
    title: Clearance
    before: assembled
    judges: clearance
    limits: {any: {must: {at_least: 0.0010 in, at_most: 0.0040 in}}}
    basis: shop policy
    remedy: {low: Open it., high: Close it.}
"""
GAUGED = "instruments: {gauge: {expanded_uncertainty: 0.05 thou}}\n"


@pytest.fixture
def bushes(tmp_path: Path) -> Rulebook:
    return load_rulebook(write_pack(tmp_path / "bushes", pack=PACK))


def judged(rulebook: Rulebook, readings: str, seats: int = 1, more: str = "") -> Report:
    head = f"record: 1\nassembly: Rig\napplication: plain\nrule_packs: {{bushes: '>=1'}}\nunits: {{length: in}}\n{more}"
    text = f"{head}stations: {{seat: {seats}}}\nreadings: {{{readings}}}\n"
    return rulebook.check(record_in(parse_yaml(text.encode(), "record.yaml")))


def verdicts(report: Report) -> list[Verdict]:
    return [found.verdict for found in sorted(report.findings, key=lambda found: found.station)]


def test_a_halved_clearance_beside_both_sizes_does_not_win(bushes: Rulebook) -> None:
    report = judged(bushes, "bore: [2.0030, 2.0030], shaft: [2.0000, 2.0000], clearance: {1: 0.0015, 2: 0.0031}", 2)
    assert verdicts(report) == [Verdict.NOT_MEASURED, Verdict.WITHIN]
    assert report.must_open
    (flag,) = (flag for flag in report.flags if flag.is_refused)
    assert (flag.where, flag.written) == ("seat 1", "0.0015")
    assert "computed it is 0.0030 in, 0.0015 in away, where 0.0005 in would be explained" in flag.message


def test_what_is_computed_does_not_stand_in_where_a_rule_asks_for_it_by_name(tmp_path: Path) -> None:
    pack = PACK.replace("judges: clearance", "judges: computed(clearance)")
    rulebook = load_rulebook(write_pack(tmp_path / "bushes", pack=pack))
    sizes = "bore: [2.0030, 2.0030], shaft: [2.0000, 2.0000]"
    assert verdicts(judged(rulebook, sizes, 2)) == [Verdict.WITHIN, Verdict.WITHIN]
    beside = judged(rulebook, f"{sizes}, clearance: {{1: 0.0015, 2: 0.0031}}", 2)
    assert verdicts(beside) == [Verdict.NOT_MEASURED, Verdict.WITHIN]


@pytest.mark.parametrize(
    ("clearance", "bore", "expected", "missed_by"),
    [
        ("0.0045", "2.0060", Verdict.OUTSIDE, "0.0005 in over"),  # 0.0045 measured, 0.0060 computed, at most 0.0040
        ("0.0060", "2.0045", Verdict.OUTSIDE, "0.0005 in over"),
        ("0.0004", "2.0060", Verdict.NOT_MEASURED, ""),  # too little, and too much
        ("0.0045", "2.0030", Verdict.NOT_MEASURED, ""),
        ("0.0030", "2.0060", Verdict.NOT_MEASURED, ""),
        ("0.0020", "2.0035", Verdict.NOT_MEASURED, ""),  # both would hold: which is wrong cannot be told
    ],
)
def test_what_breaks_the_must_both_ways_is_outside(
    bushes: Rulebook, clearance: str, bore: str, expected: Verdict, missed_by: str
) -> None:
    report = judged(bushes, f"bore: {bore}, shaft: 2.0000, clearance: {clearance}")
    (found,) = report.findings
    assert (found.verdict, found.missed_by) == (expected, missed_by)
    assert report.status == (1 if expected is Verdict.OUTSIDE else 3)
    assert ("outside both as measured and as computed" in " ".join(found.remarks)) is (expected is Verdict.OUTSIDE)
    assert [flag.is_refused for flag in report.flags][:1] == [True]


def test_the_uncertainty_of_both_allows_more_where_it_is_larger(bushes: Rulebook) -> None:
    rough = "instruments: {plastic: {expanded_uncertainty: 1 thou}}\n"
    readings = "bore: 2.0030, shaft: 2.0000, clearance: {with: plastic, value: 0.0021}"
    assert not judged(bushes, readings, more=rough).flags
    assert judged(bushes, "bore: 2.0030, shaft: 2.0000, clearance: 0.0021").flags


def test_what_is_measured_since_new_bushes_were_fitted_is_not_disputed_by_the_old_sizes(bushes: Rulebook) -> None:
    sizes = "bore: {taken: 2026-05-01, value: 2.0060}, shaft: {taken: 2026-05-01, value: 2.0000}"
    anew = f"{sizes}, clearance: {{taken: 2026-05-11, value: 0.0020}}"
    assert verdicts(judged(bushes, anew)) == [Verdict.NOT_MEASURED]
    fitted = "parts: {bushes: {fitted: 2026-05-10, bears_on: [clearance]}}\n"
    report = judged(bushes, anew, more=fitted)
    assert verdicts(report) == [Verdict.WITHIN]
    assert not report.flags


def test_either_way_alone_is_judged(bushes: Rulebook) -> None:
    assert verdicts(judged(bushes, "clearance: 0.0015")) == [Verdict.WITHIN]
    assert verdicts(judged(bushes, "bore: 2.0030, shaft: 2.0000")) == [Verdict.WITHIN]


@pytest.mark.parametrize(
    ("readings", "is_near"),
    [
        # sqrt(0.2^2 + 0.1^2) = 0.22 thou of usual uncertainty (JCGM 100:2008, 5.1.2) below a limit at 4 thou
        ("bore: 2.0037, shaft: 2.0000", False),
        ("bore: 2.0039, shaft: 2.0000", True),
        ("bore: 2.0012, shaft: 2.0000", True),
        ("bore: 2.0013, shaft: 2.0000", False),
        # Written down by itself it is known no better than the worst of both: 0.2 thou.
        ("clearance: 0.0037", False),
        ("clearance: 0.0039", True),
    ],
)
def test_within_at_face_value_is_told_and_changes_no_verdict(bushes: Rulebook, readings: str, is_near: bool) -> None:
    report = judged(bushes, readings)
    (found,) = report.findings
    assert (found.verdict, found.at_face_value) == (Verdict.WITHIN, is_near)
    assert ("1 within, 1 of them at face value" in answer(report)) is is_near
    assert report_data(report)["at_face_value"] == int(is_near)
    for write, words in (
        (write_csv, "at face value: nearer"),
        (write_junit, "at face value: nearer"),
        (write_html, "at face value: nearer"),
        (write_markdown, "1 of them at face value"),
        (write_text, "\n                within at face value\n"),
    ):
        assert (words in write(report)) is is_near


def test_named_instruments_leave_nothing_at_face_value(bushes: Rulebook) -> None:
    readings = "bore: {with: gauge, value: 2.0039}, shaft: {with: gauge, value: 2.0000}"
    (found,) = judged(bushes, readings, more=GAUGED).findings
    assert (found.verdict, found.at_face_value) == (Verdict.WITHIN, False)


@pytest.mark.parametrize(
    ("readings", "seats", "where", "likely"),
    [
        ("bore: [4.0300, 4.0305, 4.0301, 4.3000]", 4, ["seat 4"], "two digits swapped, 4.0300 in?"),
        ("bore: [4.0300, 4.0305, 4.3000]", 3, ["seat 3"], "two digits swapped, 4.0300 in?"),
        ("bore: [4.0300, 4.3000]", 2, ["seat 1", "seat 2"], "two digits swapped"),
        ("clearance: [0.0030, 0.0015, 0.0031, 0.0029]", 4, ["seat 2"], "one side written for both, 0.0030 in?"),
        ("clearance: [0.0030, 0.0061, 0.0031]", 3, ["seat 2"], "both sides written for one"),
        ("clearance: [0.025]", 1, ["seat"], "ten times off, 0.0025 in?"),
        ("clearance: [0.0008]", 1, ["seat"], "one side written for both, 0.0016 in?"),
        ("bore: [4.0300, 4.0305, 4.0301, 4.0309]", 4, [], ""),
        ("bore: [4.0300, 4.0310]", 2, [], ""),
        ("clearance: [0.0030, 0.0024, 0.0027, 0.0021]", 4, [], ""),
        ("clearance: [0.0025]", 1, [], ""),
    ],
)
def test_a_slip_among_few_stations(bushes: Rulebook, readings: str, seats: int, where: list[str], likely: str) -> None:
    report = judged(bushes, readings, seats)
    assert [flag.where for flag in report.flags] == where
    assert all(likely in flag.message for flag in report.flags)


@pytest.mark.parametrize(
    ("clearances", "told"),
    [
        # 0.0005 is nearer to the others; 0.0012 is what the must of 0.0010 to 0.0040 in allows.
        ("[0.0120, 0.0003, 0.0018, 0.0004, 0.0010]", {"seat 1": "ten times off, 0.0012 in?"}),
        # Of two, one is inside as written: no slip is told that would lead it out.
        ("[0.0025, 0.0052]", {"seat 1": "judged as written", "seat 2": "both sides written for one, 0.0026 in?"}),
        ("[0.0008, 0.0016]", {"seat 1": "one side written for both, 0.0016 in?", "seat 2": "judged as written"}),
        # Either may be, so both are told.
        ("[0.0015, 0.0030]", {"seat 1": "for both, 0.0030 in?", "seat 2": "for one, 0.0015 in?"}),
    ],
)
def test_of_several_slips_the_one_is_told_that_lands_inside_the_band(
    bushes: Rulebook, clearances: str, told: dict[str, str]
) -> None:
    report = judged(bushes, f"clearance: {clearances}", clearances.count(",") + 1)
    assert [flag.where for flag in report.flags] == list(told)
    assert all(flag.message.endswith(told[flag.where]) for flag in report.flags)


@pytest.mark.parametrize(
    ("stated", "main_1", "main_2", "refused"),
    [
        ("", Verdict.OUTSIDE, Verdict.NOT_MEASURED, ""),
        (", nominal_main_journal: 2.4489 in", Verdict.OUTSIDE, Verdict.OUTSIDE, ""),
        (", nominal_main_journal: 2.4189 in", Verdict.OUTSIDE, Verdict.OUTSIDE, ""),  # ground 30 thou under
        (", nominal_main_journal: 2.75 in", Verdict.OUTSIDE, Verdict.NOT_MEASURED, "nominal_main_journal"),
        (", main_journal_size: {1: 2.75 in}", Verdict.NOT_MEASURED, Verdict.NOT_MEASURED, "main_journal_size"),
    ],
)
def test_a_stated_journal_never_widens_the_limits_of_one_that_was_measured(
    stated: str, main_1: Verdict, main_2: Verdict, refused: str
) -> None:
    """4.4 thou on a street main of 2.448 in is over the most, a thou per inch and 1.8 thou; of 2.75 in it is not."""
    text = (
        "record: 1\nassembly: Block on the stand\napplication: street\nrule_packs: {four-stroke: '>=1,<2'}\n"
        "stations: {main: 2}\nfacts: {block_material: iron, main_bearing_kind: shells}\n"
        "readings: {main_journal_diameter: {1: 2.448 in}, "
        f"main_oil_clearance: [4.4 thou, 4.4 thou]{stated}}}\n"
    )
    report = load_rulebook("four-stroke").check(record_in(parse_yaml(text.encode(), "record.yaml")))
    found = {one.station: one.verdict for one in report.findings if one.name == "main-oil-clearance"}
    assert list(found.values()) == [main_1, main_2]
    assert "".join(flag.characteristic for flag in report.flags if flag.is_refused) == refused
