"""Readers of the trade's own forms, for what is counted so: oversizes, threads, torque steps, deck and cam words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from checker.notation.amounts import BEFORE_AN_ANGLE, Amount, Asked, Written, amount
from checker.notation.counting import (
    BORE_SHARE,
    CLOCK,
    COUNTINGS,
    DECK,
    DECK_HEIGHT,
    STANDARD_SIZE,
    THREAD,
    TIGHTENING,
    TIGHTENING_ANGLE,
    Counting,
)
from checker.notation.parts import NotationError, Part
from checker.notation.write import with_unit, write_quantity
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
    asked.check_form("a difference from a standard size", of=STANDARD_SIZE)
    if given.unit is None and given.is_whole:
        if asked.default is None or asked.is_metric:
            raise NotationError(f"{asked.text!r} has no unit", (f"{given.text} thou", f"{given.text} mm"))
        given = given._replace(unit=_THOU)
    side = "under" if sign[0].letter == "<" else "over"
    return asked.exactly(_counted(asked, given, f"{side} the standard size"), f"{side} the standard size")


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
    asked.check_form("a pair of undersizes, mains and rods", of=STANDARD_SIZE)
    pair_of_sizes = [
        _counted(asked, Amount(asked.text, float(size), _THOU, "w"), "under the standard size")
        for size in (mains, rods)
    ]
    return asked.each("part", pair_of_sizes, "mains and rods, each under the standard size")


def inch_thread(asked: Asked, size: Sequence[Part], count: Sequence[Part]) -> Written | None:
    """Reads "7/16-20": the diameter; the pitch is kept as a note."""
    per_inch = amount(count)
    if not per_inch.is_whole or per_inch.number < 4:
        return None
    asked.check_form("a thread", f"{size[0].text} in", of=THREAD)
    pitch = write_quantity(_INCH.factor / per_inch.number, _INCH)
    return asked.exactly(amount(size)._replace(unit=_INCH), f"thread: {per_inch.text} per inch, pitch {pitch}")


def metric_thread(asked: Asked, size: Sequence[Part], pitch: Sequence[Part]) -> Written:
    """Reads "M8x1.25": the diameter; the pitch is kept as a note."""
    asked.check_form("a thread", f"{size[0].text} mm", of=THREAD)
    return asked.exactly(amount(size)._replace(unit=_MM), f"thread: pitch {pitch[0].text} mm")


def torque_steps(asked: Asked, numbers: Sequence[Part], units: Sequence[Part]) -> Written | None:
    """Reads "40-70-100": torque steps, in order."""
    steps = [amount([part]) for part in numbers if part.letter == "n"]
    asked.check_form("a row of torque steps", *(step.text for step in steps), of=TIGHTENING)
    if any(later.number <= sooner.number for sooner, later in pairwise(steps)):
        raise NotationError(f"{asked.text!r}: torque steps that do not rise")
    return asked.each("step", steps, "torque steps", unit=units[0].unit if units else None)


def torque_then_angle(asked: Asked, torque: Sequence[Part], angle: Sequence[Part]) -> Written:
    """Reads "65 Nm + 90": the part that is asked for; the other is kept as a note."""
    first, second = amount(torque), amount(angle)
    second = second._replace(unit=second.unit or _DEGREE)
    fits = second.unit.kind == "angle" if second.unit else False
    if fits and asked.is_counted_from(TIGHTENING) and (first.unit is None or first.unit.kind == "torque"):
        then = f"then a further {second.text} {_DEGREE.name if second.unit is None else second.unit.name}"
        return asked.exactly(first, f"{then}: the final torque is not known")._replace(meaning=BEFORE_AN_ANGLE)
    if fits and asked.is_counted_from(TIGHTENING_ANGLE) and first.unit and first.unit.kind == "torque":
        return asked.exactly(second, f"after {first.text} {first.unit.name}")
    written = [_texts(part) for part in (torque, angle)]
    unit = first.unit or amount(angle).unit
    if unit in (None, amount(angle).unit or unit):
        total = f"{first.number + second.number:.9g}" + (f" {unit.name}" if unit else "")
        raise NotationError(f"{asked.text!r}: a sum, or two values?", (*written, total))
    raise NotationError(f"{asked.text!r}: two values where one is asked for", tuple(written))


def _texts(parts: Sequence[Part]) -> str:
    return " ".join(part.text for part in parts)


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
    asked.check_form("a share of the bore", of=BORE_SHARE)
    quotient = given._replace(number=given.number * above.factor / below.factor, unit=_NUMBER)
    return asked.exactly(quotient, f"{above.name} per {below.name}")


def times_bore(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads ".0045 x bore"."""
    asked.check_form("a share of the bore", of=BORE_SHARE)
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
    asked.check_form("a direction on the clock", of=CLOCK)
    if not given.is_whole or not 1 <= given.number <= 12:
        raise NotationError(f"{asked.text!r}: no such hour")
    angle = given._replace(number=given.number % 12 * 30, unit=_DEGREE)
    return asked.exactly(angle, "clockwise from the zero the characteristic states")


