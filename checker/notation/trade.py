"""Readers of the trade's own forms: oversizes, threads, torque steps, deck and cam words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from checker.notation.amounts import BEFORE_AN_ANGLE, FROM_STANDARD, Amount, Asked, Written, amount
from checker.notation.parts import NotationError, Part
from checker.notation.write import write_quantity
from checker.units.units import UNITS

_INCH, _MM, _THOU, _DEGREE, _NUMBER = (UNITS[name] for name in ("in", "mm", "thou", "deg", "1"))
_HASH = {"torque": "lb-ft", "pressure": "psi"}
_UNDERSIZES = (10, 20, 30, 40)
# SAE J300: grades for the cold and for the hot engine.
_WINTER_GRADES, _HOT_GRADES = (0, 5, 10, 15, 20, 25), (20, 30, 40, 50, 60)


def from_standard(asked: Asked, group: Sequence[Part], sign: Sequence[Part]) -> Written | None:
    """Reads ".060 over", "ten under": from the standard size; a whole number counts thousandths of an inch."""
    given = amount(group)
    if asked.expected.kind != "length" or given.text[0] in "+-":
        return None
    if given.unit is None and given.is_whole:
        if asked.default is None or asked.is_metric:
            raise NotationError(f"{asked.text!r} has no unit", (f"{given.text} thou", f"{given.text} mm"))
        given = given._replace(unit=_THOU)
    if sign[0].letter == "<":
        written = asked.exactly(given._replace(number=-given.number), "under the standard size, on the diameter")
    else:
        written = asked.exactly(given, "over the standard size, on the diameter")
    return written._replace(meaning=FROM_STANDARD)


def undersizes(asked: Asked, group: Sequence[Part]) -> Written | None:
    """Reads "10/10": mains and rods, each ground 0.010 inch under."""
    found = re.fullmatch(r"(\d+)/(\d+)", group[0].text)
    mains, rods = map(int, found.groups()) if found else (0, 0)
    are_undersizes = mains in _UNDERSIZES and rods in _UNDERSIZES
    if mains in _WINTER_GRADES and rods in _HOT_GRADES:
        pair = (f"{mains} thou under and {rods} thou under",) if are_undersizes else ()
        raise NotationError(f"{asked.text!r}: an oil grade is no number", (f"oil {mains}W-{rods}", *pair))
    if not are_undersizes or asked.is_metric:
        return None
    pair_of_sizes = [Amount(asked.text, -float(size), _THOU, "w") for size in (mains, rods)]
    written = asked.each("part", pair_of_sizes, "mains and rods, each under the standard size")
    return written._replace(meaning=FROM_STANDARD)


def inch_thread(asked: Asked, size: Sequence[Part], count: Sequence[Part]) -> Written | None:
    """Reads "7/16-20": the diameter; the pitch is kept as a note."""
    per_inch = amount(count)
    if not per_inch.is_whole or per_inch.number < 4:
        return None
    pitch = write_quantity(_INCH.factor / per_inch.number, _INCH)
    return asked.exactly(amount(size)._replace(unit=_INCH), f"thread: {per_inch.text} per inch, pitch {pitch}")


def metric_thread(asked: Asked, size: Sequence[Part], pitch: Sequence[Part]) -> Written:
    """Reads "M8x1.25": the diameter; the pitch is kept as a note."""
    return asked.exactly(amount(size)._replace(unit=_MM), f"thread: pitch {pitch[0].text} mm")


def torque_steps(asked: Asked, numbers: Sequence[Part], units: Sequence[Part]) -> Written | None:
    """Reads "40-70-100": torque steps, in order."""
    steps = [amount([part]) for part in numbers if part.letter == "n"]
    if asked.expected.kind != "torque":
        return None
    if any(later.number <= sooner.number for sooner, later in pairwise(steps)):
        raise NotationError(f"{asked.text!r}: torque steps that do not rise")
    return asked.each("step", steps, "torque steps", unit=units[0].unit if units else None)


def torque_then_angle(asked: Asked, torque: Sequence[Part], angle: Sequence[Part]) -> Written | None:
    """Reads "65 Nm + 90": the part that is asked for; the other is kept as a note."""
    first, second = amount(torque), amount(angle)
    second = second._replace(unit=second.unit or _DEGREE)
    if second.unit is None or second.unit.kind != "angle" or (first.unit and first.unit.kind != "torque"):
        return None
    if asked.expected.kind == "angle" and first.unit:
        return asked.exactly(second, f"after {first.text} {first.unit.name}")
    then = f"then a further {second.text} {second.unit.name}: the final torque is not known"
    return asked.exactly(first, then)._replace(meaning=BEFORE_AN_ANGLE)


def at_station(asked: Asked, label: Sequence[Part], group: Sequence[Part]) -> Written | None:
    """Reads "#3 .0016": the value of station 3."""
    if not amount(label).is_whole:
        return None
    return asked.exactly(amount(group), f"labelled station {label[0].text}", station=label[0].text)


def ratio(asked: Asked, first: Sequence[Part], joint: Sequence[Part], second: Sequence[Part]) -> Written | None:
    """Reads "9.5 to 1": a ratio, not a range."""
    given = amount(first)
    if asked.expected.kind != "bare number" or second[0].number != 1.0 or joint[0].text == "...":
        return None
    if joint[0].letter == "t" and given.number < 1:
        raise NotationError(f"{asked.text!r}: a ratio or a range?", (f"{given.text}:1", f"{given.text} - 1"))
    return asked.exactly(given, unit=UNITS["ratio"])


def per_length(asked: Asked, group: Sequence[Part], per: Sequence[Part]) -> Written | None:
    """Reads ".004 per inch": length for each unit of length is a bare number."""
    given, below = amount(group), per[0].unit
    above = given.unit or below
    if above is None or below is None or {above.kind, below.kind} != {"length"}:
        return None
    quotient = given._replace(number=given.number * above.factor / below.factor, unit=_NUMBER)
    return asked.exactly(quotient, f"{above.name} per {below.name}")


def times_bore(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads ".0045 x bore"."""
    return asked.exactly(amount(group), "times the bore", unit=_NUMBER)


