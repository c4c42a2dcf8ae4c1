"""From one use to another, as a page: what is judged differently, by which limits, and what there is to do."""

from __future__ import annotations

from collections.abc import Sequence

from checker.html.marks import badge
from checker.html.markup import Content, Markup, element
from checker.html.page import page
from checker.html.sections import cautions
from checker.html.words import STATUS, table
from checker.reports.summary import RuleLine
from checker.use_change import RuleChange, limits_told
from checker.uses import Use, cautions_of


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


def _changes(title: str, changed: Sequence[RuleChange], pair: tuple[Use, Use]) -> Markup | None:
    if not changed:
        return None
    head = ("Rule", "Value", f"Was ({pair[0].title})", f"Now ({pair[1].title})", "Do")
    shown = table("plain", head, [_row(change) for change in changed], title)
    return element("section", element("h2", title), shown)


def _row(change: RuleChange) -> tuple[Content, ...]:
    now = change.now
    name = [now.title, element("small", f" {now.places}") if now.places else None]
    return name, now.values, _side(change.was), _side(now), change.do if change.is_worse else ""


def _side(line: RuleLine) -> Content:
    return [badge(line.verdict), element("small", f" {limits_told(line)}")]
