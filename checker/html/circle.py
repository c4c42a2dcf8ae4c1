"""Points and arcs on a circle; angles in degrees, clockwise from the top."""

from __future__ import annotations

import math

from checker.html.markup import Attribute, Markup, element


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
    return element("text", content, x=x, y=y + 3.5, class_=f"{name} middle", font_size=11.0, text_anchor="middle")
