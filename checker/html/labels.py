"""Words on a drawing, each put where it covers no other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from checker.html.markup import Markup, element

SIZE = 11.0
"""The height of a word, in units of the drawing; the style sheet says the same."""

Place: TypeAlias = tuple[float, float, str]
"""The middle of a word's height, and where it begins from: "" for its start, "middle" or "end"."""

_WIDEST = 0.68
_LINE = 1.24
_GAP = 1.0


class Labels:
    """The words of one drawing so far."""

    def __init__(self) -> None:
        self._taken: list[tuple[float, float, float, float]] = []

    def put(self, text: str, places: Sequence[Place], name: str) -> Markup:
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


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
