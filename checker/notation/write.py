"""Writing quantities as a shop does, with the decimals its instruments have."""

from __future__ import annotations

import math
from itertools import combinations

from checker.expressions.truth import ABSOLUTE_TOLERANCE, RELATIVE_TOLERANCE
from checker.units.units import Unit

_UNITS_BY_DECIMALS = {
    (0, 0): ("rpm", "ft/min", "ft/s2"),
    (0, 1): (
        *("tenths", "um", "uin", "lbf", "N", "psi", "kPa", "lb/in", "lb/h"),
        *("degF", "degC", "delta degF", "delta degC"),
    ),
    (0, 2): ("ft",),
    (0, 3): ("turn",),
    (1, 1): ("deg", "g", "lb-ft", "lb-in", "N m", "hp", "kW"),
    (1, 2): ("thou", "cc", "in3", "qt", "oz", "kgf m", "bar", "inHg", "%", "m/s", "mm2/s", "mPa s"),
    (2, 2): ("ratio",),
    (2, 3): ("L",),
    (2, 4): ("mm", "in2"),
    (4, 4): ("in",),
}
"""By fewest and most decimals; trailing zeros between the two are left out. Others show four significant figures."""
_DECIMALS = {name: decimals for decimals, names in _UNITS_BY_DECIMALS.items() for name in names}
_SIGNIFICANT = 4
_MOST_DECIMALS = 12
_NO_SPACE = {"1": "", "ratio": ":1", "%": "%"}


def write_quantity(
    value: float, unit: Unit, digits: int | None = None, *, round_up: bool = False, beside: float = 0.0
) -> str:
    """A value in SI, written in a unit; `digits` states the decimals.

    Rounded up (away from zero), as a remedy is, doing what is written is never too little. A difference has no more
    decimals than the value it stands `beside`.
    """
    number = _finite(value, unit)
    usual = _decimals(max(number, unit.from_si(beside), key=abs), unit)
    fewest, most = (digits, digits) if digits is not None else usual
    return _shown(_rounded(number, fewest, most, round_up), unit)


def write_apart(unit: Unit, *values: float) -> tuple[str, ...]:
    """Several values in SI with as many decimals as it takes for different ones to look different.

    So a value outside a limit never prints equal to it. What the comparison tolerance calls equal stays equal.
    """
    numbers = [_finite(value, unit) for value in values]
    usual = [_decimals(number, unit) for number in numbers]
    fewest, most = (max(ends) for ends in zip(*usual, strict=True))
    texts = [_rounded(number, *own) for number, own in zip(numbers, usual, strict=True)]
    while _look_alike(values, texts) and most < _MOST_DECIMALS:
        most += 1
        texts = [_rounded(number, max(fewest, most), most) for number in numbers]
    return tuple(_shown(text, unit) for text in texts)


def write_interval(low: float, high: float, unit: Unit) -> str:
    """A reading that may be known on one side only, such as "above 0.0030 in"."""
    if low == high:
        return write_quantity(low, unit)
    if math.isinf(low):
        return f"below {write_quantity(high, unit)}"
    if math.isinf(high):
        return f"above {write_quantity(low, unit)}"
    first, second = write_apart(unit, low, high)
    return f"{first} to {second}"


def usual_step(value: float, unit: Unit) -> float:
    """One step, in SI, of the last decimal that a value is usually written with in a unit."""
    fewest, most = _decimals(_finite(value, unit), unit)
    return float(abs(unit.factor) * 10.0 ** -(fewest if unit.name in _DECIMALS else most))


def finest_step(value: float, unit: Unit) -> float:
    """One step, in SI, of the last decimal that a value is ever written with in a unit."""
    return float(abs(unit.factor) * 10.0 ** -_decimals(_finite(value, unit), unit)[1])


def _finite(value: float, unit: Unit) -> float:
    number = unit.from_si(value)
    if not math.isfinite(number):
        raise ValueError(f"{value} cannot be written as a quantity")
    return number


def _decimals(number: float, unit: Unit) -> tuple[int, int]:
    if unit.name in _DECIMALS:
        return _DECIMALS[unit.name]
    if number == 0:
        return 0, 0
    most = _SIGNIFICANT - 1 - math.floor(math.log10(abs(number)))
    return 0, min(max(most, 0), _MOST_DECIMALS)


def _rounded(number: float, fewest: int, most: int, round_up: bool = False) -> str:
    if round_up:
        steps = abs(number) * 10**most
        # What is on a step but for binary noise stays there.
        number = math.copysign(math.ceil(steps - 1e-9 * max(steps, 1.0)), number) / 10**most
    text = f"{number:.{most}f}"
    while most > fewest and text.endswith("0"):
        text, most = text[:-1], most - 1
    text = text.removesuffix(".")
    return text.removeprefix("-") if float(text) == 0 else text


def _look_alike(values: tuple[float, ...], texts: list[str]) -> bool:
    """Whether two values that compare as different would be shown as one."""
    return any(
        text == other_text and abs(value - other) > RELATIVE_TOLERANCE * abs(other) + ABSOLUTE_TOLERANCE
        for (value, text), (other, other_text) in combinations(zip(values, texts, strict=True), 2)
    )


def _shown(text: str, unit: Unit) -> str:
    """A number's text with its unit for people, who see from the title what is a difference of temperatures."""
    return with_unit(text, unit).replace(unit.name, unit.shown)


def with_unit(text: str, unit: Unit) -> str:
    """A number's text with the unit behind it, as the trade writes that unit; it reads as the same again."""
    return text + _NO_SPACE.get(unit.name, f" {unit.name}")
