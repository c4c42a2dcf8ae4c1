"""Rules that hold, a line each: the value of every station, and where the limits come from."""

from __future__ import annotations

from collections.abc import Sequence

from checker.findings.finding import Finding, places
from checker.html.markup import Markup, element
from checker.html.words import anchor


def held_table(rules: Sequence[Sequence[Finding]]) -> Markup:
    """One line for each rule."""
    titles = ("Rule", "Each station", "Where the limit comes from")
    return element(
        "table",
        element("caption", "Rules that hold, station by station", class_="unseen"),
        element("thead", element("tr", [element("th", title, scope="col") for title in titles])),
        element("tbody", [_line(rule) for rule in rules]),
        class_="held plain",
    )


def _line(findings: Sequence[Finding]) -> Markup:
    alike: dict[str, list[Finding]] = {}
    for finding in findings:
        alike.setdefault(finding.shown_value, []).append(finding)
    values = (
        " ".join(filter(None, (f"{places(findings)}:" if places(findings) else "", value)))
        for value, findings in alike.items()
    )
    remarks = dict.fromkeys(remark for finding in findings for remark in finding.remarks)
    sources = dict.fromkeys(finding.source for finding in findings)
    return element(
        "tr",
        element(
            "th",
            findings[0].title,
            element("small", f" {findings[0].due}"),
            [element("p", remark, class_="terms") for remark in remarks],
            scope="row",
        ),
        element("td", "; ".join(values) if any(alike) else None),
        element("td", [element("p", source) for source in sources], class_="terms"),
        id=anchor(findings[0].name),
    )
