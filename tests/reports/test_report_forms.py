"""Every form of a report says what was judged, and what it is given says nothing but itself.

Each form is read back by a program that has nothing to do with the one that wrote it: the standard library's readers
of CSV, JSON, XML and HTML, jsonschema, and a CommonMark reader. A hostile name is in every text of the pack and the
record; it must change the texts of a form and nothing else.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from functools import partial
from importlib.metadata import version
from pathlib import Path

import pytest
from defusedxml.ElementTree import fromstring
from jsonschema import Draft202012Validator
from places import ROOT
from report_tools import FULL, HOSTILE, SOUND, Structure, hostile, mill_report, plainly
from shipped_reports import report_on

from checker import Report, UsageError, Verdict
from checker.html.hand_over_page import write_hand_over
from checker.html.report_page import write_html
from checker.html.uses_page import write_uses_html
from checker.judging.judge import Verdict as Code
from checker.reports.csv_table import write_csv
from checker.reports.json_report import write_json
from checker.reports.junit import write_junit
from checker.reports.markdown import write_markdown
from checker.reports.report_keys import PARTS
from checker.reports.text import write_text
from checker.uses import Use

SCHEMA = json.loads((ROOT / "schema" / "report.schema.json").read_text())


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Report:
    return mill_report(tmp_path_factory.mktemp("plain"))


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory) -> Report:
    return mill_report(tmp_path_factory.mktemp("hostile"), say=hostile)


def test_every_verdict_is_in_the_report_that_is_tested(report: Report) -> None:
    assert all(report.counts[verdict] for verdict in Code)
    assert any(finding.concession for finding in report.findings)


# --- comma-separated values ----------------------------------------------------------------------------------------


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_a_line_of_values_stands_for_each_finding(report: Report) -> None:
    rows = rows_of(write_csv(report))
    assert [(row["rule"], row["where"], row["verdict"]) for row in rows] == [
        (finding.name, finding.where, str(finding.verdict)) for finding in report.findings
    ]
    third = next(row for row in rows if (row["rule"], row["where"]) == ("stone-gap", "stone 3"))
    # As written in the record and the pack.
    assert [float(third[key]) for key in ("value", "must at least", "should at most", "must at most")] == [
        pytest.approx(number) for number in (0.60, 0.10, 0.40, 0.55)
    ]
    assert (third["unit"], third["side"], third["should at least"]) == ("mm", "high", "")
    assert float(third["expanded uncertainty"]) == pytest.approx(0.03)


def test_lines_end_and_cells_are_quoted_as_rfc_4180_says(report: Report) -> None:
    text = write_csv(report)
    assert text.count("\r\n") == len(report.findings) + 1
    assert "\n" not in text.replace("\r\n", "")
    assert all(line.startswith('"') and line.endswith('"') for line in text.split("\r\n")[:-1])


def test_no_cell_is_taken_for_a_formula(attacked: Report) -> None:
    rows = rows_of(write_csv(attacked))
    numbers = {"value", "must at least", "should at least", "should at most", "must at most", "expanded uncertainty"}
    for row in rows:
        for key, cell in row.items():
            if key not in numbers and cell:
                assert not cell.lstrip().startswith(("=", "+", "-", "@", "|", "%", "\t")), (key, cell)
            elif cell:
                float(cell)
    assert any(HOSTILE in row["title"] for row in rows)


def test_a_negative_number_stays_a_number(tmp_path: Path) -> None:
    rows = rows_of(write_csv(mill_report(tmp_path, FULL.replace("1: 0.30 mm", "1: -0.20 mm"))))
    first = next(row for row in rows if (row["rule"], row["where"]) == ("stone-gap", "stone 1"))
    assert float(first["value"]) == pytest.approx(-0.2)


# --- JSON ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["report", "attacked"])
def test_json_keeps_to_its_schema_and_says_nothing_that_is_not_in_it(
    which: str, request: pytest.FixtureRequest
) -> None:
    data = json.loads(write_json(request.getfixturevalue(which), PARTS))
    assert list(Draft202012Validator(SCHEMA).iter_errors(data)) == []
    assert set(data) == set(SCHEMA["properties"])
    for finding in data["findings"]:
        assert set(finding) == set(SCHEMA["$defs"]["finding"]["properties"])
        bands = (finding["limits"] or {}).values()
        limits = [limit for band in bands for limit in (band["low"], band["high"]) if limit]
        assert all(set(limit) == set(SCHEMA["$defs"]["limit"]["properties"]) for limit in limits)
    assert {finding["verdict"] for finding in data["findings"]} == {str(verdict) for verdict in Code}


def test_json_tells_what_is_asked_for_and_every_verdict(report: Report) -> None:
    brief = json.loads(write_json(report))
    assert {finding["verdict"] for finding in brief["findings"]} == {"outside", "undecided", "advisory"}
    assert "\n" not in write_json(report).rstrip() and brief["readings"] == []
    for one in report.judged:
        words = brief["verdicts"][one.rule.name]
        told = words * len(one.codes[0]) if len(words) == 1 else words
        assert told == [str(Verdict(code)) for code in one.codes[0]]
    some = json.loads(write_json(report, ["within", "readings"]))
    assert sum(finding["verdict"] == "within" for finding in some["findings"]) == report.counts[Verdict.WITHIN]
    assert len(some["readings"]) == len(report.readings)
    with pytest.raises(UsageError, match=r"no part 'witin' of a report \(did you mean 'within'\?\)"):
        write_json(report, "witin")


def test_json_names_rules_statements_and_bases_once_each(report: Report) -> None:
    data = json.loads(write_json(report, PARTS))
    bases, statements = data["bases"], data["statements"]
    assert len(set(bases)) == len(bases)
    assert len({json.dumps(statement) for statement in statements}) == len(statements)
    finding = next(f for f in report.findings if f.name == "stone-gap" and f.station == 2)
    told = next(f for f in data["findings"] if (f["rule"], f["station"]) == ("stone-gap", 3))
    high = next(edge for edge in finding.edges if (edge.band, edge.side) == ("must", "high"))
    statement = statements[told["limits"]["must"]["high"]["stated"]]
    assert (statement["file"], statement["line"]) == (high.limit.origin.place.file, high.limit.origin.place.line)
    assert bases[statement["basis"]] == str(high.limit.basis or finding.rule.rule.basis)
    assert told["limits"]["should"]["low"] is None  # the side that the band lacks
    rule = data["rules"]["stone-gap"]
    assert (rule["title"], rule["values"][2]) == (finding.title, finding.value)


def test_json_says_what_made_it_and_how_to_come_back_from_si(report: Report) -> None:
    data = json.loads(write_json(report))
    assert data["program"] == {"name": "assembly-checker", "version": version("assembly-checker")}
    assert [milestone["name"] for milestone in data["milestones"]] == list(report.milestones)
    heat = next(f for f in data["findings"] if f["rule"] == "spindle-heat")
    unit = data["units"][heat["unit"]]
    assert heat["shown"] == "75 degC"
    # The kelvin and the degree Celsius, SI brochure, 2.3.1
    assert (heat["value"] - unit["offset"]) / unit["factor"] == pytest.approx(75)
    demands = [f for f in json.loads(write_json(report, PARTS))["findings"] if f["limits"] is None]
    assert demands and all(finding["margin"] is None for finding in demands)


def test_json_numbers_are_si(report: Report) -> None:
    findings = json.loads(write_json(report))["findings"]
    third = next(f for f in findings if (f["rule"], f["station"]) == ("stone-gap", 3))
    assert third["value"] == pytest.approx(0.60e-3)
    assert third["margin"] == pytest.approx(-0.05e-3)
    heat = next(f for f in findings if (f["rule"], f["station"]) == ("spindle-heat", 2))
    assert heat["value"] == pytest.approx(75 + 273.15)  # the kelvin and the degree Celsius, SI brochure, 2.3.1


# --- JUnit-style XML -----------------------------------------------------------------------------------------------


def outcomes(text: str) -> list[tuple[str, ...]]:
    return [tuple(child.tag for child in case) for case in fromstring(text).iter("testcase")]


def test_there_is_a_test_case_for_each_finding_and_one_for_the_answer(report: Report) -> None:
    root = fromstring(write_junit(report))
    cases = list(root.iter("testcase"))
    assert len(cases) == len(report.findings) + 1
    for group in (root, *root):
        for attribute, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
            assert int(group.get(attribute, "-1")) == sum(case.find(tag) is not None for case in group.iter("testcase"))
        assert int(group.get("tests", "-1")) == len(list(group.iter("testcase")))
    failed = {case.get("name") for case in cases if case.find("failure") is not None}
    assert failed == {"every required check holds", "Gap of the stones, stone 3", "Heat of the spindle, spindle 2"}


@pytest.mark.parametrize(
    ("readings", "status"), [(FULL, 1), (SOUND, 0), (SOUND.replace("  gate_opens: 20 deg\n", ""), 3)]
)
def test_a_gate_passes_only_where_the_exit_status_is_0(tmp_path: Path, readings: str, status: int) -> None:
    report = mill_report(tmp_path, readings)
    assert report.status == status
    is_red = any({"failure", "error"} & set(outcome) for outcome in outcomes(write_junit(report)))
    assert is_red == (status != 0)


def test_what_is_not_known_never_counts_as_passed(report: Report) -> None:
    told = dict(zip([None, *report.findings], outcomes(write_junit(report)), strict=True))
    for finding, outcome in told.items():
        if finding is not None and finding.verdict in (Verdict.NOT_MEASURED, Verdict.UNDECIDED, Verdict.NOT_COVERED):
            assert outcome in (("error",), ("skipped",))


def test_a_hostile_name_does_not_change_the_elements_of_the_xml(report: Report, attacked: Report) -> None:
    assert outcomes(write_junit(attacked)) == outcomes(write_junit(report))
    names = [case.get("name") or "" for case in fromstring(write_junit(attacked)).iter("testcase")]
    assert sum(HOSTILE in name for name in names) == len(attacked.findings)


# --- Markdown ------------------------------------------------------------------------------------------------------


def kinds_of(text: str) -> list[str]:
    reader = pytest.importorskip("markdown_it", reason="markdown-it-py is not installed")
    tokens = reader.MarkdownIt("commonmark").enable("table").parse(text)
    return [kind.type for token in tokens for kind in (token, *(token.children or ()))]


def test_markdown_says_the_answer_the_work_and_every_judged_value(report: Report) -> None:
    text = write_markdown(report)
    assert re.search(r"\*\*STOP: 2 out of limits", text)
    assert "- [ ] **Fix** Gap of the stones, stone 3 (0.60 mm): Close it." in text
    assert "| Gap of the stones | stone 6 | 0.70 mm | 0.10 to 0.55 mm | at most 0.40 mm | accepted |" in text
    assert "table_open" in kinds_of(text)


def test_no_row_of_a_markdown_table_has_nothing_but_a_verdict() -> None:
    text = write_markdown(report_on("demo"))
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in text.splitlines() if line.startswith("| ")]
    assert len(rows) > 100
    assert [title for title, *shown, _ in rows if not any(shown)] == []
    assert "\nWithin: Lift at which the card gives its events.\n" in text


def test_a_hostile_name_does_not_change_what_markdown_means(report: Report, attacked: Report) -> None:
    plain, struck = kinds_of(write_markdown(report)), kinds_of(write_markdown(attacked))
    assert [kind for kind in struck if kind != "text"] == [kind for kind in plain if kind != "text"]
    assert not {"html_inline", "html_block", "link_open", "image", "code_inline"} & set(struck)


# --- HTML ----------------------------------------------------------------------------------------------------------


def test_a_hostile_name_is_inert_in_the_page(report: Report, attacked: Report) -> None:
    plain, struck = Structure(write_html(report)), Structure(write_html(attacked))
    assert struck.elements == plain.elements
    assert any(HOSTILE in text for text in struck.texts)
    for name, value in struck.attributes:
        assert not name.startswith("on")
        assert name not in ("src", "style", "srcdoc", "action", "formaction")
        assert name != "href" or value.startswith("#")


def test_the_page_may_fetch_and_run_nothing(report: Report) -> None:
    page = Structure(write_html(report))
    fetching = {"script", "img", "iframe", "object", "embed", "link", "base", "form"}
    assert not fetching & {tag for tag, *_ in page.elements}
    (policy,) = (value for name, value in page.attributes if name == "content" and "default-src" in value)
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in policy


def test_the_page_shows_every_judged_value_and_its_limits(report: Report) -> None:
    page = write_html(report)
    for finding in report.findings:
        if finding.shown_value and finding.verdict in (Verdict.OUTSIDE, Verdict.ADVISORY, Verdict.UNDECIDED):
            assert finding.shown_value in page
            assert finding.band("must") in page
            assert finding.remedy in page
            assert finding.concession in page


def test_links_of_the_page_lead_somewhere(report: Report) -> None:
    page = Structure(write_html(report))
    ids = [value for name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert {value.removeprefix("#") for name, value in page.attributes if name == "href"} <= set(ids)


@pytest.mark.parametrize("form", ["text", "html", "markdown", "hand-over"])
def test_every_form_tells_in_one_order(form: str, tmp_path: Path) -> None:
    """What is broken, every judged rule, what would judge more (of what the hand-over has), what is open, the rest."""
    report = mill_report(tmp_path, FULL.replace("  gate_opens: 20 deg\n", ""))
    write = {"text": partial(write_text, whole=True), "markdown": write_markdown}.get(form)
    text = write(report) if write else " ".join(Structure(_PAGES[form](report)).texts)
    start = text.index("out of limits" if form != "hand-over" else "Not ready to hand over")
    judged = text.index("Mark away from the front", start)
    open_before = text.index(
        {"html": "Before each milestone", "hand-over": "Still open"}.get(form, "mill-closed"), judged
    )
    rest = text.lower().index("not asked", open_before)
    assert start < judged < open_before < rest
    assert "200.0 deg" in text or "160.0 deg" in text  # the value of a rule that holds


_PAGES = {"html": write_html, "hand-over": write_hand_over}


def test_no_milestone_is_free_behind_one_that_waits(report: Report, tmp_path: Path) -> None:
    assert "no: fix first" in write_html(report)
    blocked = write_html(mill_report(tmp_path, SOUND.replace("{all: 0.30 mm}", "{all: 0.70 mm}")))
    assert "waits for those above" in blocked
    assert "clear to proceed" not in blocked


# --- uses side by side ----------------------------------------------------------------------------------------------


def uses_page(folder: Path, say: Callable[[str], str] = plainly) -> Structure:
    uses = [Use(name, say(name), mill_report(folder / name, say=say, use=name)) for name in ("grind", "sift")]
    return Structure(write_uses_html(say("Test mill"), uses))


def test_uses_stand_side_by_side_with_what_they_differ_in(tmp_path: Path) -> None:
    text = " ".join(" ".join(uses_page(tmp_path).texts).split())
    assert "does not suit 3 outside, 1 undecided, 6 not measured, 2 advisory, 6 not covered, 1 seen, 6 within" in text
    assert "sift not known 2 not measured, 12 not covered, 1 seen, 10 within" in text
    assert "Gap of the stones outside : grind not measured : sift" in text  # sifting leaves room; stone 5 is missing
    assert "Heat of the spindle , spindle 2: 75 degC; required at most 60 degC" in text


def test_a_hostile_name_is_inert_beside_other_uses(tmp_path: Path) -> None:
    assert uses_page(tmp_path / "struck", hostile).elements == uses_page(tmp_path / "plain").elements
