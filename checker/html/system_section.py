"""One system of the report: what needs attention first, then what holds, then what is not known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import TypeAlias

from checker.findings.finding import Finding, listed, places
from checker.grouping import grouped
from checker.html.figures import named_figures
from checker.html.marks import badge
from checker.html.markup import Content, Markup, element
from checker.html.rule_block import rule_block
from checker.html.words import anchor, by_rule, count, folded, table, table_of
from checker.judging.judge import Verdict
from checker.reports.report import Report

Rule: TypeAlias = Sequence[Finding]  # the findings of one rule, by station

_IN_ORDER = (
    Verdict.OUTSIDE,
    Verdict.UNDECIDED,
    Verdict.ADVISORY,
    Verdict.NOT_COVERED,
    Verdict.NOT_MEASURED,
    Verdict.WITHIN,
    Verdict.SEEN,
    Verdict.NOT_ASKED,
    Verdict.NOT_APPLICABLE,
)
ATTENTION = frozenset(_IN_ORDER[:3])


def system_section(system: str, findings: Sequence[Finding], report: Report) -> Markup:
    """Everything the rules of one system say, folded away."""
    counts = Counter(finding.verdict for finding in findings)
    counted = [badge(str(it), f"{counts[it]} {it}") for it in _IN_ORDER if counts[it]]
    groups = grouped(by_rule(findings).values(), _group)
    return folded(
        [element("span", system, class_="name"), element("span", counted, class_="counts")],
        list(named_figures(report, findings)),
        [rule_block(rule, report) for rule in groups.pop("", ())],
        [
            folded(f"{group}: {count(len(groups[group]), 'rule')}", show(groups[group], report), name="quiet")
            for group, show in _SHOWN_AS.items()
            if group in groups
        ],
        name="system",
    )


def _group(rule: Rule) -> str:
    """The group a rule is folded away with; none for one that needs attention."""
    verdicts = {finding.verdict for finding in rule}
    if verdicts & ATTENTION or (Verdict.NOT_COVERED in verdicts and any(finding.must_open for finding in rule)):
        return ""
    if Verdict.NOT_MEASURED in verdicts:
        return "Measured only in part" if Verdict.WITHIN in verdicts else "Not measured"
    if Verdict.NOT_COVERED in verdicts:
        return "No limit known"
    if Verdict.SEEN in verdicts:
        return "Judged by eye"
    if Verdict.WITHIN in verdicts:
        return "Within"
    return "Not asked" if Verdict.NOT_ASKED in verdicts else "Does not apply"


def _blocks(rules: Sequence[Rule], report: Report) -> Content:
    return [rule_block(rule, report) for rule in rules]


def _held(rules: Sequence[Rule], report: Report) -> Content:
    """Rules that hold, a line each: the value of every station, and where the limits come from."""
    titles = ("Rule", "Each station", "Where the limit comes from")
    return table_of("held plain", titles, map(_line, rules), "Rules that hold, station by station")


def _line(findings: Sequence[Finding]) -> Markup:
    alike = grouped(findings, lambda finding: finding.shown_value)
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


def _missing(rules: Sequence[Rule], report: Report) -> Content:
    rows = [
        (rule[0].title, "; ".join(listed(gap for finding in rule for gap in finding.missing)), rule[0].due)
        for rule in rules
    ]
    return table("plain", ("Rule", "Still to measure", "Before"), rows, "Rules that wait for a reading")


def _reasons(rules: Sequence[Rule], report: Report) -> Content:
    rows = [
        (rule[0].title, "; ".join(dict.fromkeys(remark for finding in rule for remark in finding.remarks)))
        for rule in rules
    ]
    return table("plain", ("Rule", "Why"), rows, "Rules that say nothing here")


_SHOWN_AS: Mapping[str, Callable[[Sequence[Rule], Report], Content]] = {
    "Measured only in part": _blocks,
    "Not measured": _missing,
    "Within": _held,
    "Judged by eye": _reasons,
    "No limit known": _reasons,
    "Not asked": _reasons,
    "Does not apply": _reasons,
}
