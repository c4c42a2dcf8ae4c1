"""The top of the report: may the build go on, what is broken, and what each milestone waits for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checker.findings.finding import Finding
from checker.html.marks import badge, css, shape
from checker.html.markup import Content, Markup, element
from checker.html.words import STATUS, anchor, bands, by_rule, count, table
from checker.reports.answer import answer
from checker.reports.report import Report
from checker.reports.work import Work


def headline(report: Report, works: Sequence[Work]) -> Markup:
    """The answer, and every broken must, before anything else."""
    word = STATUS[report.status]
    first, _, rest = answer(report).partition(", ")
    broken = by_rule(finding for work in works for finding in work.mend)
    doubtful = count(len(report.flags), "reading") + " in doubt" if report.flags else None
    return element(
        "section",
        element("h2", shape(word), element("span", first), class_=f"answer {css(word)}"),
        element("p", rest) if rest else None,
        element("ul", [_broken(findings) for findings in broken.values()], class_="broken") if broken else None,
        element("p", element("a", doubtful, href="#readings-in-doubt")) if doubtful else None,
        class_="headline",
    )


def _broken(findings: Sequence[Finding]) -> Markup:
    """One broken rule with every station that breaks it."""
    first = findings[0]
    places = [
        element("li", element("b", finding.where or "assembly"), f" {_how_far(finding)}".rstrip())
        for finding in findings
        if finding.where or finding.shown_value
    ]
    remedies = dict.fromkeys(finding.remedy for finding in findings if finding.remedy)
    return element(
        "li",
        badge("outside", "must broken"),
        " ",
        element("a", first.title, href=f"#{anchor(first.name)}"),
        element("ul", places) if places else None,
        [element("p", element("b", "Do: "), remedy) for remedy in remedies] if len(remedies) == 1 else None,
    )


def _how_far(finding: Finding) -> str:
    if not finding.shown_value:
        return ""
    return "; ".join([finding.shown_value, *bands(finding)[:1], *filter(None, [finding.missed_by])])


def milestones(report: Report, works: Sequence[Work]) -> Markup:
    """What stands before each milestone."""
    later = report.milestones[len(works) :]
    rows: list[tuple[Content, ...]] = []
    blocked = ""
    for work in works:
        rows.append((work.before, ", ".join(_left(work)), _state(work, blocked)))
        blocked = blocked or (work.before if work.stands_in_the_way else "")
    rows += [(name, "not judged", "") for name in later]
    head = ("Before", "Left to do", "May it be passed?")
    return element(
        "section",
        element("h2", "Before each milestone"),
        table("milestones", head, rows, "What is left to do before each milestone"),
    )


def _left(work: Work) -> Iterator[str]:
    for found, what in (
        (work.mend, "to mend"),
        (work.decide, "to decide"),
        (work.measure, "to measure"),
        (work.advice, "advised"),
    ):
        if found:
            yield f"{len(found)} {what}"


def _state(work: Work, blocked: str) -> Markup:
    """Whether a milestone may be passed; none may that comes after one that has to wait."""
    if work.mend:
        return badge("outside", "no: mend first")
    if work.stands_in_the_way:
        return badge("not measured", "not yet")
    if blocked:
        return badge("not measured", f"waits for {blocked}")
    return badge("within", "yes")
