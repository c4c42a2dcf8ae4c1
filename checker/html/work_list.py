"""The work list: what to mend, decide and measure before each milestone, to be ticked off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from checker.finding import Finding, places
from checker.html.markup import Content, Markup, element
from checker.html.words import anchor, count, folded
from checker.work import Work


def work_list(works: Sequence[Work]) -> Markup | None:
    """Everything there is to do; the first milestone that has to wait is open."""
    busy = [work for work in works if work.stands_in_the_way or work.advice]
    first = next((work for work in works if work.stands_in_the_way), None)
    if not busy:
        return None
    return element("section", element("h2", "Work list"), [_milestone(work, work is first) for work in busy])


def _milestone(work: Work, is_open: bool) -> Markup:
    parts = (
        ("Mend", list(_tasks(work.mend))),
        ("Decide", list(_tasks(work.decide))),
        ("Measure", [_box(name) for name in work.measure]),
        ("Advised", list(_tasks(work.advice))),
    )
    tasks = sum(len(boxes) for _, boxes in parts)
    return folded(
        [f"Before {work.before} ", element("small", count(tasks, "task"))],
        [_part(title, boxes) for title, boxes in parts if boxes],
        name="work",
        is_open=is_open or bool(work.mend),
    )


def _part(title: str, boxes: Iterable[Markup]) -> list[Markup]:
    return [element("h3", title), element("ul", [element("li", box) for box in boxes], class_="tasks")]


def _tasks(findings: Iterable[Finding]) -> Iterator[Markup]:
    """One task for all stations of a rule at which the same is to be done."""
    alike: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in findings:
        what = finding.remedy or "; ".join(finding.remarks) or f"must {finding.band('must')}"
        alike.setdefault((finding.name, finding.shown_value, what), []).append(finding)
    for (_, value, what), found in alike.items():
        where = places(found)
        told = f"{where and ', '}{where}{value and f' ({value})'}: {what}"
        yield _box(element("a", found[0].title, href=f"#{anchor(found[0])}"), told)


def _box(*content: Content) -> Markup:
    return element("label", element("input", type="checkbox"), element("span", content))
