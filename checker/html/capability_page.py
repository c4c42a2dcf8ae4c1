"""How capable a process is of its limits, as a page: figures, a histogram, and the course over the order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from checker.expressions.truth import Array
from checker.fleet.capability import Capability
from checker.fleet.capability_text import NOTE, lines_of, title_of
from checker.html.markup import Markup, element, page
from checker.html.scale import Scale, scale_for
from checker.html.words import section

_WIDTH, _HEIGHT = 360, 170
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 352, 22, 148
_STEPS = 60
"""The course is drawn of so many spans of the order at most."""


def write_capability_html(capabilities: Sequence[Capability]) -> str:
    """The page; figures and charts for each rule and station."""
    title = "Capability of the process"
    names = "; ".join(dict.fromkeys(capability.title for capability in capabilities))
    return page(
        title,
        element("header", element("h1", title), element("p", names)),
        element("main", [_section(capability) for capability in capabilities]),
        element("footer", element("p", NOTE), element("p", _SAMPLED)),
        sheets=("page", "pictures", "capability"),
    )


_SAMPLED = "Charts are drawn of at most 1,000 assemblies, evenly spaced over the order of the rows."


def _section(capability: Capability) -> Markup:
    figures = [
        element("li", line, class_="notes" if line in capability.reasons else None) for line in lines_of(capability)
    ]
    place = capability.sample.place if capability.vary else capability.sample.value
    ends = _ends(capability)
    unit = "" if capability.unit == "1" else f", {capability.unit}"
    if capability.vary:
        unit = ", as shares of their bands" if len(ends) == 2 else f"{unit} above their limits"
    title = title_of(capability)
    charts = None
    if place.size > 1:
        lie = _figure(f"How the values lie{unit}", _histogram(place, ends), title)
        course = _figure(f"In the order of the rows{unit}", _course(capability.sample.when, place, ends), title)
        charts = element("div", lie, course, class_="charts")
    return section(title, element("ul", figures, class_="figures"), charts)


def _ends(capability: Capability) -> dict[str, float]:
    """The limits as they are drawn; on bands of each value's own, from 0 to 1."""
    if not capability.vary:
        limits = {"low": capability.low, "high": capability.high}
        return {side: limit for side, limit in limits.items() if limit is not None}
    has_low, has_high = (bool(np.isfinite(side).all()) for side in (capability.sample.low, capability.sample.high))
    return {**({"low": 0.0} if has_low else {}), **({"high": 1.0 if has_low else 0.0} if has_high else {})}


def _figure(caption: str, drawing: Markup, subject: str) -> Markup:
    return element(
        "figure",
        element("figcaption", caption),
        element("div", drawing, role="img", aria_label=f"{subject}: {caption}"),
    )


def _histogram(values: Array, ends: dict[str, float]) -> Markup:
    across = scale_for([*_extent(values), *ends.values()], _LEFT, _RIGHT)
    counts, edges = np.histogram(values, bins="sturges")
    up = Scale(0.0, float(counts.max()), _BOTTOM, _TOP)
    bars = [
        element(
            "rect",
            x=across.at(float(left)),
            y=up.at(float(count)),
            width=max(across.at(float(right)) - across.at(float(left)), 0.5),
            height=_BOTTOM - up.at(float(count)),
            class_="bar",
        )
        for left, right, count in zip(edges, edges[1:], counts, strict=False)
        if count
    ]
    limits = [
        [
            element("path", d=f"M{across.at(end):.1f} {_TOP - 6}V{_BOTTOM}", class_="end-must"),
            element("text", _WORDS[side], x=across.at(end), y=_TOP - 10, class_="axis-number strong middle"),
        ]
        for side, end in ends.items()
    ]
    ticks = across.ticks()
    axis = [
        [
            element("path", d=f"M{across.at(tick):.1f} {_BOTTOM}v4", class_="axis"),
            element("text", across.written(tick), x=across.at(tick), y=_BOTTOM + 15, class_="axis-number middle"),
        ]
        for tick in ticks[:: 1 if len(ticks) < 5 else 2]
    ]
    return _drawing(_band(across, ends, upright=False), bars, limits, axis)


def _course(when: Array, values: Array, ends: dict[str, float]) -> Markup:
    up = scale_for([*_extent(values), *ends.values()], _BOTTOM, _TOP)
    order = np.argsort(when, kind="stable")
    spans = [part for part in np.array_split(order, min(_STEPS, values.size)) if part.size]
    step = (_RIGHT - _LEFT) / len(spans)
    middle = [_LEFT + step * (number + 0.5) for number in range(len(spans))]
    reach = "".join(
        f"M{x:.1f} {up.at(float(values[span].min())):.1f}V{up.at(float(values[span].max())):.1f}"
        for x, span in zip(middle, spans, strict=True)
    )
    means = "L".join(f"{x:.1f} {up.at(float(values[span].mean())):.1f}" for x, span in zip(middle, spans, strict=True))
    limits = [element("path", d=f"M{_LEFT} {up.at(end):.1f}H{_RIGHT}", class_="end-must") for end in ends.values()]
    axis = [
        element("text", up.written(tick), x=_LEFT - 6, y=up.at(tick) + 4, class_="axis-number end")
        for tick in up.ticks()
    ]
    return _drawing(
        _band(up, ends, upright=True),
        element("path", d=reach, class_="spread"),
        element("path", d=f"M{means}", class_="course"),
        limits,
        axis,
        element("text", "first", x=_LEFT, y=_BOTTOM + 15, class_="axis-number"),
        element("text", "last", x=_RIGHT, y=_BOTTOM + 15, class_="axis-number end"),
    )


_WORDS = {"low": "least", "high": "most"}


def _extent(values: Array) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _band(scale: Scale, ends: dict[str, float], upright: bool) -> Markup:
    """Where values may lie; to the rim of the drawing where there is no limit."""
    start, stop = (
        scale.at(ends[side]) if side in ends else rim for side, rim in (("low", scale.start), ("high", scale.end))
    )
    left, width = min(start, stop), abs(stop - start)
    if upright:
        return element("rect", x=_LEFT, y=left, width=_RIGHT - _LEFT, height=width, class_="must")
    return element("rect", x=left, y=_TOP, width=width, height=_BOTTOM - _TOP, class_="must")


def _drawing(*content: Markup | list[Markup] | list[list[Markup]]) -> Markup:
    return element("svg", content, viewBox=f"0 0 {_WIDTH} {_HEIGHT}", aria_hidden="true")
