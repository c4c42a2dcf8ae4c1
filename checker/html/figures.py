"""Figures: drawings of several values together, with their titles."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from checker.findings.context import Context
from checker.findings.finding import Finding
from checker.grouping import grouped
from checker.html.dials import dials
from checker.html.limits import Drawn, drawn
from checker.html.marks import label, worst
from checker.html.markup import Markup, element
from checker.html.picture_band import row
from checker.html.picture_clock import clocks
from checker.html.picture_cycle import cycles
from checker.judging.judge import Verdict
from checker.packs.picturing import CompiledPicture
from checker.reports.report import Report

_DRAWN_BY = {"clock": clocks, "cycle": cycles}
_AT_A_GLANCE = 15.0
"""In degrees."""
_TROUBLE = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY)


def row_figure(findings: Sequence[Finding], report: Report) -> Markup | None:
    """The values of a rule along its stations; of a rule that compares stations, what it compares."""
    first = findings[0]
    if first.unit is None:
        return None
    if first.stations is None:
        compared = list(_compared(first, report.context))
        return element("div", compared) if compared else None
    items = {station + 1: item for station, item in drawn(findings).items()}
    if not items:
        return None
    lie = report.context.block.layout.rows.get(first.stations, ())
    description = "; ".join(f"{finding.where} {finding.shown_value}" for finding in findings if finding.shown_value)
    return element("figure", row(items, lie, first.unit.name, f"{first.title}: {description}"))


def _compared(finding: Finding, context: Context) -> Iterator[Markup]:
    unit = finding.unit
    for column in sorted(finding.rule.judges.across, key=lambda column: column.name):
        item = context.characteristics.get(column.name)
        stations = item.characteristic.per if item else None
        if item is None or stations is None or item.unit is None or unit is None:
            continue
        if item.unit.dimension != unit.dimension:
            continue
        values = context.block.fetch(column._replace(at=stations))[0]
        blank = (math.nan, math.nan)
        items = {
            number: Drawn("not applicable", unit.from_si(float(value)), 0.0, blank, blank)
            for number, value in enumerate(values, 1)
            if math.isfinite(value)
        }
        if items:
            lie = context.block.layout.rows.get(stations, ())
            title = item.characteristic.title
            yield element("figure", element("figcaption", title), row(items, lie, unit.name, title))


def named_figures(report: Report, findings: Sequence[Finding]) -> Iterator[Markup]:
    """The pictures of one system that have something to show, and those its rules ask for."""
    for name, picture in report.pictures.items():
        own = [finding for finding in findings if finding.rule.rule.picture == name]
        if own and (shown := dials(picture, report.context)):
            drawing = _DRAWN_BY[picture.picture.kind](shown, list(picture.angles), _verdicts(picture, own))
            title = element("figcaption", picture.picture.title)
            yield element("figure", title, drawing, id=f"picture-{picture.picture.name}")


def first_directions(report: Report) -> Markup | None:
    """The first picture of directions that has something to show, its stations as alike as a glance sees them."""
    for picture in report.pictures.values():
        if picture.picture.kind == "clock" and (shown := dials(picture, report.context)):
            drawing = clocks(shown, list(picture.angles), {}, _AT_A_GLANCE)
            return element("figure", element("figcaption", picture.picture.title), drawing)
    return None


def _verdicts(picture: CompiledPicture, findings: Sequence[Finding]) -> Mapping[int, str]:
    """The worst that the rules of a picture say of each of its stations, where something is wrong."""
    troubled = [f for f in findings if f.stations == picture.stations and f.verdict in _TROUBLE]
    by_station = grouped(troubled, lambda finding: finding.station)
    return {station: label(worst(findings)) for station, findings in by_station.items()}
