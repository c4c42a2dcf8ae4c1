"""Every use side by side, as a page: which the build suits, and why not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from checker.finding import Finding, listed, places
from checker.html.marks import badge, label, worst
from checker.html.markup import Content, Markup, element
from checker.html.page import page
from checker.html.words import STATUS, by_rule, folded, table
from checker.judge import Verdict
from checker.uses import Use

_TELLING = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.WITHIN)


def write_uses_html(assembly: str, uses: Sequence[Use]) -> str:
    """The uses of one record as an HTML document."""
    return page(
        f"{assembly}: uses side by side",
        element("header", element("h1", assembly), element("p", "Which uses does this build suit?")),
        element("main", _answers(uses), _differences(uses), [_reasons(use) for use in uses if use.reasons]),
        sheets=("page", "report"),
    )


def _answers(uses: Sequence[Use]) -> Markup:
    rows = []
    for use in uses:
        counts = use.report.counts
        told = (
            f"{counts[Verdict.OUTSIDE]} outside, {counts[Verdict.ADVISORY]} advisory, {counts[Verdict.WITHIN]} within"
        )
        rows.append((f"{use.title} ({use.application})", badge(STATUS[use.report.status], use.answer), told))
    return element("section", table("plain", ("Use", "Answer", "Findings"), rows, "Which uses the build suits"))


def _differences(uses: Sequence[Use]) -> Markup | None:
    """The rules of which the uses are judged differently, a column for each use."""
    by_use = [by_rule(use.report.findings) for use in uses]
    titles = {name: found[0].title for rules in by_use for name, found in rules.items()}
    rows = [(title, *_verdicts(name, by_use)) for name, title in titles.items() if _differs(name, by_use)]
    if not rows:
        return None
    head = ("Rule", *(use.application for use in uses))
    shown = table("differences", head, rows, "Rules that are judged differently")
    return element("section", element("h2", "Where they differ"), element("div", shown, class_="wide", tabindex="0"))


def _differs(name: str, by_use: Sequence[Mapping[str, Sequence[Finding]]]) -> bool:
    told = {label(worst(rules[name])) for rules in by_use if name in rules and _is_telling(rules[name])}
    return len(told) > 1


def _is_telling(findings: Sequence[Finding]) -> bool:
    return worst(findings).verdict in _TELLING


def _verdicts(name: str, by_use: Sequence[Mapping[str, Sequence[Finding]]]) -> Iterator[Content]:
    for rules in by_use:
        yield badge(label(worst(rules[name]))) if name in rules else None


def _reasons(use: Use) -> Markup:
    told = [element("li", element("b", found[0].title), _why(found)) for found in by_rule(use.reasons).values()]
    summary = f"{use.title}: {use.answer}, because"
    return folded(summary, element("ul", told), name="quiet", is_open=use.report.status == 1)


def _why(findings: Sequence[Finding]) -> str:
    """Where one rule is broken, or what is not known."""
    values = dict.fromkeys(finding.shown_value for finding in findings if finding.shown_value)
    bands = dict.fromkeys(f"must be {band}" for finding in findings if (band := finding.band("must")))
    missing = listed(gap for finding in findings for gap in finding.missing)
    where = places(findings)
    told = [", ".join(values), *list(bands)[:1], *missing, *findings[0].remarks]
    return (f", {where}: " if where else ": ") + "; ".join(filter(None, told))
