"""Rules that hold, a line each: the station nearest its limit on its band, the others beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from checker.findings.finding import Finding
from checker.html.limits import can_be_drawn, drawn
from checker.html.markup import Content, Markup, element
from checker.html.picture_band import band, band_scale
from checker.html.words import anchor, bands, folded
from checker.notation.write import write_apart


def held_table(rules: Sequence[Sequence[Finding]]) -> Markup:
    """One line for each rule."""
    titles = ("Rule", "Nearest its limit", "Value", "Limits there")
    return element(
        "table",
        element("caption", "Rules that hold", class_="unseen"),
        element("thead", element("tr", [element("th", title, scope="col") for title in titles])),
        element("tbody", [_line([f for f in rule if f.edges or f.rule.is_demand] or rule) for rule in rules]),
        class_="held plain",
    )


def _line(findings: Sequence[Finding]) -> Markup:
    known = [finding for finding in findings if can_be_drawn(finding)]
    nearest = min(known or findings, key=lambda f: f.margin if math.isfinite(f.margin) else math.inf)
    remarks = dict.fromkeys(remark for finding in findings for remark in finding.remarks)
    sources = dict.fromkeys(finding.source for finding in findings)
    return element(
        "tr",
        element(
            "th",
            nearest.title,
            element("small", f" before {nearest.rule.rule.before}"),
            [element("p", remark, class_="terms") for remark in remarks],
            folded("Where the limit comes from", [element("p", source) for source in sources], name="proof"),
            scope="row",
        ),
        element("td", _drawing(nearest, known), class_="drawing"),
        element("td", _values(known)),
        element("td", [element("span", words) for words in bands(nearest)], class_="limits"),
        id=anchor(nearest.name),
    )


def _drawing(nearest: Finding, known: Sequence[Finding]) -> Content:
    if nearest not in known:
        return None
    items = {finding.station: drawn(finding) for finding in known}
    return band(items[nearest.station], list(items.values()), band_scale(list(items.values())))


def _values(known: Sequence[Finding]) -> Content:
    """The value, or the least and the greatest of several."""
    unit = known[0].unit if known else None
    if unit is None:
        return None
    low, high = (end(finding.value for finding in known) for end in (min, max))
    return " to ".join(dict.fromkeys(write_apart(unit, low, high)))
