"""Angles on a circle, drawn for each station as seen from above: every circle is broken where its angle points."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from checker.html.circle import arc, point, word
from checker.html.dials import Dial, letter_key, lettered
from checker.html.marks import badge
from checker.html.markup import Markup, element

_MIDDLE = 84.0
_RIM = 64.0
_OUTERMOST = 55.0
_STEP = 8.5
_HALF_GAP = 7.0
_LINE = 12.0


def clocks(dials: Sequence[Dial], labels: Sequence[str], verdicts: Mapping[int, str]) -> Markup:
    """One drawing for each dial with the verdict at its station, and what the letters mean."""
    letters = lettered(labels, dials)
    return element(
        "div",
        letter_key(letters),
        element("ul", [_station(dial, letters, verdicts.get(dial.station)) for dial in dials], class_="clocks"),
    )


def _station(dial: Dial, letters: Mapping[str, str], verdict: str | None) -> Markup:
    told = ", ".join(f"{label} at {ends[0] % 360:.0f} degrees" for label, ends in dial.angles.items())
    circles = [
        _circle(_OUTERMOST - _STEP * number, dial.angles[label][0], letter)
        for number, (label, letter) in enumerate(letters.items())
        if label in dial.angles
    ]
    drawing = element(
        "svg",
        element("circle", cx=_MIDDLE, cy=_MIDDLE, r=_RIM, class_="rim"),
        [_mark(label, angle) for label, angle in dial.marks.items()],
        circles,
        viewBox="-26 0 220 168",
        class_="clock",
        role="img",
        aria_label=f"{dial.where}: {told}",
    )
    return element("li", drawing, element("p", dial.where, " ", badge(verdict) if verdict else None))


def _circle(radius: float, angle: float, letter: str) -> list[Markup]:
    half = math.degrees(_HALF_GAP / radius)
    return [
        arc(_MIDDLE, radius, angle + half, angle - half, "broken-circle"),
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
        return [pointer, element("text", label, x=x, y=y + (0 if y < _MIDDLE else 8), class_="axis-number middle")]
    words = label.split()
    top = y + 4 - _LINE * (len(words) - 1) / 2
    side = "axis-number" if aside > 0 else "axis-number end"
    return [
        pointer,
        *(element("text", text, x=x, y=top + _LINE * number, class_=side) for number, text in enumerate(words)),
    ]
