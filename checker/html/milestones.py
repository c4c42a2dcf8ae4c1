"""The milestones, a line each: what is open, may the build go on, and folded below it what is to be done."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from checker.findings.finding import Finding
from checker.html.marks import badge
from checker.html.markup import Content, Markup, element
from checker.html.words import anchor, folded
from checker.reports.report import Report
from checker.reports.work import Work, tasks


def milestones(report: Report, works: Sequence[Work]) -> Markup:
    """What stands before each milestone that was judged; the later ones are named."""
    later = [report.context.milestones[name] for name in report.milestones[len(works) :]]
    return element(
        "section",
        element("h2", "Before each milestone"),
        list(_lines(works)),
        element("p", f"Not judged yet: {', '.join(later)}.", class_="terms") if later else None,
        id="milestones",
    )


def _lines(works: Sequence[Work]) -> Iterator[Markup]:
    is_blocked = False
    for work in works:
        parts = [(title, boxes) for title, boxes in _parts(work) if boxes]
        line: list[Content] = [
            element("span", work.title[:1].upper() + work.title[1:], class_="name"),
            element("span", _state(work, is_blocked), class_="state"),
            element("small", work.amount or (f"{len(work.advice)} advised" if work.advice else "nothing open")),
        ]
        boxes = [_part(title, boxes) for title, boxes in parts]
        yield folded(line, boxes, name="work") if boxes else element("div", line, class_="work")
        is_blocked = is_blocked or work.stands_in_the_way


def _state(work: Work, is_blocked: bool) -> Markup:
    """Whether the build may go on; never past a milestone that has to wait."""
    if work.fix:
        return badge("outside", "no: fix first")
    if work.stands_in_the_way:
        return badge("not measured", "not yet")
    return badge("not measured", "waits for those above") if is_blocked else badge("within", "clear to proceed")


def _parts(work: Work) -> Iterator[tuple[str, list[Markup]]]:
    yield "Fix", _tasks(work.fix)
    yield "Decide", _tasks(work.decide)
    yield "Find out", [_box(name) for name in work.find_out]
    yield "Measure", [_box(name) for name in work.measure]
    yield "Advised", _tasks(work.advice)


def _part(title: str, boxes: Iterable[Markup]) -> list[Markup]:
    return [element("h3", title), element("ul", [element("li", box) for box in boxes], class_="tasks")]


def _tasks(findings: Iterable[Finding]) -> list[Markup]:
    return [_box(element("a", task.title, href=f"#{anchor(task.rule)}"), task.details) for task in tasks(findings)]


def _box(*content: Content) -> Markup:
    return element("label", element("input", type="checkbox"), element("span", content))
