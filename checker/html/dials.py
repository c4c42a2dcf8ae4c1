"""Dials: angles of a picture at each station, in degrees clockwise from the top, and what is drawn on a circle."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from string import ascii_uppercase
from typing import NamedTuple, TypeAlias

from checker.expressions.expression import Expression
from checker.findings.context import Context, place_name
from checker.findings.finding import numbered
from checker.frozen import FrozenMapping
from checker.grouping import grouped
from checker.html.markup import Attribute, Markup, element
from checker.packs.picturing import CompiledPicture
from checker.units.units import unit

_DEGREE = unit("deg")

SIZE = 11.0
"""The height of a word, in units of the drawing; the style sheet says the same."""

Place: TypeAlias = tuple[float, float, str]
"""The middle of a word's height, and where it begins from: "" for its start, "middle" or "end"."""

_WIDEST = 0.68
_LINE = 1.24
_GAP = 1.0


class Dial(NamedTuple):
    """What is known at one station, in degrees clockwise from the top; a span has two angles."""

    station: int
    where: str
    angles: Mapping[str, tuple[float, ...]]
    marks: Mapping[str, float]
    words: Mapping[tuple[str, int], str] = FrozenMapping({})

    def seen_from_marks(self, angle: float, decimals: int = 1) -> str:
        """An angle from the mark nearest to it, such as "40.0 ahead"."""
        if not self.marks:
            return f"{angle % 360:.{decimals}f} deg"
        behind = {label: (angle - mark + 180.0) % 360.0 - 180.0 for label, mark in self.marks.items()}
        label, turned = min(behind.items(), key=lambda item: abs(item[1]))
        if abs(turned) < 0.5 * 10.0**-decimals:
            return f"at {label}"
        side = 1 if turned > 0 else -1
        word = self.words.get((label, side))
        degrees = f"{abs(turned):.{decimals}f}"
        return f"{degrees} {word}" if word else f"{degrees} deg {'after' if side > 0 else 'before'} {label}"


def dials(picture: CompiledPicture, context: Context) -> tuple[Dial, ...]:
    """One dial for each station where an angle of its own is known; one in all where only shared ones are."""
    drawn = tuple(_dials(picture, context))
    own = {label for label, ends in picture.angles.items() if any(end.stations for end in ends)}
    special = tuple(dial for dial in drawn if own & set(dial.angles))
    if special or not any(dial.angles for dial in drawn):
        return special
    shared = drawn[0]
    return (Dial(0, "", shared.angles, shared.marks, shared.words),)


def lettered(labels: Iterable[str], dials: Sequence[Dial]) -> Mapping[str, str]:
    """A letter for each label that a dial shows."""
    shown = (label for label in labels if any(label in dial.angles for dial in dials))
    return dict(zip(shown, ascii_uppercase, strict=False))


def letter_key(letters: Mapping[str, str]) -> Markup:
    """What the letters mean."""
    key = [element("li", element("b", letter), f" {label}") for label, letter in letters.items()]
    return element("ul", key, class_="letters")


def _dials(picture: CompiledPicture, context: Context) -> Iterator[Dial]:
    for station in range(context.block.layout.count(picture.stations)):
        known = {
            label: tuple(_angle(end, picture, context, station) for end in ends)
            for label, ends in picture.angles.items()
        }
        marks = {label: _angle(end, picture, context, station) for label, end in picture.marks.items()}
        yield Dial(
            station,
            place_name(picture.stations, station, context),
            {label: ends for label, ends in known.items() if all(map(math.isfinite, ends))},
            {label: angle for label, angle in marks.items() if math.isfinite(angle)},
            picture.words,
        )


def _angle(expression: Expression, picture: CompiledPicture, context: Context, station: int) -> float:
    values = context.block.evaluate(expression, picture.stations)
    return _DEGREE.from_si(float(values[0, station if values.shape[1] > 1 else 0]))


def looking_alike(dials: Sequence[Dial], verdicts: Mapping[int, str], step: float = 1.0) -> list[list[Dial]]:
    """Dials together that differ by less than a step in degrees, and not in their verdict."""

    def look(dial: Dial) -> tuple[object, ...]:
        angles = [
            (label, *(round(end / step) % round(360 / step) for end in ends)) for label, ends in dial.angles.items()
        ]
        return (verdicts.get(dial.station), *angles)

    return list(grouped(dials, look).values())


def places(dials: Iterable[Dial]) -> str:
    """The stations that some dials serve, in words."""
    return numbered((dial.where, dial.station + 1) for dial in dials)


def clockwise(start: float, end: float) -> float:
    """How far it is from one angle to another, turning clockwise: more than 0, at most 360 degrees."""
    return (end - start) % 360.0 or 360.0


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
