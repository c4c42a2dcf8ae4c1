"""Angles of a picture at each of its stations, worked out for drawing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase

from checker.expressions.expression import Expression
from checker.findings.context import Context, place_name
from checker.html.markup import Markup, element
from checker.packs.picturing import CompiledPicture
from checker.units.units import unit

_DEGREE = unit("deg")


@dataclass(frozen=True, slots=True)
class Dial:
    """What is known at one station, in degrees clockwise from the top; a span has two angles."""

    station: int
    where: str
    angles: Mapping[str, tuple[float, ...]]
    marks: Mapping[str, float]


def dials(picture: CompiledPicture, context: Context) -> tuple[Dial, ...]:
    """One dial for each station where an angle of its own is known; one in all where only shared ones are."""
    found = tuple(_dials(picture, context))
    own = {label for label, ends in picture.angles.items() if any(end.stations for end in ends)}
    special = tuple(dial for dial in found if own & set(dial.angles))
    if special or not any(dial.angles for dial in found):
        return special
    shared = found[0]
    return (Dial(0, "", shared.angles, shared.marks),)


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
        )


def _angle(expression: Expression, picture: CompiledPicture, context: Context, station: int) -> float:
    values = context.block.evaluate(expression, picture.stations)
    return _DEGREE.from_si(float(values[0, station if values.shape[1] > 1 else 0]))


def clockwise(start: float, end: float) -> float:
    """How far it is from one angle to another, turning clockwise: more than 0, at most 360 degrees."""
    return (end - start) % 360.0 or 360.0
