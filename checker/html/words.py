"""Words that several parts of a page share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from checker.findings.finding import BAND_WORDS, Finding
from checker.html.markup import Content, Markup, element
from checker.reports.report import BROKEN, HELD, NOT_JUDGED

STATUS = {HELD: "within", BROKEN: "outside", NOT_JUDGED: "not measured"}
"""The mark for each answer."""


def anchor(rule: str) -> str:
    """Where a rule stands in the page."""
    return f"rule-{rule}"


def by_rule(findings: Iterable[Finding]) -> Mapping[str, tuple[Finding, ...]]:
    """Findings by the name of their rule, each rule's by station."""
    grouped: dict[str, list[Finding]] = {}
    for finding in findings:
        grouped.setdefault(finding.name, []).append(finding)
    return {
        name: tuple(sorted(findings_of_rule, key=lambda finding: finding.station))
        for name, findings_of_rule in grouped.items()
    }


def bands(finding: Finding) -> list[str]:
    """What is required and what is recommended, in words."""
    return [f"{words} {text}" for band, words in BAND_WORDS.items() if (text := finding.asked(band))]


def shared_bands(findings: Iterable[Finding]) -> list[str]:
    """What is required and recommended, where that is alike at every station."""
    different = list({tuple(bands(finding)): None for finding in findings})
    return list(different[0]) if len(different) == 1 else []


def count(number: int, noun: str) -> str:
    """A number with its noun."""
    return f"{number} {noun if number == 1 else noun + 's'}"


def folded(summary: Content, *content: Content, name: str, is_open: bool = False) -> Markup:
    """Something that opens when asked for."""
    return element("details", element("summary", summary), content, class_=name, open=is_open)


def table(name: str, head: Iterable[Content], rows: Iterable[Iterable[Content]], caption: str) -> Markup:
    """A table whose first column names its rows."""
    titles = element("tr", [element("th", title, scope="col") for title in head])
    lines = []
    for first, *rest in rows:
        cells = [element("th", first, scope="row"), *(element("td", cell) for cell in rest)]
        lines.append(element("tr", cells))
    return element(
        "table",
        element("caption", caption, class_="unseen"),
        element("thead", titles),
        element("tbody", lines),
        class_=name,
    )
