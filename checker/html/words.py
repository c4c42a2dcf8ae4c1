"""Words that several parts of a page share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from checker.findings.finding import BAND_WORDS, Finding
from checker.grouping import grouped
from checker.html.markup import Attribute, Content, Markup, element
from checker.reports.report import SHOWN_AS

STATUS = {status: str(verdict) for status, verdict in SHOWN_AS.items()}
"""The mark for each answer."""


def anchor(rule: str) -> str:
    """Where a rule stands in the page."""
    return f"rule-{rule}"


def by_rule(findings: Iterable[Finding]) -> Mapping[str, tuple[Finding, ...]]:
    """Findings by the name of their rule, each rule's by station."""
    rules = grouped(findings, lambda finding: finding.name)
    return {name: tuple(sorted(rule, key=lambda finding: finding.station)) for name, rule in rules.items()}


def bands(finding: Finding) -> list[str]:
    """What is required and what is recommended, in words."""
    return [f"{words} {text}" for band, words in BAND_WORDS.items() if (text := finding.asked(band))]


def shared_bands(findings: Iterable[Finding]) -> list[str]:
    """What is required and recommended, where that is alike at every station."""
    different = list({tuple(bands(finding)): None for finding in findings})
    return list(different[0]) if len(different) == 1 else []


def folded(summary: Content, *content: Content, name: str, is_open: bool = False) -> Markup:
    """Something that opens when asked for."""
    return element("details", element("summary", summary), content, class_=name, open=is_open)


def table(name: str, head: Iterable[Content], rows: Iterable[Iterable[Content]], caption: str) -> Markup:
    """A table whose first column names its rows."""
    lines = [
        element("tr", element("th", first, scope="row"), [element("td", cell) for cell in rest])
        for first, *rest in rows
    ]
    return table_of(name, head, lines, caption)


def table_of(name: str, head: Iterable[Content], lines: Iterable[Markup], caption: str, *foot: Markup) -> Markup:
    """A table of lines that are markup already."""
    return element(
        "table",
        element("caption", caption, class_="unseen"),
        element("thead", element("tr", [element("th", title, scope="col") for title in head])),
        element("tbody", lines),
        foot,
        class_=name,
    )


def section(title: str, *content: Content, **attributes: Attribute) -> Markup:
    """A part of a page under its title."""
    return element("section", element("h2", title), content, **attributes)


def table_section(
    title: str, head: Iterable[Content], rows: Sequence[Iterable[Content]], name: str | None = None
) -> Markup | None:
    """A table under its title, with the name that links lead to; nothing where it has no rows."""
    return section(title, table("plain", head, rows, title), id=name) if rows else None


def list_section(title: str, items: Iterable[Content]) -> Markup | None:
    """A list under its title; nothing where it has no items."""
    lines = [element("li", item) for item in items]
    return section(title, element("ul", lines)) if lines else None
