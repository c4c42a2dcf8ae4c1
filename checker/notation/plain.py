"""Readers of plain forms: one value, ranges, tolerances, lists, one value in two units."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from checker.notation.amounts import Amount, Asked, Span, Written, amount
from checker.notation.vocabulary import NotationError, Part
from checker.notation.write import write_apart, write_quantity
from checker.units.units import UNITS, difference

_COUNTERPART = {"in": UNITS["mm"], "thou": UNITS["mm"], "mm": UNITS["in"]}
SLIPPED = "a misplaced decimal point"
_SLIPPED_POINT = (0.001, 0.01, 0.1, 10, 100, 1000)


def single(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "2-1/2 thou"."""
    given = amount(group)
    if given.unit == UNITS["tenths"] and given.letter == "w":
        return asked.exactly(given, "a tenth is a ten-thousandth of an inch")
    return asked.exactly(given)


def lone_unit(asked: Asked, group: Sequence[Part]) -> Written | None:
    """Reads "ten-thousandth": alone it is one of them; other units need their number."""
    if group[0].text.lower() != "ten-thousandth":
        return None
    return asked.exactly(Amount(asked.text, 1.0, group[0].unit, "w"))


def couple(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "a couple of tenths"."""
    low, high = (Amount(asked.text, number, group[0].unit, "w") for number in (1.5, 2.5))
    return asked.between(low, high, "an estimate: about 2, taken as 1.5 to 2.5")


def interval(asked: Asked, first: Sequence[Part], joint: Sequence[Part], second: Sequence[Part]) -> Written:
    """Reads ".0025-.0027"; sorted where it is written high to low. Two directions are rather two values.

    A falling "12-8" may as well be 12.8: whole numbers joined as a point joins them.
    """
    ends = amount(first), amount(second)
    shared = ends[0].unit or ends[1].unit
    if joint[0].letter == "-" and asked.counting and asked.counting.is_direction:
        values = tuple(f"{end.text} {shared.name}" if shared else end.text for end in ends)
        raise NotationError(f"{asked.text!r}: a range, or two values?", (*values, " to ".join(values)))
    if asked.si(ends[0], shared) > asked.si(ends[1], shared):
        high, low = ends
        if joint[0].letter == "-" and f"{high.text}-{low.text}" in asked.text and high.is_whole and low.is_whole:
            unit = f" {shared.name}" if shared else ""
            raise NotationError(
                f"{asked.text!r}: a range written high to low, or a point?",
                (f"{high.text}.{low.text}{unit}", f"{low.text} to {high.text}{unit}"),
            )
        return asked.between(*ends, "range written high to low")
    return asked.between(*ends)


def either(asked: Asked, first: Sequence[Part], second: Sequence[Part]) -> Written:
    """Reads ".022 or .023"."""
    return asked.between(amount(first), amount(second), "both occur: taken as anything between")


def tolerance(asked: Asked, middle: Sequence[Part], half_width: Sequence[Part]) -> Written:
    """Reads "0.25 +/- 0.03"."""
    given, off = amount(middle), amount(half_width)
    if off.text[0] in "+-":
        raise NotationError(f"{asked.text!r}: a sign after plus-minus")
    shared = given.unit or off.unit
    unit = asked.unit_of(given, shared)
    asked.si(off, shared)
    value, half = asked.si(given, shared), off.number * asked.unit_of(off, shared).factor
    return Written(asked.text, (Span(value - half, value + half),), (), unit)


def gauges(
    asked: Asked, first: Sequence[Part], word: Sequence[Part], second: Sequence[Part], other_word: Sequence[Part]
) -> Written | None:
    """Reads ".279 goes, .305 no-go": the value lies between."""
    if word[0].letter == other_word[0].letter:
        return None
    goes, stays = (amount(first), amount(second)) if word[0].letter == "g" else (amount(second), amount(first))
    shared = goes.unit or stays.unit
    if asked.si(goes, shared) > asked.si(stays, shared):
        raise NotationError(f"{asked.text!r}: what goes is thicker than what does not")
    return asked.between(goes, stays, "between two gauges")


def open_ended(asked: Asked, sign: Sequence[Part], group: Sequence[Part]) -> Written:
    """Reads "above 0.003 in" and "under .001"."""
    given = amount(group)
    end = asked.si(given)
    span = Span(-math.inf, end) if sign[0].letter == "<" else Span(end, math.inf)
    return Written(asked.text, (span,), (), asked.unit_of(given))


def listed(asked: Asked, numbers: Sequence[Part], units: Sequence[Part]) -> Written:
    """Reads ".0025 .0027 .0026": one value for each station."""
    if re.fullmatch(r"\d{1,2}( \d{3})+", " ".join(part.text for part in numbers)):
        readings = tuple(joint.join(part.text for part in numbers) for joint in ("", " and "))
        raise NotationError(f"{asked.text!r}: one number or several?", readings)
    return asked.each("station", [amount([part]) for part in numbers], unit=units[0].unit if units else None)


def in_two_units(asked: Asked, first: Sequence[Part], joint: Sequence[Part], second: Sequence[Part]) -> Written | None:
    """Reads "0.20 mm (.008)": the finer one is taken, both are kept. What their digits leave open must overlap."""
    given, beside = amount(first), amount(second)
    are_alike = given.unit is beside.unit is None and given.number < 2 * beside.number < 4 * given.number
    given = given._replace(unit=asked.unit_of(given))
    beside = beside._replace(unit=beside.unit or _COUNTERPART.get(asked.unit_of(given).name))
    if beside.unit is None or given.unit == beside.unit:
        return None
    spans = _printed(asked, given), _printed(asked, beside)
    if _overlap(*spans):
        finer, coarser = sorted((given, beside), key=lambda way: way.step * asked.unit_of(way).factor)
        return asked.exactly(finer, f"also written as {_with_unit(asked, coarser)}")
    if "c" in (given.letter, beside.letter):
        return None
    if joint[0].letter == "/" and are_alike:
        raise NotationError(f"{asked.text!r}: a range, or two readings?", (f"{given.text} - {beside.text}",))
    disagreement = _disagreement(asked, given, beside)
    slipped = given.number and any(
        _overlap(spans[0], Span(*(end * slip for end in spans[1]))) for slip in _SLIPPED_POINT
    )
    if joint[0].letter == "(" and slipped:
        return asked.exactly(given, f"{disagreement}: {SLIPPED}")
    raise NotationError(
        f"{asked.text!r}: the two values do not agree, {disagreement}",
        tuple(_with_unit(asked, way) for way in (given, beside)),
    )


def _printed(asked: Asked, given: Amount) -> Span:
    """What the printed digits leave open: half of the last one where it was rounded, all of it where it was cut off."""
    asked.si(given)
    unit, sign, half = asked.unit_of(given), -1.0 if given.number < 0 else 1.0, given.rounded_to / 2
    ends = (given.number - sign * half, given.number + sign * max(half, given.step))
    return Span(*sorted(unit.to_si(end) for end in ends))


def _overlap(given: Span, beside: Span) -> bool:
    hair = 1e-9 * max(map(abs, (*given, *beside)))
    return given.low <= beside.high + hair and beside.low <= given.high + hair


def _disagreement(asked: Asked, given: Amount, beside: Amount) -> str:
    unit, value, value_beside = asked.unit_of(given), asked.si(given), asked.si(beside)
    is_in_first, _ = write_apart(unit, value_beside, value)
    apart = write_quantity(abs(value_beside - value), difference(unit))
    return f"{_with_unit(asked, beside)} is {is_in_first}, {apart} from {_with_unit(asked, given)}"


def _with_unit(asked: Asked, given: Amount) -> str:
    return f"{given.text} {asked.unit_of(given).name}"
