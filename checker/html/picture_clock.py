"""Angles on a circle, drawn for each station as seen from above: every circle is broken where its angle points."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from checker.html.dials import SIZE, Dial, arc, letter_key, lettered, looking_alike, places, point, word
from checker.html.marks import badge
from checker.html.markup import Attribute, Markup, element

_MIDDLE = 110.0
_RIM = 88.0
_OUTERMOST = 79.0
_STEP = 13.5
_HALF_GAP = 7.0
_LINE = 14.0
_PRINTED_RIM: Mapping[str, Attribute] = {"fill": "none", "stroke": "#999999"}
_PRINTED_CIRCLE: Mapping[str, Attribute] = {"fill": "none", "stroke": "#000000", "stroke_width": 2.2}
"""For printers that draw without a style sheet, which goes before them."""


def clocks(dials: Sequence[Dial], labels: Sequence[str], verdicts: Mapping[int, str], step: float = 1.0) -> Markup:
    """One drawing for all dials that look alike with their stations and verdict, and what the letters mean."""
    letters = lettered(labels, dials)
    drawings = [
        _station(alike, letters, verdicts.get(alike[0].station)) for alike in looking_alike(dials, verdicts, step)
    ]
    return element(
        "div",
        letter_key(letters),
        element("ul", drawings, class_="clocks"),
    )


def _station(alike: Sequence[Dial], letters: Mapping[str, str], verdict: str | None) -> Markup:
    dial, where = alike[0], places(alike)
    description = ", ".join(f"{label} at {ends[0] % 360:.0f} degrees" for label, ends in dial.angles.items())
    circles = [
        _circle(_OUTERMOST - _STEP * number, dial.angles[label][0], letter)
        for number, (label, letter) in enumerate(letters.items())
        if label in dial.angles
    ]
    drawing = element(
        "svg",
        element("circle", cx=_MIDDLE, cy=_MIDDLE, r=_RIM, class_="rim", **_PRINTED_RIM),
        [_mark(label, angle) for label, angle in dial.marks.items()],
        circles,
        viewBox="-36 0 292 220",
        class_="clock",
        role="img",
        aria_label=f"{where}: {description}",
    )
    return element("li", drawing, element("p", where, " ", badge(verdict) if verdict else None))


def _circle(radius: float, angle: float, letter: str) -> list[Markup]:
    half = math.degrees(_HALF_GAP / radius)
    return [
        arc(_MIDDLE, radius, angle + half, angle - half, "broken-circle", **_PRINTED_CIRCLE),
        word(_MIDDLE, radius, angle, letter, "letter"),
    ]


def _mark(label: str, angle: float) -> list[Markup]:
    """A pointer at the rim with its name outside: beside it, a word a line, or above and below it in one."""
    tip, left, right = (
        point(_MIDDLE, radius, angle + turned) for radius, turned in ((_RIM, 0), (_RIM + 9, -5), (_RIM + 9, 5))
    )
    pointer = element(
        "path", d="M{:.1f} {:.1f}L{:.1f} {:.1f}L{:.1f} {:.1f}z".format(*tip, *left, *right), class_="pointer"
    )
    aside = math.sin(math.radians(angle))
    x, y = point(_MIDDLE, _RIM + 12, angle)
    if abs(aside) < 0.5:
        lines, side, top = [label], "middle", y + (1 if y < _MIDDLE else 9)
    else:
        lines, side = label.split(), "start" if aside > 0 else "end"
        top = y + 4 - _LINE * (len(lines) - 1) / 2
    printed: Mapping[str, Attribute] = {"font_size": SIZE, "text_anchor": side}
    words = [
        element("text", line, x=x, y=top + _LINE * number, class_=f"axis-number {side}", **printed)
        for number, line in enumerate(lines)
    ]
    return [pointer, *words]
