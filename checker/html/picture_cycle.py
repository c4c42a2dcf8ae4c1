"""Events on a turning cycle: spans as arcs, moments as spokes, one turn clockwise from the top."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from checker.findings.finding import numbered
from checker.html.circle import arc, point, spoke, word
from checker.html.dials import Dial, clockwise, letter_key, lettered
from checker.html.marks import badge
from checker.html.markup import Markup, element
from checker.html.words import folded, table

_MIDDLE = 170.0
_RIM = 138.0
_OUTERMOST = 122.0
_STEP = 19.0
_INNERMOST = 34.0


def cycles(dials: Sequence[Dial], labels: Sequence[str], verdicts: Mapping[int, str]) -> Markup:
    """One drawing for all dials that look alike, and every event in numbers below."""
    letters = lettered(labels, dials)
    drawings = [_cycle(alike, letters, verdicts.get(alike[0].station)) for alike in _looking_alike(dials, verdicts)]
    return element(
        "div",
        letter_key(letters),
        element("div", drawings, class_="cycles"),
        folded("The events in numbers", _numbers(dials, list(letters)), name="numbers", is_open=len(dials) == 1),
    )


def _looking_alike(dials: Sequence[Dial], verdicts: Mapping[int, str]) -> list[list[Dial]]:
    """Dials together that differ by less than a drawing shows, and not in their verdict."""
    groups: dict[str, list[Dial]] = {}
    for dial in dials:
        angles = (f"{label} {[round(end) for end in ends]}" for label, ends in dial.angles.items())
        groups.setdefault("; ".join([verdicts.get(dial.station, ""), *angles]), []).append(dial)
    return list(groups.values())


def _cycle(alike: Sequence[Dial], letters: Mapping[str, str], verdict: str | None) -> Markup:
    dial = alike[0]
    spans = [label for label in letters if len(dial.angles.get(label, ())) > 1]
    moments = [label for label in letters if len(dial.angles.get(label, ())) == 1]
    drawing = element(
        "svg",
        element("circle", cx=_MIDDLE, cy=_MIDDLE, r=_RIM, class_="rim"),
        [_mark(label, angle) for label, angle in dial.marks.items()],
        _turning(),
        [_moment(number, dial.angles[label][0], letters[label]) for number, label in enumerate(moments)],
        [_span(number, dial.angles[label], letters[label]) for number, label in enumerate(spans)],
        viewBox="0 0 340 340",
        class_="cycle",
        aria_hidden="true",
    )
    where = _places(alike)
    title = element("p", where, " ", badge(verdict) if verdict else None) if where else None
    return element("div", title, drawing)


def _span(number: int, ends: tuple[float, ...], letter: str) -> list[Markup]:
    radius = _OUTERMOST - _STEP * number
    start, end = ends
    middle = start + clockwise(start, end) / 2
    return [
        arc(_MIDDLE, radius, start, end, "span"),
        *(spoke(_MIDDLE, radius - 7, _RIM, angle, "span-end") for angle in ends),
        *(word(_MIDDLE, _RIM + 12, angle, f"{angle % 360:.0f}", "axis-number") for angle in ends),
        *_lettered(radius, middle, letter),
    ]


def _moment(number: int, angle: float, letter: str) -> list[Markup]:
    """A spoke; its letter stands further out for each, so that near ones do not cover each other."""
    radius = _INNERMOST + _STEP * (number % 3)
    return [spoke(_MIDDLE, radius, _RIM, angle, "moment"), *_lettered(radius, angle, letter)]


def _lettered(radius: float, angle: float, letter: str) -> Iterator[Markup]:
    x, y = point(_MIDDLE, radius, angle)
    yield element("circle", cx=x, cy=y, r=9, class_="disc")
    yield word(_MIDDLE, radius, angle, letter, "letter")


def _mark(label: str, angle: float) -> list[Markup]:
    return [
        spoke(_MIDDLE, 0, _RIM + 4, angle, "level"),
        word(_MIDDLE, _RIM + 24, angle, label, "axis-number strong"),
    ]


def _turning() -> list[Markup]:
    """An arrow that says which way it turns."""
    (x, y), (to_x, to_y) = point(_MIDDLE, 13, 60), point(_MIDDLE, 25, 60)
    tip_x, tip_y = point(_MIDDLE, 19, 95)
    head = f"M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}L{tip_x:.1f} {tip_y:.1f}z"
    return [arc(_MIDDLE, 19, -60, 65, "turning"), element("path", d=head, class_="pointer")]


def _numbers(dials: Sequence[Dial], labels: Sequence[str]) -> Markup:
    """Every event at every station; what is the same at several stations is one line."""
    rows = []
    for label in labels:
        told: dict[str, list[Dial]] = {}
        for dial in dials:
            if label in dial.angles:
                told.setdefault(_told(dial.angles[label], dial.marks), []).append(dial)
        rows += [(label, _places(alike), words) for words, alike in told.items()]
    return table("plain", ("Event", "Where", "When"), rows, "Events in numbers")


def _places(dials: Sequence[Dial]) -> str:
    return numbered((dial.where, dial.station + 1) for dial in dials)


def _told(ends: tuple[float, ...], marks: Mapping[str, float]) -> str:
    """Where events lie: a moment seen from the first mark, the ends of a span from the marks nearest to them."""
    if len(ends) == 1:
        return _seen_from(ends[0], dict(list(marks.items())[:1]))
    start, end = (_seen_from(angle, marks) for angle in ends)
    return f"{start} to {end}, {clockwise(*ends):.1f} deg long"


def _seen_from(angle: float, marks: Mapping[str, float]) -> str:
    if not marks:
        return f"{angle % 360:.1f} deg"
    behind = {label: (angle - mark + 180.0) % 360.0 - 180.0 for label, mark in marks.items()}
    label, turned = min(behind.items(), key=lambda item: abs(item[1]))
    if abs(turned) < 0.05:
        return f"at {label}"
    return f"{abs(turned):.1f} deg {'after' if turned > 0 else 'before'} {label}"
