"""One system of the report: what needs attention first, then what holds, then what is not known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import TypeAlias

from checker.findings.finding import Finding, listed, places
from checker.findings.text import number_of
from checker.grouping import grouped
from checker.html.figures import named_figures
from checker.html.marks import MARKS, badge
from checker.html.markup import Content, Markup, element
from checker.html.rule_block import rule_block
from checker.html.words import anchor, by_rule, folded, table, table_of
from checker.judging.judge import Verdict
from checker.reports.report import Report

Rule: TypeAlias = Sequence[Finding]  # the findings of one rule, by station

ATTENTION = frozenset({Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY})


def system_section(system: str, findings: Sequence[Finding], report: Report) -> Markup:
    """Everything the rules of one system say, folded away."""
    counts = Counter(str(finding.verdict) for finding in findings)
    counted = [badge(word, f"{counts[word]} {word}") for word in MARKS if counts[word]]
    groups = grouped(by_rule(findings).values(), _group)
    shown_as: Mapping[str, Callable[[Sequence[Rule]], Content]] = {
        "Measured only in part": lambda rules: [rule_block(rule, report) for rule in rules],
        "Not measured": _missing,
        "Within": _held,
        "Judged by eye": _reasons,
        "No limit known": _reasons,
        "Not asked": _reasons,
        "Does not apply": _reasons,
    }
    return folded(
        [element("span", system, class_="name"), element("span", counted, class_="counts")],
        list(named_figures(report, findings)),
        [rule_block(rule, report) for rule in groups.pop("", ())],
        [
            folded(f"{group}: {number_of(len(groups[group]), 'rule')}", show(groups[group]), name="quiet")
            for group, show in shown_as.items()
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


def _held(rules: Sequence[Rule]) -> Content:
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


def _missing(rules: Sequence[Rule]) -> Content:
    rows = [
        (rule[0].title, "; ".join(listed(gap for finding in rule for gap in finding.missing)), rule[0].due)
        for rule in rules
    ]
    return table("plain", ("Rule", "Still to measure", "Before"), rows, "Rules that wait for a reading")


def _reasons(rules: Sequence[Rule]) -> Content:
    rows = [
        (rule[0].title, "; ".join(dict.fromkeys(remark for finding in rule for remark in finding.remarks)))
        for rule in rules
    ]
    return table("plain", ("Rule", "Why"), rows, "Rules that say nothing here")
