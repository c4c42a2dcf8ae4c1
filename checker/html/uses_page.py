"""Uses as pages: all of them side by side, and what another use asks that the first one does not."""

from __future__ import annotations

from collections.abc import Sequence

from checker.findings.finding import Finding, listed, places
from checker.html.marks import badge, label, worst
from checker.html.markup import Content, Markup, element, page
from checker.html.sections import cautions
from checker.html.words import STATUS, by_rule, folded, section, table, table_section
from checker.reports.summary import RuleLine
from checker.uses import SILENT, RuleChange, Use, cautions_of, limits_told


def write_uses_html(assembly: str, uses: Sequence[Use]) -> str:
    """The uses of one record as an HTML document."""
    return page(
        f"{assembly}: uses side by side",
        element("header", element("h1", assembly), element("p", "Which uses does this build suit?")),
        element(
            "main",
            _answers(uses),
            _differences(uses),
            [_reasons(use) for use in uses if use.reasons],
            cautions(cautions_of(uses)),
        ),
        sheets=("page", "report"),
    )


def write_change_html(assembly: str, pair: tuple[Use, Use], changed: Sequence[RuleChange]) -> str:
    """What changes in the verdicts on one record from one use to another, as an HTML document."""
    was, now = pair
    answer = element("p", badge(STATUS[now.report.status], f"{now.title}: {now.answer}"), "; ", now.counts)
    worse = [change for change in changed if change.is_worse]
    others = [change for change in changed if not change.is_worse]
    return page(
        f"{assembly}: from {was.title} to {now.title}",
        element("header", element("h1", assembly), element("p", f"From {was.title} to {now.title}")),
        element(
            "main",
            element("section", answer),
            _changes("To be done", worse, pair),
            _changes("Changed, with nothing to do", others, pair),
            cautions(cautions_of(pair)),
        ),
        sheets=("page", "report"),
    )


def _answers(uses: Sequence[Use]) -> Markup:
    rows = [(use.title, badge(STATUS[use.report.status], use.answer), use.counts, use.deciding) for use in uses]
    head = ("Use", "Answer", "Findings", "Decided by")
    return element("section", table("plain", head, rows, "Which uses the build suits"))


def _differences(uses: Sequence[Use]) -> Markup | None:
    """The rules of which the uses are judged differently, and which uses are judged alike."""
    titles: dict[str, str] = {}
    verdicts: dict[str, dict[str, list[str]]] = {}
    for use in uses:
        for name, findings in by_rule(use.report.findings).items():
            verdict = worst(findings)
            titles.setdefault(name, verdict.title)
            if verdict.verdict not in SILENT:
                verdicts.setdefault(name, {}).setdefault(label(verdict), []).append(use.title)
    rows = [
        (titles[name], [element("div", badge(word), f": {'; '.join(of_uses)}") for word, of_uses in by_word.items()])
        for name, by_word in verdicts.items()
        if len(by_word) > 1
    ]
    shown = table("plain", ("Rule", "Verdict"), rows, "Rules that are judged differently")
    return section("Where they differ", shown) if rows else None


def _reasons(use: Use) -> Markup:
    reasons = [
        element("li", element("b", findings[0].title), _why(findings)) for findings in by_rule(use.reasons).values()
    ]
    summary = f"{use.title}: {use.answer}, because"
    return folded(summary, element("ul", reasons), name="quiet", is_open=use.report.status == 1)


def _why(findings: Sequence[Finding]) -> str:
    """Where one rule is broken, or what is not known."""
    where = places(findings)
    values = dict.fromkeys(finding.shown_value for finding in findings if finding.shown_value)
    bands = dict.fromkeys(f"required {band}" for finding in findings if (band := finding.band("must")))
    missing = listed(gap for finding in findings for gap in finding.missing)
    remarks = dict.fromkeys(remark for finding in findings for remark in finding.remarks)
    parts = [", ".join(values) or str(findings[0].verdict), *list(bands)[:1], *missing, *remarks]
    return f"{', ' if where else ''}{where}: {'; '.join(parts)}"


def _changes(title: str, changed: Sequence[RuleChange], pair: tuple[Use, Use]) -> Markup | None:
    head = ("Rule", "Value", f"Was ({pair[0].title})", f"Now ({pair[1].title})", "Do")
    return table_section(title, head, [_row(change) for change in changed])


def _row(change: RuleChange) -> tuple[Content, ...]:
    now = change.now
    name = [now.title, element("small", f" {now.places}") if now.places else None]
    return name, now.values, _side(change.was), _side(now), change.do if change.is_worse else ""


def _side(line: RuleLine) -> Content:
    return [badge(line.verdict), element("small", f" {limits_told(line)}")]
