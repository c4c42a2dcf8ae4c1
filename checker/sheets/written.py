"""Texts in cells: numbers without binary noise, units behind bare numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence

from checker.notation.parts import UnknownWordError, parts_of, plain_text
from checker.notation.read import CommaError, NotationError, read_quantity
from checker.notation.vocabulary import PLAIN, Notation, Part
from checker.records.notes import is_measured
from checker.units.units import Unit

_NUMBER = re.compile("[s+]?[nfw]h?")
"""The letters of a number's parts, before a unit."""


def number_text(number: float) -> str:
    """A number as a spreadsheet shows it in full: fifteen digits, the noise of binary fractions left out."""
    return f"{number:.15g}"


def with_unit(text: str, unit: Unit, notation: Notation = PLAIN) -> str:
    """The text with the unit behind it that it lacks.

    What a comma in it means is told later, by what is possible. Raises NotationError for what else cannot be read with
    the unit nor without.
    """
    fuller = f"{text} {unit.name}"
    if not is_measured(text):
        return text
    for counted in ("", *(name for name, way in notation.ways.items() if way.of == unit.kind)):
        for way in (text, fuller):
            if _reads(way, unit, counted, notation):
                return way
    try:
        read_quantity(text, unit, unit, notation=notation)
    except CommaError:
        if text[-1].isdigit():
            return fuller
        if any(part.unit for part in parts_of(plain_text(text), notation)):
            return text
        raise
    return fuller


def with_unit_in_any_words(text: str, unit: Unit, is_usual: bool = False) -> str:
    """The same where it is not known yet which packs will read it: their words may stand beside the number.

    Behind "1" a bare number says that it has no unit, for without it would take that of the record. One that has a unit
    of its own keeps it, where that is of the kind which the sheet states: else one of the two is wrong. Where the unit
    `is_usual` for the record's bare numbers, words that only packs know stay as they are: "16 tpi" may be a form of its
    own.
    """
    if unit.name in ("1", "ratio") and is_measured(text) and _reads(f"{text} ratio", unit, "", PLAIN):
        return f"{text} ratio"
    try:
        return with_unit(text, unit)
    except NotationError:
        plain, parts = plain_text(text), list[Part]()
        try:
            parts.extend(parts_of(plain, PLAIN))
        except UnknownWordError as error:
            if error.readings:
                raise
            beside = _beside(plain, error.before, unit)
            return text if is_usual else beside
        if any(part.unit for part in parts):
            _require_kind(plain, parts, unit)
            return text
        raise


def _beside(plain: str, before: str, unit: Unit) -> str:
    """A text with a word that is not known yet: its number gets the unit, unless one stands there."""
    rest = plain[len(before) :].strip()
    parts = tuple(parts_of(before, PLAIN))
    _require_kind(plain, parts, unit)
    if _NUMBER.fullmatch("".join(part.letter for part in parts)):
        return f"{before} {unit.name} {rest}"
    if not parts and re.search(r"\d", plain):
        return f"{plain} {unit.name}" if plain[-1].isdigit() else plain
    if parts and parts[-1].unit and parts[-1].text != "in":
        return plain
    # "in" may be inches, or begin such words as "in line".
    number = before.removesuffix("in").strip()
    readings = tuple(f"{number} {name} {word}" for name, word in ((unit.name, f"in {rest}"), ("inch", rest)))
    raise NotationError(f"{plain!r}: in which unit?", readings if number != before else ())


def _require_kind(text: str, parts: Sequence[Part], unit: Unit) -> None:
    """Raises NotationError where all units in a text are of another kind than the one that is stated beside it."""
    kinds = {part.unit.kind for part in parts if part.unit}
    if kinds and unit.kind not in kinds:
        raise NotationError(
            f"{text!r} is {' and '.join(sorted(kinds))}, but the unit beside it, {unit.name}, is {unit.kind}"
        )


def _reads(text: str, unit: Unit, counted: str, notation: Notation) -> bool:
    try:
        read_quantity(text, unit, None, counted, notation)
    except NotationError:
        return False
    return True
