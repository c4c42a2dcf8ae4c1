"""Values on their bands, with limits, targets and uncertainty: one beside the others, or a row of stations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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
MOST_IN_A_ROW = 8
_ROW_LEFT = 58
_ROW_STEP = 48
_ROW_TOP = 18
_ROW_BOTTOM = 138
_ROW_HEIGHT = 162
_BAR = 34
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
    return [_upright(scale.at(value), top, name) for value in ends if isfinite(value)]


def _upright(x: float, top: int, name: str) -> Markup:
    return element("path", d=f"M{x:.1f} {top}V{_HEIGHT - top}", class_=name, **_PRINTED[name])


def _whisker(item: Drawn, scale: Scale) -> Markup | None:
    if not (reach := item.reach()):
        return None
    left, right = map(scale.at, reach)
    caps = f"M{left:.1f} {_MIDDLE - 5}v10M{right:.1f} {_MIDDLE - 5}v10"
    return element("path", d=f"M{left:.1f} {_MIDDLE}H{right:.1f}{caps}", class_="whisker", **_PRINTED["whisker"])


def row(items: Mapping[int, Drawn], lie: Sequence[Sequence[int]], unit: str, description: str) -> Markup:
    """Values by station (counted from 1), drawn as the stations lie: in rows, each from the front to the back."""
    scale = scale_for((number for item in items.values() for number in item.numbers()), _ROW_BOTTOM, _ROW_TOP)
    strips = [_strip(items, line, scale, unit, is_front) for line, is_front in _lines(items, lie)]
    return element("div", strips, class_="rows", role="img", aria_label=description)


def _lines(items: Mapping[int, Drawn], lie: Sequence[Sequence[int]]) -> Iterator[tuple[Sequence[int], bool]]:
    """The rows, none so long that it would not fit a small screen; whether each begins at a known front."""
    for stations in lie or (sorted(items),):
        for start in range(0, len(stations), MOST_IN_A_ROW):
            yield stations[start : start + MOST_IN_A_ROW], bool(lie) and start == 0


def _strip(items: Mapping[int, Drawn], stations: Sequence[int], scale: Scale, unit: str, is_front: bool) -> Markup:
    width = _ROW_LEFT + _ROW_STEP * len(stations)
    return element(
        "svg",
        element("text", unit, x=_ROW_LEFT - 6, y=10, class_="axis-number end"),
        element("text", "front", x=_ROW_LEFT - 6, y=_ROW_HEIGHT - 6, class_="axis-number end") if is_front else None,
        [_level(tick, scale, width) for tick in scale.ticks()],
        [
            _station(number, items.get(number), _ROW_LEFT + _ROW_STEP * (place + 0.5), scale)
            for place, number in enumerate(stations)
        ],
        viewBox=f"0 0 {width} {_ROW_HEIGHT}",
        class_="row",
        width=width,
    )


def _level(tick: float, scale: Scale, width: int) -> list[Markup]:
    y = scale.at(tick)
    return [
        element("path", d=f"M{_ROW_LEFT} {y:.1f}H{width}", class_="level"),
        element("text", scale.written(tick), x=_ROW_LEFT - 6, y=y + 4, class_="axis-number end"),
    ]


def _station(number: int, item: Drawn | None, x: float, scale: Scale) -> list[Markup | None]:
    name = element("text", str(number), x=x, y=_ROW_HEIGHT - 6, class_="axis-number middle strong")
    if item is None:
        return [name, element("text", "?", x=x, y=(_ROW_TOP + _ROW_BOTTOM) / 2, class_="axis-number middle")]
    return [
        name,
        _bar(item.must, x, scale, "must"),
        _bar(item.should, x, scale, "should"),
        *(
            element("path", d=f"M{x - _BAR / 2:.1f} {scale.at(end):.1f}h{_BAR}", class_="end-must")
            for end in item.must
            if isfinite(end)
        ),
        _upright_whisker(item, x, scale),
        shape(item.verdict, (x, scale.at(item.value))),
    ]


def _bar(ends: tuple[float, float], x: float, scale: Scale, name: str) -> Markup | None:
    low, high = ends
    if low != low:  # no band of this kind
        return None
    bottom = _ROW_BOTTOM + 4 if low == float("-inf") else scale.at(low)
    top = _ROW_TOP - 4 if high == float("inf") else scale.at(high)
    return element("rect", x=x - _BAR / 2, y=top, width=_BAR, height=max(bottom - top, 1.0), class_=name)


def _upright_whisker(item: Drawn, x: float, scale: Scale) -> Markup | None:
    if not (reach := item.reach()):
        return None
    bottom, top = map(scale.at, reach)
    caps = f"M{x - 5:.1f} {top:.1f}h10M{x - 5:.1f} {bottom:.1f}h10"
    return element("path", d=f"M{x:.1f} {top:.1f}V{bottom:.1f}{caps}", class_="whisker")
