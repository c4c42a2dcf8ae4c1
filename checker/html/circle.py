"""Drawing on a circle: arcs, and words that cover no other; angles in degrees, clockwise from the top."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

from checker.html.markup import Attribute, Markup, element

SIZE = 11.0
"""The height of a word, in units of the drawing; the style sheet says the same."""

Place: TypeAlias = tuple[float, float, str]
"""The middle of a word's height, and where it begins from: "" for its start, "middle" or "end"."""

_WIDEST = 0.68
_LINE = 1.24
_GAP = 1.0


def point(middle: float, radius: float, angle: float) -> tuple[float, float]:
    """Where an angle lies on a circle."""
    turned = math.radians(angle)
    return middle + radius * math.sin(turned), middle - radius * math.cos(turned)


def arc(middle: float, radius: float, start: float, end: float, name: str, **printed: Attribute) -> Markup:
    """The part of a circle from one angle clockwise to another; `printed` is for printers without a style sheet."""
    (x, y), (to_x, to_y) = point(middle, radius, start), point(middle, radius, end)
    large = int((end - start) % 360.0 > 180.0)
    path = f"M{x:.2f} {y:.2f}A{radius} {radius} 0 {large} 1 {to_x:.2f} {to_y:.2f}"
    return element("path", d=path, class_=name, **printed)


def spoke(middle: float, inner: float, outer: float, angle: float, name: str) -> Markup:
    """A straight line from one radius to another."""
    (x, y), (to_x, to_y) = point(middle, inner, angle), point(middle, outer, angle)
    return element("path", d=f"M{x:.2f} {y:.2f}L{to_x:.2f} {to_y:.2f}", class_=name)


def word(middle: float, radius: float, angle: float, content: str, name: str) -> Markup:
    """A word with its middle at an angle."""
    x, y = point(middle, radius, angle)
    return element("text", content, x=x, y=y + 3.5, class_=f"{name} middle", font_size=SIZE, text_anchor="middle")


class Labels:
    """The words of one drawing so far."""

    def __init__(self) -> None:
        self._taken: list[tuple[float, float, float, float]] = []

    def place(self, text: str, places: Sequence[Place], name: str) -> Markup:
        """A word at the first of some places where it is alone, or else at the last."""
        boxes = [_box(text, place) for place in places]
        free = (number for number, box in enumerate(boxes) if not any(_meet(box, other) for other in self._taken))
        chosen = next(free, len(places) - 1)
        self._taken.append(boxes[chosen])
        x, y, anchor = places[chosen]
        return element("text", text, x=x, y=y + SIZE * 0.35, class_=f"{name} {anchor}".rstrip())


def _box(text: str, place: Place) -> tuple[float, float, float, float]:
    x, y, anchor = place
    width = len(text) * SIZE * _WIDEST
    left = x - {"": 0.0, "middle": width / 2, "end": width}[anchor]
    half = SIZE * _LINE / 2
    return left - _GAP, y - half - _GAP, left + width + _GAP, y + half + _GAP


def _meet(first: tuple[float, float, float, float], second: tuple[float, float, float, float]) -> bool:
    return first[0] < second[2] and second[0] < first[2] and first[1] < second[3] and second[1] < first[3]
