"""The work list: what to mend, decide and measure before each milestone, to be ticked off."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from checker.findings.finding import Finding
from checker.html.markup import Content, Markup, element
from checker.html.words import anchor, count, folded
from checker.reports.work import Work, tasks


def work_list(works: Sequence[Work]) -> Markup | None:
    """Everything there is to do; the first milestone that has to wait is open."""
    busy = [work for work in works if work.stands_in_the_way or work.advice]
    first = next((work for work in works if work.stands_in_the_way), None)
    if not busy:
        return None
    return element("section", element("h2", "Work list"), [_milestone(work, work is first) for work in busy])


def _milestone(work: Work, is_open: bool) -> Markup:
    parts = (
        ("Mend", _tasks(work.mend)),
        ("Decide", _tasks(work.decide)),
        ("Measure", [_box(name) for name in work.measure]),
        ("Advised", _tasks(work.advice)),
    )
    total = sum(len(boxes) for _, boxes in parts)
    return folded(
        [f"Before {work.before} ", element("small", count(total, "task"))],
        [_part(title, boxes) for title, boxes in parts if boxes],
        name="work",
        is_open=is_open or bool(work.mend),
    )


def _part(title: str, boxes: Iterable[Markup]) -> list[Markup]:
    return [element("h3", title), element("ul", [element("li", box) for box in boxes], class_="tasks")]


def _tasks(findings: Iterable[Finding]) -> list[Markup]:
    return [_box(element("a", task.title, href=f"#{anchor(task.rule)}"), task.told) for task in tasks(findings)]


def _box(*content: Content) -> Markup:
    return element("label", element("input", type="checkbox"), element("span", content))
