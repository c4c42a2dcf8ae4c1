"""Reading quantities as the trade writes them: never guessed, never repaired in silence."""

from __future__ import annotations

import re
from functools import lru_cache

from checker.notation.amounts import Asked, Span, Written
from checker.notation.forms import read_form
from checker.notation.parts import UnknownWordError, parts_of, plain_text
from checker.notation.vocabulary import PLAIN, CommaError, Meant, Notation, NotationError, Part
from checker.units.units import UNITS, Unit

__all__ = ["CommaError", "NotationError", "Written", "read_quantity"]

_AT_FACE = re.compile(r"((?:0|[1-9]\d{0,17})(?:\.\d{1,30})?|\.\d{1,30}) ?([^\d/].*)?", re.ASCII)
_THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+")
_LOOKED_AT_TWICE = ("thou", "tenths")
"""Units whose numbers are looked at for a slip of the unit."""


def read_quantity(
    text: str, expected: Unit, default: Unit | None = None, counted: str = "", notation: Notation = PLAIN
) -> Written:
    """Read a quantity of the kind of `expected`; a bare number is in the unit `default`.

    `counted` is a way of counting of the notation: so the value is given, and words and forms that do not fit it are
    refused.

    Raises NotationError for what cannot be read, or could be read in more than one way.
    """
    return _read(text, expected, default, counted, notation)


@lru_cache(maxsize=4096)  # a record says the same thing many times
def _read(text: str, expected: Unit, default: Unit | None, counted: str, notation: Notation) -> Written:
    if default is not None and default.kind != expected.kind:
        raise ValueError(f"{default.name} cannot be the unit of bare numbers for {expected.kind}")
    at_face = _at_face(text, expected, default)
    if at_face is not None:
        return at_face
    asked = Asked(plain_text(text), expected, default, counted, notation)
    return _in_form_of_a_trade(text, asked) or _in_words(text, asked)


def _at_face(text: str, expected: Unit, default: Unit | None) -> Written | None:
    """A number and its unit, as most texts are; what it gives, the forms give too, only slower."""
    match = _AT_FACE.fullmatch(text)
    if match is None:
        return None
    bare = expected if default is None and expected is UNITS["1"] else default
    unit = UNITS.get(match[2]) if match[2] else bare
    if unit is None or unit.kind != expected.kind or unit.name in _LOOKED_AT_TWICE:
        return None
    value = unit.to_si(float(match[1]))
    return Written(text, (Span(value, value),), (), unit)


def _in_form_of_a_trade(text: str, asked: Asked) -> Written | None:
    """What the first form of a plugin makes of it: each text it means is read in its turn."""
    for name, form in asked.notation.forms.items():
        match = re.fullmatch(form.pattern, asked.text)
        meant = form.read(match, asked.is_metric) if match else None
        if meant is not None:
            return _meant(text, name, meant, asked)
    return None


def _meant(text: str, name: str, meant: Meant, asked: Asked) -> Written:
    try:
        each = [_in_words(text, asked._replace(text=text)) for text in meant.texts]
    except NotationError as error:
        raise NotationError(f"{text!r} ({name}): {error.message}", error.readings) from None
    spans = tuple(span for written in each for span in written.spans)
    return Written(text, spans, (meant.note,), each[0].unit, each=meant.each)


def _in_words(text: str, asked: Asked) -> Written:
    try:
        parts = tuple(parts_of(asked.text, asked.notation))
    except UnknownWordError as error:
        if readings := tuple(reading for reading in error.readings if _is_read(asked._replace(text=reading))):
            raise NotationError(error.message, readings) from None
        raise NotationError(error.otherwise, _instead(error.before, asked)) from None
    written = read_form(asked, parts)
    if written is None:
        raise _no_form(text, asked.text, parts)
    slips = tuple(part.note for part in parts if part.note)
    return written._replace(text=text, notes=written.notes + slips)


def _instead(before: str, asked: Asked) -> tuple[str, ...]:
    """What stands before a word that is not known, with the words there are: as far as that can be read."""
    for start in (before, before.rpartition(" ")[0]):
        readings = asked.in_words(start) or (start,)
        readable = tuple(reading for reading in readings if _is_read(asked._replace(text=reading)))
        if readable:
            return readable
    return ()


def _is_read(asked: Asked) -> bool:
    try:
        return read_form(asked, tuple(parts_of(asked.text, asked.notation))) is not None
    except NotationError:
        return False


def _no_form(text: str, plain: str, parts: tuple[Part, ...]) -> NotationError:
    number = next((part.text for part in parts if part.letter == "c"), None)
    if number is None:
        return NotationError(f"{text!r} cannot be read as a quantity")
    return CommaError(f"{text!r}: a comma for the point or for thousands?", _comma_readings(plain, number))


def _comma_readings(plain: str, number: str) -> tuple[str, ...]:
    """The number with its last mark as the point where there is one, and with none where it may part thousands."""
    whole, _, decimals = number.replace(".", ",").rpartition(",")
    readings = [f"{whole.replace(',', '')}.{decimals}"] if "," not in whole or _THOUSANDS.fullmatch(whole) else []
    if _THOUSANDS.fullmatch(number):
        readings.append(number.replace(",", ""))
    return tuple(plain.replace(number, reading, 1) for reading in dict.fromkeys(readings))
