"""From values to places on a drawing."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
_ALIKE = 1e-7
"""Values nearer to each other than this share of themselves differ by binary noise, which is not to be drawn."""
_MARGIN = 0.08
_MOST_TICKS = 6


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: values from `low` to `high` lie from `start` to `end` on the drawing."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value lies; what lies off the scale, infinity too, at its end."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> tuple[float, ...]:
        """A handful of round values on the scale."""
        rough = (self.high - self.low) / _MOST_TICKS
        size = 10.0 ** math.floor(math.log10(rough))
        step = next(size * factor for factor in _STEPS if size * factor >= rough * (1 - 1e-9))
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return tuple(number * step for number in range(first, last + 1))

    def written(self, value: float) -> str:
        """A round value with the decimals that tell it from its neighbours."""
        decimals = max(0, 2 - math.floor(math.log10(self.high - self.low)))
        text = f"{value:.{decimals}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text


def scale_for(values: Iterable[float], start: float, end: float) -> Scale:
    """A scale on which all finite values have room around them."""
    known = [value for value in values if math.isfinite(value)] or [0.0]
    low, high = min(known), max(known)
    width = high - low if high - low > _ALIKE * max(abs(low), abs(high)) else 0.0
    room = _MARGIN * width or _MARGIN * abs(high) or 1.0
    return Scale(low - room, high + room, start, end)
