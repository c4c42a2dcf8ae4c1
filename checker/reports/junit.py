"""The report as JUnit-style XML, for programs that gate on it: one test case for each finding.

The first case is the answer itself, so that the file passes only where the exit status is 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from checker.documents.printable import printable
from checker.findings.finding import Finding, listed
from checker.judging.judge import Verdict
from checker.reports.overview import answer
from checker.reports.report import BROKEN, HELD, Report

_TOLD = {BROKEN: "failure", HELD: None}


def write_junit(report: Report) -> str:
    """A suite for the answer and one for each system."""
    suites = Element("testsuites", name=_clean(report.record.assembly))
    _suite(suites, "Answer", [_answer_case(report)])
    properties = Element("properties")
    for ground in (*report.grounds, *report.not_asked):
        SubElement(properties, "property", name="ground", value=_clean(ground))
    for rule, why in report.left_out:
        SubElement(properties, "property", name="left out", value=_clean(f"{rule.rule.title}, {why}"))
    for flag in report.suspect_sheets:
        SubElement(properties, "property", name="suspect part sheet", value=_clean(str(flag)))
    if report.at_face_value:
        SubElement(properties, "property", name="within at face value", value=str(len(report.at_face_value)))
    suites[0].insert(0, properties)
    for system, findings in report.by_system():
        _suite(suites, system, [_case(finding) for finding in findings])
    for kind in ("tests", "failures", "errors", "skipped"):
        suites.set(kind, str(sum(int(suite.get(kind, "0")) for suite in suites)))
    indent(suites)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{tostring(suites, encoding="unicode")}\n'


def _suite(suites: Element, name: str, cases: Sequence[Element]) -> None:
    suite = SubElement(suites, "testsuite", name=_clean(name), tests=str(len(cases)), time="0")
    for kind, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        suite.set(kind, str(sum(case.find(tag) is not None for case in cases)))
    suite.extend(cases)


def _answer_case(report: Report) -> Element:
    case = Element("testcase", classname=report.application, name="every required check holds", time="0")
    element_name = _TOLD.get(report.status, "error")
    if element_name:
        _tell(case, element_name, "answer", answer(report))
    return case


def _case(finding: Finding) -> Element:
    where = f", {finding.where}" if finding.where else ""
    case = Element("testcase", classname=finding.name, name=_clean(f"{finding.title}{where}"), time="0")
    outcome = _outcome(finding)
    if outcome:
        _tell(case, outcome, str(finding.verdict), str(finding), "\n".join(_details(finding)))
    elif finding.verdict is not Verdict.WITHIN or finding.at_face_value:
        SubElement(case, "system-out").text = _clean("\n".join((str(finding), *_details(finding))))
    return case


def _outcome(finding: Finding) -> str | None:
    """What a gate should make of a finding; nothing where it may pass."""
    if finding.breaks_must:
        return "failure"
    if finding.must_open:
        return "error"
    is_known = finding.verdict in (Verdict.WITHIN, Verdict.SEEN, Verdict.ADVISORY, Verdict.OUTSIDE)
    return None if is_known else "skipped"


def _details(finding: Finding) -> Iterator[str]:
    yield from (f"{band} {words}" for band in ("must", "should") if (words := finding.asked(band)))
    if finding.missing:
        yield f"still to measure: {'; '.join(listed(finding.missing))}"
    yield from filter(None, (finding.missed_by, finding.remedy, finding.concession, *finding.remarks))
    yield finding.source


def _tell(case: Element, tag: str, kind: str, message: str, details: str = "") -> None:
    element = SubElement(case, tag, message=_clean(message))
    if tag != "skipped":
        element.set("type", kind)
    element.text = _clean(details) or None


def _clean(text: str) -> str:
    """XML cannot carry control signs, whichever way they are written."""
    return printable(text, keep="\n")
