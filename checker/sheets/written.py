"""Texts in cells: numbers without binary noise, units behind bare numbers."""

from __future__ import annotations

from checker.notation.counting import COUNTINGS
from checker.notation.read import NotationError, read_quantity
from checker.records.notes import NOT_MEASURED
from checker.units.units import Unit


def number_text(number: float) -> str:
    """A number as a spreadsheet shows it in full: fifteen digits, the noise of binary fractions left out."""
    return f"{number:.15g}"


def with_unit(text: str, unit: Unit) -> str:
    """The text with the unit behind it that it lacks.

    Raises NotationError for what cannot be read with it nor without.
    """
    fuller = f"{text} {unit.name}"
    if text.lower() in NOT_MEASURED:
        return text
    for counted in ("", *(name for name, way in COUNTINGS.items() if way.kind == unit.kind)):
        for way in (text, fuller):
            if _reads(way, unit, counted):
                return way
    read_quantity(text, unit, unit)
    return fuller


def _reads(text: str, unit: Unit, counted: str) -> bool:
    try:
        read_quantity(text, unit, None, counted)
    except NotationError:
        return False
    return True
