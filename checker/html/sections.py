"""Sections that the report and the hand-over share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from checker.findings.text import number_of
from checker.html.marks import badge
from checker.html.markup import Markup, element
from checker.html.words import folded, list_section, table, table_section
from checker.reports.overview import NOT_ASKED_BY_POLICY, Doubt
from checker.reports.report import Report

_FEW = 3
"""So many readings are named in sight; more are folded away."""


def suspect_sheets(report: Report) -> Markup | None:
    """Part sheets that can hardly be meant as they stand, with the likely cause."""
    rows = [(flag.title, flag.written, f"{flag.message} (line {flag.place.line})") for flag in report.suspect_sheets]
    head = ("Sheet for", "Says", "Why it is suspect")
    return table_section("Suspect part sheets", head, rows, "suspect-part-sheets")


def doubtful(doubts: Sequence[Doubt]) -> Markup | None:
    """Readings that were refused, or judged though they look like slips; alike ones together."""
    weights = {True: badge("outside", "not accepted"), False: badge("advisory", "judged; check it")}
    rows = [
        (doubt.message[:1].upper() + doubt.message[1:], weights[doubt.is_refused], _readings(doubt)) for doubt in doubts
    ]
    return table_section("Readings in doubt", ("Why", "Counts?", "Readings"), rows, "readings-in-doubt")


def _readings(doubt: Doubt) -> Markup:
    lines = (f", line {flag.place.line}" if flag.place.line else "" for flag in doubt.flags)
    named = element("ul", [element("li", *parts) for parts in zip(doubt.readings, lines, strict=True)])
    number = len(doubt.readings)
    return named if number <= _FEW else folded(number_of(number, "reading"), named, name="quiet")


def cautions(texts: Iterable[str]) -> Markup | None:
    """What can hurt: a page that is read by itself says so itself."""
    return list_section("Cautions", texts)


def not_asked(by_system: Sequence[tuple[str, Sequence[str]]]) -> Markup | None:
    """The rules that nobody asked for, counted and folded away."""
    rows = [(system, "; ".join(titles)) for system, titles in by_system]
    if not rows:
        return None
    title = f"Not asked: {number_of(sum(len(titles) for _, titles in by_system), 'rule')}"
    return element("section", folded(title, table("plain", ("System", "Rules"), rows, title), name="quiet"))


def left_out(report: Report) -> Markup | None:
    """The musts that a shop does not ask for by its own policy."""
    rows = [(rule.rule.title, why.pack, why.because) for rule, why in report.left_out]
    return table_section(NOT_ASKED_BY_POLICY, ("Rule", "Pack", "Why"), rows)