def shell_code(asked: Asked, group: Sequence[Part]) -> Written:
    """Refuses "1X": makers use it for opposite things."""
    readings = (f"{group[0].text} thou more clearance", f"{group[0].text} thou less clearance")
    raise NotationError(f"{asked.text!r}: a maker's code; makers differ in what it means", readings)


def hash_mark(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "70#": lb-ft or psi, by what is asked for."""
    given = amount(group)
    if asked.expected.kind not in _HASH:
        readings = tuple(f"{given.text} {name}" for name in ("lbf", "lbm", "psi", "lb-ft"))
        raise NotationError(f"{asked.text!r}: # for which unit?", readings)
    unit = UNITS[_HASH[asked.expected.kind]]
    return asked.exactly(given, f"# read as {unit.name}", unit=unit)


def star(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "190*": an asterisk typed for the degree mark."""
    given = amount(group)
    unit = _DEGREE if asked.expected.kind == "angle" else asked.unit_of(given)
    if unit.kind not in ("angle", "temperature"):
        raise NotationError(f"{asked.text!r}: an asterisk may stand for degrees only")
    return asked.exactly(given, f"* read as {unit.name}", unit=unit)


def hundredths(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "5 hundredths": of a millimetre or of an inch by the bench's own unit."""
    given = amount(group)
    hundredth = given._replace(number=given.number / 100, unit=_MM if asked.is_metric else _INCH, letter="w")
    if asked.default is None:
        readings = tuple(f"{hundredth.number:g} {name}" for name in ("mm", "in"))
        raise NotationError(f"{asked.text!r}: hundredths of what?", readings)
    return asked.exactly(hundredth, f"hundredths of {asked.unit_of(hundredth).name}")


def clock(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "7 o'clock"."""
    given = amount(group)
    if not given.is_whole or not 1 <= given.number <= 12:
        raise NotationError(f"{asked.text!r}: no such hour")
    angle = given._replace(number=given.number % 12 * 30, unit=_DEGREE)
    return asked.exactly(angle, "clockwise from the zero the characteristic states")


def remarked(asked: Asked, group: Sequence[Part], word: Sequence[Part]) -> Written | None:
    """Reads "109 ATDC", "7cc dish", ".005 in the hole"."""
    given, remark = amount(group), word[0].remark
    if remark is None:
        return None
    if remark.kind != asked.expected.kind:
        raise NotationError(f"{word[0].text!r} says {remark.kind}; {asked.expected.kind} is asked for")
    number = remark.sign * abs(given.number) if remark.sign else given.number
    unit = given.unit or (UNITS[remark.unit] if remark.unit else None)
    notes = (remark.note, "the word counts, not the sign") if remark.sign and given.number < 0 else (remark.note,)
    return asked.exactly(given._replace(number=number, unit=unit, sign_is_clear=True), *notes)


def remark_first(asked: Asked, word: Sequence[Part], group: Sequence[Part]) -> Written | None:
    """Reads "dish 7cc"."""
    return remarked(asked, group, word)


def deck(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "zero deck", which is shop talk; any other number may be below the deck or above."""
    given = amount(group)
    if given.number:
        size = given.text.lstrip("+-")
        readings = (f"{size} in the hole", f"{size} out of the hole")
        raise NotationError(f"{asked.text!r}: below or above the deck? tables differ", readings)
    low, high = (Amount(given.text, number, _THOU, "w") for number in (-2.0, 2.0))
    return asked.between(low, high, "zero deck is shop talk: taken as within 0.002 in")


def deck_height(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "deck 9.025"."""
    return asked.exactly(amount(group), "deck height of the block")
