"""Values along a row of stations, each on its own band."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from checker.html.limits import Drawn
from checker.html.marks import shape
from checker.html.markup import Markup, element
from checker.html.scale import Scale, scale_for

MOST_IN_A_ROW = 8
_LEFT = 58
_STEP = 48
_BAR = 34
_TOP = 18
_BOTTOM = 138
_HEIGHT = 162


def row(items: Mapping[int, Drawn], lie: Sequence[Sequence[int]], unit: str, description: str) -> Markup:
    """Values by station (counted from 1), drawn as the stations lie: in rows, each from the front to the back."""
    scale = scale_for((number for item in items.values() for number in item.numbers()), _BOTTOM, _TOP)
    strips = [_strip(items, line, scale, unit, is_front) for line, is_front in _lines(items, lie)]
    return element("div", strips, class_="rows", role="img", aria_label=description)


def _lines(items: Mapping[int, Drawn], lie: Sequence[Sequence[int]]) -> Iterator[tuple[Sequence[int], bool]]:
    """The rows, none so long that it would not fit a small screen; whether each begins at a known front."""
    for stations in lie or (sorted(items),):
        for start in range(0, len(stations), MOST_IN_A_ROW):
            yield stations[start : start + MOST_IN_A_ROW], bool(lie) and start == 0


def _strip(items: Mapping[int, Drawn], stations: Sequence[int], scale: Scale, unit: str, is_front: bool) -> Markup:
    width = _LEFT + _STEP * len(stations)
    return element(
        "svg",
        element("text", unit, x=_LEFT - 6, y=10, class_="axis-number end"),
        element("text", "front", x=_LEFT - 6, y=_HEIGHT - 6, class_="axis-number end") if is_front else None,
        [_level(tick, scale, width) for tick in scale.ticks()],
        [
            _station(number, items.get(number), _LEFT + _STEP * (place + 0.5), scale)
            for place, number in enumerate(stations)
        ],
        viewBox=f"0 0 {width} {_HEIGHT}",
        class_="row",
        width=width,
    )


def _level(tick: float, scale: Scale, width: int) -> list[Markup]:
    y = scale.at(tick)
    return [
        element("path", d=f"M{_LEFT} {y:.1f}H{width}", class_="level"),
        element("text", scale.written(tick), x=_LEFT - 6, y=y + 4, class_="axis-number end"),
    ]


def _station(number: int, item: Drawn | None, x: float, scale: Scale) -> list[Markup | None]:
    name = element("text", str(number), x=x, y=_HEIGHT - 6, class_="axis-number middle strong")
    if item is None:
        return [name, element("text", "?", x=x, y=(_TOP + _BOTTOM) / 2, class_="axis-number middle")]
    return [
        name,
        _bar(item.must, x, scale, "must"),
        _bar(item.should, x, scale, "should"),
        *(_end(value, x, scale) for value in item.must if abs(value) < float("inf")),
        _whisker(item, x, scale),
        shape(item.verdict, (x, scale.at(item.value))),
    ]


def _bar(ends: tuple[float, float], x: float, scale: Scale, name: str) -> Markup | None:
    low, high = ends
    if low != low:  # no band of this kind
        return None
    bottom = _BOTTOM + 4 if low == float("-inf") else scale.at(low)
    top = _TOP - 4 if high == float("inf") else scale.at(high)
    return element("rect", x=x - _BAR / 2, y=top, width=_BAR, height=max(bottom - top, 1.0), class_=name)


def _end(value: float, x: float, scale: Scale) -> Markup:
    return element("path", d=f"M{x - _BAR / 2:.1f} {scale.at(value):.1f}h{_BAR}", class_="end-must")


def _whisker(item: Drawn, x: float, scale: Scale) -> Markup | None:
    if not (reach := item.reach()):
        return None
    bottom, top = map(scale.at, reach)
    caps = f"M{x - 5:.1f} {top:.1f}h10M{x - 5:.1f} {bottom:.1f}h10"
    return element("path", d=f"M{x:.1f} {top:.1f}V{bottom:.1f}{caps}", class_="whisker")
