"""A value on its band: limits, target, uncertainty, and the other stations' values beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite

from checker.html.limits import Drawn
from checker.html.marks import shape
from checker.html.markup import Markup, element
from checker.html.scale import Scale, scale_for

_WIDTH = 400
_HEIGHT = 28
_EDGE = 10.0
_MIDDLE = _HEIGHT / 2
_HALF_NUMBER = 20.0
_PRINTED: Mapping[str, Mapping[str, str]] = {
    "must": {"fill": "#e2e2e2"},
    "should": {"fill": "#bfdcc7"},
    "end-must": {"stroke": "#000000", "stroke-width": "2.6"},
    "end-should": {"stroke": "#14502a"},
    "other": {"stroke": "#3a3a3a"},
    "whisker": {"fill": "none", "stroke": "#000000"},
}
"""Colours for whoever prints a drawing without its style sheet, which goes before them."""


def band_scale(items: Sequence[Drawn], width: float = _WIDTH) -> Scale:
    """One scale for all stations of a rule, so that they can be compared."""
    return scale_for((number for item in items for number in item.numbers()), _EDGE, width - _EDGE)


def band(item: Drawn, others: Sequence[Drawn], scale: Scale, width: float = _WIDTH) -> Markup:
    """One station's value; the numbers stand beside it as text."""
    return _drawing(
        width,
        _HEIGHT,
        _stretch(item.must, scale, width, "must"),
        _stretch(item.should, scale, width, "should"),
        [_upright(scale.at(other.value), 11, "other") for other in others if other is not item],
        _ends(item.should, scale, "end-should", 9),
        _ends(item.must, scale, "end-must", 3),
        _whisker(item, scale),
        shape(item.verdict, (scale.at(item.value), _MIDDLE)),
    )


def band_axis(scale: Scale) -> Markup:
    """The scale under the stations of a rule."""
    return _drawing(
        _WIDTH,
        16,
        [
            [
                element("path", d=f"M{scale.at(tick):.1f} 0v3", class_="axis"),
                element("text", scale.written(tick), x=scale.at(tick), y=13, class_=_placed(scale.at(tick))),
            ]
            for tick in scale.ticks()
        ],
    )


def _placed(x: float) -> str:
    """A number stands below its tick, or to the side of it where it would run off the drawing."""
    side = "end" if x > _WIDTH - _HALF_NUMBER else "middle" if x > _HALF_NUMBER else ""
    return f"axis-number {side}".rstrip()


def _drawing(width: float, height: int, *content: Markup | list[Markup] | list[list[Markup]] | None) -> Markup:
    return element("svg", content, viewBox=f"0 0 {width:g} {height}", class_="band", aria_hidden="true")


def _stretch(ends: tuple[float, float], scale: Scale, width: float, name: str) -> Markup | None:
    """A bar from end to end; where there is no limit, to the rim of the drawing."""
    low, high = ends
    if low != low:  # no band of this kind
        return None
    start, end = (scale.at(value) if isfinite(value) else rim for value, rim in ((low, 0.0), (high, width)))
    return element(
        "rect", x=start, y=9, width=max(end - start, 1.0), height=_HEIGHT - 18, class_=name, **_PRINTED[name]
    )


def _ends(ends: tuple[float, float], scale: Scale, name: str, top: int) -> list[Markup]:
    return [_upright(scale.at(value), top, name) for value in ends if abs(value) < float("inf")]


def _upright(x: float, top: int, name: str) -> Markup:
    return element("path", d=f"M{x:.1f} {top}V{_HEIGHT - top}", class_=name, **_PRINTED[name])


def _whisker(item: Drawn, scale: Scale) -> Markup | None:
    if not (reach := item.reach()):
        return None
    left, right = map(scale.at, reach)
    caps = f"M{left:.1f} {_MIDDLE - 5}v10M{right:.1f} {_MIDDLE - 5}v10"
    return element("path", d=f"M{left:.1f} {_MIDDLE}H{right:.1f}{caps}", class_="whisker", **_PRINTED["whisker"])
