"""What a strange value may have been meant to be: the slips that benches know, each with the value it would make."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from checker.notation.amounts import Span
from checker.notation.read import NotationError, read_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading, Slip
from checker.units.units import UNITS, Unit, units_of

_FACTORS = (
    ("ten times off", 10.0),
    ("a hundred times off", 100.0),
    ("a thousand times off", 1000.0),
)
_METRIC = ("mm", "um", "cm", "m")
_INCH, _MM = UNITS["in"].factor, UNITS["mm"].factor
TURN = {True: 0.5 * _MM, False: 0.025 * _INCH}
"""One turn of a micrometer's thimble, metric or not: the pitch of its screw."""
BLADES = (25.4, 2.54)
"""An inch blade's figure written as millimetres, or taken for hundredths of a millimetre; and the other way round."""

TWOFOLD = 2.0
"""A clearance is written for one side or for both."""


def slips_of(reading: Reading, item: CompiledCharacteristic, few: bool) -> Iterator[Slip]:
    """The slips a reading may be, likeliest first; of `few` neighbours swapped digits prove nothing.

    A length that is a difference of two others, by which it can be checked, may be meant on one side or on both.
    """
    unit = reading.unit or item.unit
    if unit is None or not math.isfinite(reading.middle):
        return
    if not few:
        for value in _swapped(reading.written, item, unit):
            yield Slip("two digits swapped", value, unit)
    # Among neighbours the blades below say it of inches and millimetres.
    if is_bare(reading.written) and (few or unit.name not in ("in", "mm")):
        for other in units_of(unit.kind):
            if other != unit:
                yield Slip(f"a bare number in {other.name}", other.to_si(unit.from_si(reading.middle)), other)
    is_metric = unit.name in _METRIC
    # What a micrometer reads has several turns.
    if unit.kind == "length" and abs(reading.middle) > 2 * TURN[is_metric]:
        for turn in (TURN[is_metric], -TURN[is_metric]):
            yield Slip("one turn of the thimble", reading.middle + turn, unit)
    for name, factor in _FACTORS:
        yield Slip(name, reading.middle * factor, unit)
        yield Slip(name, reading.middle / factor, unit)
    if item.agrees_within is not None and unit.kind == "length":
        yield Slip("one side written for both", reading.middle * TWOFOLD, unit)
        yield Slip("both sides written for one", reading.middle / TWOFOLD, unit)
    if unit.kind == "length":
        name = "inch blades on a millimetre spec" if is_metric else "millimetre blades on an inch spec"
        for factor in BLADES:
            yield Slip(name, reading.middle * (factor if is_metric else 1 / factor), unit)


def is_bare(written: str) -> bool:
    """Whether a number is written without a unit."""
    return re.fullmatch(r"[-+]?[\d.]+(?:[eE][-+]?\d+)?", written) is not None


def _swapped(written: str, item: CompiledCharacteristic, unit: Unit) -> Iterator[float]:
    """The values of a text with two neighbouring digits swapped; a point between them stays where it is."""
    if not _spans(written, item, unit):
        return  # ends that were given one by one, which no other digits make a quantity of
    for pair in re.finditer(r"(?=(\d)(\.?)(\d))", written):
        first, point, second = pair.groups()
        if first != second:
            text = f"{written[: pair.start(1)]}{second}{point}{first}{written[pair.end(3) :]}"
            spans = _spans(text, item, unit)
            if len(spans) == 1:
                yield (spans[0].low + spans[0].high) / 2


def _spans(text: str, item: CompiledCharacteristic, unit: Unit) -> tuple[Span, ...]:
    """What a text says; none where it says nothing that can be read."""
    if item.unit is None:
        return ()
    try:
        return read_quantity(text, item.unit, unit, item.characteristic.counted, item.notation).spans
    except NotationError:
        return ()
