"""The hand-over: what the customer gets with the assembly, without the shop's internals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from checker.findings.finding import Finding, places
from checker.html.hand_over_front import front
from checker.html.hand_over_readings import readings
from checker.html.judged_table import judged_tables
from checker.html.marks import css
from checker.html.markup import Markup, element
from checker.html.page import page
from checker.html.sections import cautions, doubtful, left_out, not_asked, suspect_sheets
from checker.html.words import table
from checker.judging.judge import Verdict
from checker.reports.overview import Overview, overview
from checker.reports.report import HELD, Report

_TOLD = {
    "outside": "outside its limits",
    "advisory": "off the usual target",
    "undecided": "could not be decided",
}
"""What a customer is told where the word of the shop would say too little."""
_UNJUDGED = {
    Verdict.SEEN: "looked at and clear, not measured",
    Verdict.NOT_MEASURED: "not measured",
    Verdict.NOT_COVERED: "no limit is known",
}


def write_hand_over(report: Report) -> str:
    """The hand-over as an HTML document: a page to look at and to sign, then every value with its limits."""
    contents = overview(report, frozenset(report.systems))
    return page(
        f"{report.record.assembly}: hand-over",
        element("header", element("h1", report.record.assembly), element("p", "Record of measurements")),
        element(
            "main",
            front(report, contents, _TOLD),
            _accepted(report),
            _judged(contents),
            _open(report, contents),
            left_out(report),
            _unjudged(report),
            _dropped(report),
            suspect_sheets(report),
            doubtful(contents.doubts),
            _told_cautions(report),
            not_asked(contents.not_asked),
            readings(report),
        ),
        element(
            "footer",
            element("p", f"Record SHA-256 {report.record.digest}"),
            [element("p", f"With plugin {plugin} ({plugin.added})") for plugin in report.plugins],
        ),
        sheets=("page", "pictures", "hand_over"),
    )


def _accepted(report: Report) -> Markup | None:
    """What was used although it is outside its limits, and who said so."""
    rows = [
        (finding.title, finding.where, finding.shown_value, finding.concession)
        for finding in report.findings
        if finding.concession
    ]
    if not rows:
        return None
    shown = table("plain", ("What", "Where", "Value", "By whom, and why"), rows, "Accepted outside the limits")
    return element("section", element("h2", "Accepted outside the limits"), shown)


def _judged(contents: Overview) -> Markup | None:
    """Every value that was judged, with its limits."""
    if not contents.judged:
        return None
    return element("section", element("h2", "Values and limits"), judged_tables(contents.judged, _TOLD))


def _open(report: Report, contents: Overview) -> Markup | None:
    """What each milestone waits for, where it is not ready."""
    busy = [
        element("li", f"{work.title[:1].upper()}{work.title[1:]}: {work.amount}")
        for work in contents.milestones
        if work.amount
    ]
    if report.status == HELD or not busy:
        return None
    return element("section", element("h2", "Still open"), element("ul", busy))


def _unjudged(report: Report) -> Markup | None:
    """What was not measured is said as plainly as the rest."""
    rows = [
        (system, element("span", words, class_=f"badge {css(str(verdict))}"), "; ".join(_titled(found)))
        for system, findings in report.by_system(*_UNJUDGED)
        for verdict, words in _UNJUDGED.items()
        if (found := [finding for finding in findings if finding.verdict is verdict])
    ]
    if not rows:
        return None
    title = "Not judged by a value"
    return element("section", element("h2", title), table("plain", ("System", "Result", "What"), rows, title))


def _titled(findings: Iterable[Finding]) -> Iterator[str]:
    """The titles of rules, with the places where not all stations came out so."""
    by_title: dict[str, list[Finding]] = {}
    for finding in findings:
        by_title.setdefault(finding.title, []).append(finding)
    for title, same in by_title.items():
        yield f"{title}{f' ({where})' if (where := places(same)) else ''}"


def _dropped(report: Report) -> Markup | None:
    """The rules that a shop has dropped, and why."""
    if not report.retired:
        return None
    title = "Not asked here, by policy"
    rows = [(retired.rule.system, str(retired)) for retired in report.retired]
    return element("section", element("h2", title), table("plain", ("System", "What, and why"), rows, title))


def _told_cautions(report: Report) -> Markup | None:
    """What the packs say of everything, and what rules say that did not hold."""
    own = (f.rule.rule.caution for f in report.findings if f.verdict is Verdict.OUTSIDE and f.rule.rule.caution)
    return cautions(dict.fromkeys((*report.cautions, *own)))
