"""Slips of the pen and of the gauge: values that are impossible, or readable but suspicious."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from statistics import median

from checker.compiled import CompiledCharacteristic
from checker.context import Context, place_name
from checker.entry import Reading
from checker.notation_write import write_quantity
from checker.report import Flag
from checker.truth import greatest_equal, least_equal
from checker.units import Unit

FACTORS = {
    "ten times off": (10.0, 0.1),
    "a hundred times off": (100.0, 0.01),
    "a thousand times off": (1000.0, 0.001),
    "inches and millimetres mixed up": (25.4, 1 / 25.4),
}
FAR_OFF = 4.0
"""A reading this many times the median of its neighbours, or a part as small of it, is named."""
ALIKE = 2.0
"""Only neighbours that lie this near their median make one look odd: places in an order, 1 to 8, do not."""


def is_impossible(reading: Reading, item: CompiledCharacteristic) -> bool:
    """Whether no part of a reading lies in its plausible range."""
    if item.unit is None or (reading.high >= item.low and reading.low <= item.high):
        return False
    return bool(reading.high < least_equal(item.low) or reading.low > greatest_equal(item.high))


def flags_on(
    readings: Sequence[Reading], characteristics: Mapping[str, CompiledCharacteristic], context: Context
) -> Iterator[Flag]:
    """Everything suspicious about the readings of one record."""
    by_name: dict[str, list[Reading]] = {}
    for reading in readings:
        by_name.setdefault(reading.characteristic, []).append(reading)
    for name, found in by_name.items():
        item = characteristics[name]
        if item.unit is None:
            continue
        sound = [reading for reading in found if not is_impossible(reading, item)]
        for reading in found:
            yield from _about_one(reading, item, found, sound, context)
        yield from _about_all(found, item, context)


def _about_one(
    reading: Reading,
    item: CompiledCharacteristic,
    found: Sequence[Reading],
    sound: Sequence[Reading],
    context: Context,
) -> Iterator[Flag]:
    if is_impossible(reading, item):
        unit = reading.unit or item.unit
        low, high = (write_quantity(end, unit) for end in (item.low, item.high)) if unit else ("", "")
        guess = _likely(reading, lambda value: item.low <= value <= item.high and _fits(value, reading, found))
        yield _flag(reading, item, context, f"outside what is possible, {low} to {high}{guess}; not judged", True)
        return
    if reading.remarks:
        yield _flag(reading, item, context, "; ".join(reading.remarks), False)
    others = [other.middle for other in sound if other.station != reading.station]
    if len(others) < 2 or reading.for_all or item.characteristic.series:
        return
    usual = median(others)
    if not _near(reading.middle, usual, FAR_OFF) and all(_near(other, usual, ALIKE) for other in others):
        guess = _likely(reading, lambda value: _near(value, usual, 1.5))
        yield _flag(reading, item, context, f"far from its neighbours{guess}; judged as written", False)


def _about_all(found: Sequence[Reading], item: CompiledCharacteristic, context: Context) -> Iterator[Flag]:
    """One value that stands for many."""
    shared = [reading for reading in found if reading.for_all]
    if len(shared) > 1 and item.unit is not None:
        first = shared[0]
        yield Flag(
            item.name,
            item.characteristic.title,
            f"all {len(shared)}",
            first.written,
            "one value stands for every station; judged as if each had been measured",
            False,
            first.place,
        )


def _likely(reading: Reading, fits: Callable[[float], bool]) -> str:
    """The likely slip in words, with the value it would make."""
    for words, factors in FACTORS.items():
        for factor in factors:
            value = reading.middle * factor
            if math.isfinite(value) and fits(value):
                shown: Unit | None = reading.unit
                meant = f", {write_quantity(value, shown)}?" if shown else ""
                return f": {words}{meant}"
    return ""


def _fits(value: float, reading: Reading, found: Sequence[Reading]) -> bool:
    others = [other.middle for other in found if other.station != reading.station]
    return not others or _near(value, median(others), 1.5)


def _near(value: float, other: float, ratio: float) -> bool:
    """Whether two values are alike within a ratio; around zero any two small ones are."""
    if value == other:
        return True
    if value * other <= 0:
        return False
    return 1 / ratio <= value / other <= ratio


def _flag(reading: Reading, item: CompiledCharacteristic, context: Context, message: str, is_refused: bool) -> Flag:
    where = place_name(item.characteristic.per, reading.station, context)
    return Flag(item.name, item.characteristic.title, where, reading.written, message, is_refused, reading.place)
