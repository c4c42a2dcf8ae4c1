"""The top of the report: may the build go on, and what is out of limits."""

from __future__ import annotations

from collections.abc import Sequence

from checker.findings.finding import Finding
from checker.html.marks import badge, css, label, shape, worst
from checker.html.markup import Markup, element
from checker.html.words import STATUS, anchor, bands, by_rule, count
from checker.reports.overview import Overview
from checker.reports.report import Report

_BADGES = {"outside": "out of limits", "undecided": "too near to tell"}


def headline(report: Report, contents: Overview) -> Markup:
    """The answer, and everything that is out of limits, before anything else."""
    word = STATUS[report.status]
    first, _, rest = contents.answer.partition(", ")
    broken = [rule for _, findings in contents.broken for rule in by_rule(findings).values()]
    doubtful = count(len(report.flags), "reading") + " in doubt" if report.flags else None
    return element(
        "section",
        element("h2", shape(word), element("span", first), class_=f"answer {css(word)}"),
        element("p", rest) if rest else None,
        element("ul", [_broken(findings) for findings in broken], class_="broken") if broken else None,
        element("p", element("a", doubtful, href="#readings-in-doubt")) if doubtful else None,
        class_="headline",
    )


def _broken(findings: Sequence[Finding]) -> Markup:
    """One rule with every station that is out of limits, or too near to one."""
    first, word = findings[0], label(worst(findings))
    places = [
        element("li", element("b", finding.where or "assembly"), f" {_how_far(finding)}".rstrip())
        for finding in findings
        if finding.where or finding.shown_value
    ]
    remedies = dict.fromkeys(finding.remedy for finding in findings if finding.remedy)
    return element(
        "li",
        badge(word, _BADGES.get(word)),
        " ",
        element("a", first.title, href=f"#{anchor(first.name)}"),
        element("ul", places) if places else None,
        [element("p", element("b", "Do: "), remedy) for remedy in remedies] if len(remedies) == 1 else None,
    )


def _how_far(finding: Finding) -> str:
    if not finding.shown_value:
        return ""
    return "; ".join([finding.shown_value, *bands(finding)[:1], *filter(None, [finding.missed_by, finding.concession])])