def counted(asked: Asked, group: Sequence[Part], word: Sequence[Part]) -> Written:
    """Reads "109 ATDC", "7cc dish", ".005 in the hole": turned round where the characteristic counts the other way."""
    given, way = amount(group), COUNTINGS[word[0].counted]
    if way.kind != asked.expected.kind:
        raise NotationError(f"{word[0].text!r} says {way.kind}; {asked.expected.kind} is asked for")
    given = given._replace(unit=given.unit or (UNITS[way.unit] if way.unit else None))
    own = _counted(asked, given, word[0].counted)
    note = f"counted {word[0].counted}"
    if asked.counting is not None and asked.counting.sign != way.sign:
        note += f": {with_unit(f'{own.number:.9g}', asked.unit_of(own))} {asked.counted}"
    notes = (note, "the word counts, not the sign") if way.gives_the_sign and given.number < 0 else (note,)
    return asked.exactly(own, *notes)


def counted_first(asked: Asked, word: Sequence[Part], group: Sequence[Part]) -> Written:
    """Reads "dish 7cc"."""
    return counted(asked, group, word)


def _counted(asked: Asked, given: Amount, counted: str) -> Amount:
    """A number counted in one way, as it is in the way asked for."""
    own, way = asked.counting, COUNTINGS[counted]
    if own is None or not own.takes(way):
        size = with_unit(given.text, given.unit) if given.unit and given.unit.name != way.unit else given.text
        readings = tuple(f"{size} {word}" for word in _words_for(own))
        stated = f"this is counted {asked.counted}" if asked.counted else "this has no such reference"
        raise NotationError(f"{asked.text!r} is counted {counted}; {stated}", readings)
    number = abs(given.number) if way.gives_the_sign else given.number
    return given._replace(number=number * way.sign * own.sign, sign_is_clear=True)


def _words_for(own: Counting | None) -> tuple[str, ...]:
    """A word for each way to count from a reference."""
    if own is None or not own.reference:
        return ()
    return tuple(way.words[0] for way in COUNTINGS.values() if way.words and own.takes(way))


def deck(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "zero deck", which is shop talk; any other number may be below the deck or above."""
    given = amount(group)
    asked.check_form("a distance from the deck", of=DECK)
    if given.number:
        size = given.text.lstrip("+-")
        readings = (f"{size} in the hole", f"{size} out of the hole")
        raise NotationError(f"{asked.text!r}: below or above the deck? tables differ", readings)
    low, high = (Amount(given.text, number, _THOU, "w") for number in (-2.0, 2.0))
    return asked.between(low, high, "zero deck is shop talk: taken as within 0.002 in")


def deck_height(asked: Asked, group: Sequence[Part]) -> Written:
    """Reads "deck 9.025"."""
    asked.check_form("a deck height", of=DECK_HEIGHT)
    return asked.exactly(amount(group), "deck height of the block")
