"""One rule with all its stations: drawn, in numbers, in words, and who says so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checker.findings.finding import Finding, listed, places
from checker.html.figures import row_figure
from checker.html.marks import badge, labels
from checker.html.markup import Content, Markup, element
from checker.html.station_table import station_table
from checker.html.words import anchor, folded, shared_bands
from checker.judging.judge import Verdict
from checker.packs.picturing import ROW
from checker.reports.report import Report

_NEEDS_CARE = (Verdict.OUTSIDE, Verdict.UNDECIDED)


def rule_block(findings: Sequence[Finding], report: Report) -> Markup:
    """All stations of one rule."""
    first = findings[0]
    rule = first.rule.rule
    figure = row_figure(findings, report) if rule.picture == ROW else None
    careful = rule.caution and any(finding.verdict in _NEEDS_CARE for finding in findings)
    return element(
        "article",
        element("h3", [[badge(word), " "] for word in labels(findings)], first.title),
        element("p", "; ".join([*shared_bands(findings), first.due]), class_="terms"),
        element(
            "div",
            figure,
            station_table(findings, with_bands=figure is None or first.stations is None),
            class_="beside" if figure is not None else None,
        ),
        element("ul", [element("li", note) for note in _notes(findings)], class_="notes"),
        element("p", element("b", "Caution: "), rule.caution, class_="caution") if careful else None,
        folded("Where the limit comes from", _sources(findings), name="proof"),
        id=anchor(first.name),
        class_="rule",
    )


def _notes(findings: Sequence[Finding]) -> Iterator[Content]:
    """What to do and what else to know; what holds for several stations is said once."""
    by_note: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        for kind, words in _said(finding):
            by_note.setdefault((kind, words), []).append(finding)
    for (kind, words), said_of in by_note.items():
        where = "" if len(said_of) == len(findings) else places(said_of)
        title = ", ".join(filter(None, (kind, where)))
        yield [element("b", f"{title}: ") if title else None, words]
    missing = listed(gap for finding in findings for gap in finding.missing)
    if missing:
        yield [element("b", "Still to measure: "), "; ".join(missing)]


def _said(finding: Finding) -> Iterator[tuple[str, str]]:
    if finding.remedy:
        yield "Do", finding.remedy
    if finding.concession:
        yield "", finding.concession
    for remark in finding.remarks:
        yield "", remark


def _sources(findings: Sequence[Finding]) -> Markup:
    return element("ul", [element("li", source) for source in dict.fromkeys(finding.source for finding in findings)])
