"""One rule with all its stations: drawn, in numbers, in words, and who says so."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from checker.findings.finding import Finding, listed, places
from checker.grouping import grouped
from checker.html.figures import row_figure
from checker.html.limits import drawn
from checker.html.marks import badge, label, labels
from checker.html.markup import Content, Markup, element
from checker.html.picture_band import band, band_axis, band_scale
from checker.html.words import anchor, bands, folded, shared_bands, table_of
from checker.judging.judge import Verdict
from checker.notation.write import write_quantity
from checker.packs.picturing import ROW
from checker.reports.report import Report
from checker.units.units import difference

_NEEDS_CARE = (Verdict.OUTSIDE, Verdict.UNDECIDED)


def rule_block(findings: Sequence[Finding], report: Report) -> Markup:
    """All stations of one rule."""
    first = findings[0]
    rule = first.rule.rule
    figure = row_figure(findings, report) if rule.picture == ROW else None
    careful = rule.caution and any(finding.verdict in _NEEDS_CARE for finding in findings)
    sources = [element("li", source) for source in dict.fromkeys(finding.source for finding in findings)]
    return element(
        "article",
        element("h3", [[badge(word), " "] for word in labels(findings)], first.title),
        element("p", "; ".join([*shared_bands(findings), first.due]), class_="terms"),
        element(
            "div",
            figure,
            _station_table(findings, with_bands=figure is None or first.stations is None),
            class_="beside" if figure is not None else None,
        ),
        element("ul", [element("li", note) for note in _notes(findings)], class_="notes"),
        element("p", element("b", "Caution: "), rule.caution, class_="caution") if careful else None,
        folded("Where the limit comes from", element("ul", sources), name="proof"),
        id=anchor(first.name),
        class_="rule",
    )


def _notes(findings: Sequence[Finding]) -> Iterator[Content]:
    """What to do and what else to know; what holds for several stations is said once."""
    notes = grouped(((*note, finding) for finding in findings for note in _said(finding)), lambda note: note[:2])
    for (kind, words), said_of in notes.items():
        where = "" if len(said_of) == len(findings) else places(finding for *_, finding in said_of)
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


def _station_table(findings: Sequence[Finding], with_bands: bool) -> Markup:
    """A line for each station; limits that are alike everywhere stand above it and not in it."""
    items = drawn(findings)
    together = list(items.values())
    scale = band_scale(together) if items and with_bands else None
    has_limits = bool(items) and not shared_bands(findings)
    columns = {"Where": True, "On its band": scale, "Value": items, "Limits": has_limits, "Verdict": True}
    titles = [title for title, is_shown in columns.items() if is_shown]

    def line(finding: Finding) -> Markup:
        item = items.get(finding.station)
        drawing = band(item, together, scale) if item and scale else None
        limits = [element("span", words) for words in bands(finding)]
        verdict = [badge(label(finding)), element("small", finding.missed_by) if finding.missed_by else None]
        return element(
            "tr",
            element("th", finding.where or "assembly", scope="row"),
            element("td", drawing, class_="drawing") if scale else None,
            element("td", finding.shown_value, _doubt(finding), class_="value") if items else None,
            element("td", limits, class_="limits") if has_limits else None,
            element("td", verdict, class_="verdict"),
        )

    foot = []
    if scale:
        axis = element("td", band_axis(scale), class_="drawing")
        rest = element("td", colspan=str(len(titles) - 2))
        foot = [element("tfoot", element("tr", element("td"), axis, rest))]
    return table_of("stations", titles, map(line, findings), findings[0].title, *foot)


def _doubt(finding: Finding) -> Markup | None:
    if not finding.uncertainty or finding.unit is None or not finding.shown_value:
        return None
    if math.isnan(finding.uncertainty):
        return element("small", " \u00b1 unknown")
    return element("small", f" \u00b1 {write_quantity(finding.uncertainty, difference(finding.unit), round_up=True)}")
