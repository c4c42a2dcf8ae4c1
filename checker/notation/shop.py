"""Readers of what every bench writes besides plain values: threads, torque steps, ratios, hours of the clock."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from checker.notation.amounts import BEFORE_AN_ANGLE, Asked, Written, amount
from checker.notation.counting import CLOCK, LENGTH_PER_LENGTH, ORDER, THREAD, TORQUE_STEPS, TORQUE_THEN_ANGLE
from checker.notation.vocabulary import NotationError, Part
from checker.notation.write import write_quantity
from checker.units.units import UNITS

_INCH, _MM, _DEGREE, _NUMBER = (UNITS[name] for name in ("in", "mm", "deg", "1"))
_HASH = {"torque": "lb-ft", "pressure": "psi"}


def inch_thread(asked: Asked, size: Sequence[Part], count: Sequence[Part]) -> Written | None:
    """Reads "7/16-20": the diameter; the pitch is kept as a note."""
    per_inch = amount(count)
    if not per_inch.is_whole or per_inch.number < 4:
        return None
    asked.check_form("a thread", f"{size[0].text} in", form=THREAD)
    pitch = write_quantity(_INCH.factor / per_inch.number, _INCH)
    return asked.exactly(amount(size)._replace(unit=_INCH), f"thread: {per_inch.text} per inch, pitch {pitch}")


def metric_thread(asked: Asked, size: Sequence[Part], pitch: Sequence[Part]) -> Written:
    """Reads "M8x1.25": the diameter; the pitch is kept as a note."""
    asked.check_form("a thread", f"{size[0].text} mm", form=THREAD)
    return asked.exactly(amount(size)._replace(unit=_MM), f"thread: pitch {pitch[0].text} mm")


def order(asked: Asked, numbers: Sequence[Part]) -> Written | None:
    """Reads "1-3-4-2": whole numbers, one after the other."""
    each = [amount([part]) for part in numbers if part.letter == "n"]
    if not asked.is_said(ORDER) or not all(number.is_whole for number in each):
        return None
    return asked.each("step", each)


def torque_steps(asked: Asked, numbers: Sequence[Part], units: Sequence[Part]) -> Written | None:
    """Reads "40-70-100": torque steps, in order."""
    steps = [amount([part]) for part in numbers if part.letter == "n"]
    asked.check_form("a row of torque steps", *(step.text for step in steps), form=TORQUE_STEPS)
    if any(later.number <= sooner.number for sooner, later in pairwise(steps)):
        raise NotationError(f"{asked.text!r}: torque steps that do not rise")
    return asked.each("step", steps, "torque steps", unit=units[0].unit if units else None)


def torque_then_angle(asked: Asked, torque: Sequence[Part], angle: Sequence[Part]) -> Written:
    """Reads "65 Nm + 90": the part that is asked for; the other is kept as a note."""
    first, second = amount(torque), amount(angle)
    turned = second.unit or _DEGREE
    second = second._replace(unit=turned)
    fits = turned.kind == "angle" and asked.is_said(TORQUE_THEN_ANGLE)
    if fits and asked.expected.kind == "torque" and (first.unit is None or first.unit.kind == "torque"):
        then = f"then a further {second.text} {turned.name}"
        return asked.exactly(first, f"{then}: the final torque is not known")._replace(meaning=BEFORE_AN_ANGLE)
    if fits and asked.expected.kind == "angle" and first.unit and first.unit.kind == "torque":
        return asked.exactly(second, f"after {first.text} {first.unit.name}")
    written = tuple(" ".join(part.text for part in parts) for parts in (torque, angle))
    unit = first.unit or amount(angle).unit
    if unit in (None, amount(angle).unit or unit):
        total = f"{first.number + second.number:.9g}" + (f" {unit.name}" if unit else "")
        raise NotationError(f"{asked.text!r}: a sum, or two values?", (*written, total))
    raise NotationError(f"{asked.text!r}: two values where one is asked for", written)


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
    asked.check_form("a length for each unit of length", form=LENGTH_PER_LENGTH)
    quotient = given._replace(number=given.number * above.factor / below.factor, unit=_NUMBER)
    return asked.exactly(quotient, f"{above.name} per {below.name}")


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
    asked.check_form("a direction on the clock", form=CLOCK)
    if not given.is_whole or not 1 <= given.number <= 12:
        raise NotationError(f"{asked.text!r}: no such hour")
    angle = given._replace(number=given.number % 12 * 30, unit=_DEGREE)
    return asked.exactly(angle, "clockwise from the zero the characteristic states")
