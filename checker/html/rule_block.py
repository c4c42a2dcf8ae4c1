"""One rule with all its stations: drawn, in numbers, in words, and who says so."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from checker.findings.finding import Finding, listed, places
from checker.grouping import grouped
from checker.html.figures import row_figure
from checker.html.limits import Drawn, can_be_drawn, drawn
from checker.html.marks import badge, label, labels
from checker.html.markup import Content, Markup, element
from checker.html.picture_band import band, band_axis, band_scale
from checker.html.scale import Scale
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
    items = {finding.station: drawn(finding) for finding in findings if can_be_drawn(finding)}
    scale = band_scale(list(items.values())) if items and with_bands else None
    columns = _Columns(items, scale, bool(items), bool(items) and not shared_bands(findings))
    foot = [element("tfoot", columns.axis())] if scale else []
    return table_of("stations", columns.titles(), map(columns.line, findings), findings[0].title, *foot)


@dataclass(frozen=True, slots=True)
class _Columns:
    """Which columns a table has, and what stands in them."""

    items: Mapping[int, Drawn]
    scale: Scale | None
    has_values: bool
    has_limits: bool

    def titles(self) -> list[str]:
        shown = {
            "Where": True,
            "On its band": self.scale is not None,
            "Value": self.has_values,
            "Limits": self.has_limits,
            "Verdict": True,
        }
        return [title for title, is_shown in shown.items() if is_shown]

    def line(self, finding: Finding) -> Markup:
        verdict = [badge(label(finding)), element("small", finding.missed_by) if finding.missed_by else None]
        return element(
            "tr",
            element("th", finding.where or "assembly", scope="row"),
            element("td", self.drawing(finding), class_="drawing") if self.scale else None,
            element("td", finding.shown_value, _doubt(finding), class_="value") if self.has_values else None,
            element("td", [element("span", words) for words in bands(finding)], class_="limits")
            if self.has_limits
            else None,
            element("td", verdict, class_="verdict"),
        )

    def drawing(self, finding: Finding) -> Markup | None:
        item = self.items.get(finding.station)
        return None if item is None or self.scale is None else band(item, list(self.items.values()), self.scale)

    def axis(self) -> Markup | None:
        if self.scale is None:
            return None
        rest = len(self.titles()) - 2
        drawing = element("td", band_axis(self.scale), class_="drawing")
        return element("tr", element("td"), drawing, element("td", colspan=str(rest)))


def _doubt(finding: Finding) -> Markup | None:
    if not finding.uncertainty or finding.unit is None or not finding.shown_value:
        return None
    if math.isnan(finding.uncertainty):
        return element("small", " \u00b1 unknown")
    return element("small", f" \u00b1 {write_quantity(finding.uncertainty, difference(finding.unit), round_up=True)}")
