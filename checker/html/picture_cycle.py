"""Events on a turning cycle: spans as arcs, moments as spokes, one turn clockwise from the top."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from checker.html.dials import (
    Dial,
    Labels,
    Place,
    arc,
    clockwise,
    letter_key,
    lettered,
    looking_alike,
    places,
    point,
    spoke,
    word,
)
from checker.html.marks import badge
from checker.html.markup import Markup, element
from checker.html.words import folded, table

_MIDDLE = 170.0
_RIM = 138.0
_OUTERMOST = 122.0
_STEP = 19.0
_INNERMOST = 34.0
_WIDE = 218.0


def cycles(dials: Sequence[Dial], labels: Sequence[str], verdicts: Mapping[int, str]) -> Markup:
    """One drawing for all dials that look alike, and every event in numbers below."""
    letters = lettered(labels, dials)
    drawings = [_cycle(alike, letters, verdicts.get(alike[0].station)) for alike in looking_alike(dials, verdicts)]
    return element(
        "div",
        letter_key(letters),
        element(
            "div",
            element("div", drawings, class_="cycles"),
            folded("The events in numbers", _numbers(dials, list(letters)), name="numbers", is_open=len(drawings) == 1),
            class_="beside" if len(drawings) == 1 else None,
        ),
    )


def _cycle(alike: Sequence[Dial], letters: Mapping[str, str], verdict: str | None) -> Markup:
    dial = alike[0]
    spans = [label for label in letters if len(dial.angles.get(label, ())) > 1]
    moments = [label for label in letters if len(dial.angles.get(label, ())) == 1]
    labels = Labels()
    drawing = element(
        "svg",
        element("circle", cx=_MIDDLE, cy=_MIDDLE, r=_RIM, class_="rim"),
        [_mark(label, angle, labels) for label, angle in dial.marks.items()],
        _turning(),
        [_moment(number, dial.angles[label][0], letters[label]) for number, label in enumerate(moments)],
        [_span(number, dial, label, letters[label], labels) for number, label in enumerate(spans)],
        viewBox=f"{_MIDDLE - _WIDE} 0 {2 * _WIDE:g} 340",
        class_="cycle",
        aria_hidden="true",
    )
    where = places(alike)
    title = element("p", where, " ", badge(verdict) if verdict else None) if where else None
    return element("div", title, drawing)


def _span(number: int, dial: Dial, label: str, letter: str, labels: Labels) -> list[Markup]:
    """An arc; each end is told with its letter, as the trade counts it."""
    radius = _OUTERMOST - _STEP * number
    start, end = ends = dial.angles[label]
    middle = start + clockwise(start, end) / 2
    return [
        arc(_MIDDLE, radius, start, end, "span"),
        *(spoke(_MIDDLE, radius - 7, _RIM, angle, "span-end") for angle in ends),
        *(labels.place(f"{letter} {dial.seen_from_marks(angle, 0)}", _outside(angle), "axis-number") for angle in ends),
        *_lettered(radius, middle, letter),
    ]


def _moment(number: int, angle: float, letter: str) -> list[Markup]:
    """A spoke; its letter stands further out for each, so that near ones do not cover each other."""
    radius = _INNERMOST + _STEP * (number % 3)
    return [
        spoke(_MIDDLE, radius, _RIM, angle, "moment"),
        *_lettered(radius, angle, letter),
    ]


def _lettered(radius: float, angle: float, letter: str) -> Iterator[Markup]:
    x, y = point(_MIDDLE, radius, angle)
    yield element("circle", cx=x, cy=y, r=9, class_="disc")
    yield word(_MIDDLE, radius, angle, letter, "letter")


def _outside(angle: float) -> list[Place]:
    """Places outside the rim, the nearest to an angle first."""
    ends = []
    for beyond in (9.0, 23.0):
        for aside in sorted(range(-40, 41, 4), key=abs):
            x, y = point(_MIDDLE, _RIM + beyond, angle + aside)
            ends.append((x, y, "middle" if abs(x - _MIDDLE) < 22 else "" if x > _MIDDLE else "end"))
    return ends


def _mark(label: str, angle: float, labels: Labels) -> list[Markup]:
    x, y = point(_MIDDLE, _RIM + 24, angle)
    return [
        spoke(_MIDDLE, 0, _RIM + 4, angle, "level"),
        labels.place(label, [(x, y, "middle")], "axis-number strong"),
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
        by_words: dict[str, list[Dial]] = {}
        for dial in dials:
            if label in dial.angles:
                by_words.setdefault(_in_words(dial.angles[label], dial), []).append(dial)
        rows += [(label, places(alike), words) for words, alike in by_words.items()]
    return table("plain", ("Event", "Where", "When"), rows, "Events in numbers")


def _in_words(ends: tuple[float, ...], dial: Dial) -> str:
    """Where events lie: a moment seen from the first mark, the ends of a span from the marks nearest to them."""
    if len(ends) == 1:
        first_mark = dict(list(dial.marks.items())[:1])
        return dial._replace(marks=first_mark).seen_from_marks(ends[0])
    start, end = map(dial.seen_from_marks, ends)
    return f"{start} to {end}, {clockwise(*ends):.1f} deg long"
