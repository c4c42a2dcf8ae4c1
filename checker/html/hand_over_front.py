"""The first page of the hand-over: whose assembly it is, the verdict, key figures, a drawing, signatures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from checker.findings.finding import Finding
from checker.findings.text import sentence
from checker.html.figures import first_directions
from checker.html.judged_table import key_table
from checker.html.marks import css, shape
from checker.html.markup import Content, Markup, element
from checker.html.words import STATUS, count
from checker.judging.judge import Verdict
from checker.reports.key_figures import key_figures
from checker.reports.overview import Overview
from checker.reports.report import BROKEN, HELD, NOT_JUDGED, Report

_SIGNATURES = ("Built by", "Checked by", "Received by")


def front(report: Report, contents: Overview, words: Mapping[str, str]) -> Markup:
    """Everything that a customer looks for first; where a must does not hold there is nothing to sign."""
    figures = key_figures(contents.judged)
    picture = first_directions(report)
    return element(
        "section",
        _identity(report),
        _answer(report, contents, words),
        [element("h2", "Key figures"), key_table(figures, words)] if figures else None,
        element(
            "div",
            picture,
            _signatures() if report.status == HELD else None,
            class_="below",
        ),
        class_="front",
    )


def _identity(report: Report) -> Markup:
    record = report.record
    rows = [
        ("Shop", record.shop),
        ("Serial number", record.serial_number),
        ("Built for", report.context.application_title),
        ("Judged on", report.on.isoformat()),
        ("Inspection", report.context.plan.title),
    ]
    return element(
        "dl",
        [element("div", element("dt", name), element("dd", value)) for name, value in rows],
        class_="identity",
    )


def _answer(report: Report, contents: Overview, words: Mapping[str, str]) -> Markup:
    """May it be handed over, how much was asked, and what is out of limits."""
    word = STATUS[report.status]
    broken = [
        element(
            "li",
            element("b", f"{finding.title}{f', {finding.where}' if finding.where else ''}"),
            f": {_missed(finding, words)}",
        )
        for _, findings in contents.broken
        for finding in findings
        if not finding.concession
    ]
    return element(
        "div",
        element("p", shape(word), element("span", _verdict(report)), class_=f"answer {css(word)}"),
        element("ul", broken, class_="broken") if broken else None,
        element("p", " ".join(_extent(report)), class_="terms"),
    )


def _verdict(report: Report) -> str:
    before = f" {report.context.milestones[report.before]}" if report.before else ""
    asked = " and was asked for" if report.counts[Verdict.NOT_ASKED] else ""
    how = "measured or looked at" if report.counts[Verdict.SEEN] else "measured"
    return {
        HELD: f"Everything that must hold{before}{asked} was {how} and holds{_but_for(report)}.",
        BROKEN: "Not ready to hand over: something that must hold does not.",
        NOT_JUDGED: "Not ready to hand over: not everything that must hold has been measured.",
    }[report.status]


def _extent(report: Report) -> Iterator[str]:
    """How much was asked, what is not due yet, and what stands on readings believed to their last digit."""
    if report.extent:
        yield sentence(report.extent)
    if report.later:
        yield f"{count(len(report.later), 'check')} for later milestones not due yet."
    if number := len(report.at_face_value):
        near = "nearer to a limit than the usual uncertainty of such readings, and no instrument is named"
        yield f"{count(number, 'value')} within {'is' if number == 1 else 'are'} so at face value: {near}."


def _missed(finding: Finding, words: Mapping[str, str]) -> str:
    if not finding.shown_value:
        return words[str(finding.verdict)]
    limits = finding.asked("must")
    return "; ".join(filter(None, (finding.shown_value, f"required {limits}" if limits else "", finding.missed_by)))


def _but_for(report: Report) -> str:
    """What a customer must know who reads that all of it holds."""
    accepted = any(finding.concession for finding in report.outside)
    exceptions = ("what was accepted as it is" if accepted else "", "what is not asked here" if report.retired else "")
    return f", but for {' and '.join(filter(None, exceptions))}" if any(exceptions) else ""


def _signatures() -> Markup:
    lines: list[Content] = [
        element("div", element("span", name), element("span", "Date"), class_="line") for name in _SIGNATURES
    ]
    return element("div", element("h2", "Signatures"), lines, class_="signatures")
