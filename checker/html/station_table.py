"""The stations of one rule as a table: each value on its band, in numbers, and its verdict."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from checker.findings.finding import Finding
from checker.html.limits import Drawn, can_be_drawn, drawn
from checker.html.marks import badge, label
from checker.html.markup import Markup, element
from checker.html.picture_band import band, band_axis, band_scale
from checker.html.scale import Scale
from checker.html.words import bands, shared_bands
from checker.notation.write import write_quantity
from checker.units.units import difference


def station_table(findings: Sequence[Finding], with_bands: bool) -> Markup:
    """A line for each station; limits that are alike everywhere stand above it and not in it."""
    items = {finding.station: drawn(finding) for finding in findings if can_be_drawn(finding)}
    scale = band_scale(list(items.values())) if items and with_bands else None
    columns = _Columns(items, scale, bool(items), bool(items) and not shared_bands(findings))
    return element(
        "table",
        element("caption", findings[0].title, class_="unseen"),
        element("thead", element("tr", [element("th", title, scope="col") for title in columns.titles()])),
        element("tbody", [columns.line(finding) for finding in findings]),
        element("tfoot", columns.axis()) if scale else None,
        class_="stations",
    )


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
