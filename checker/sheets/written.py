"""Texts in cells: numbers without binary noise, units behind bare numbers."""

from __future__ import annotations

from checker.notation.read import NotationError, read_quantity
from checker.records.notes import NOT_MEASURED
from checker.units.units import Unit

_MOST_DECIMALS = 9  # as many as a quantity may be written with


def number_text(number: float) -> str:
    """A number as a spreadsheet shows it in full: fifteen digits, the noise of binary fractions left out."""
    text = f"{number:.15g}"
    _, _, decimals = text.partition(".")
    return f"{number:.8e}" if len(decimals) > _MOST_DECIMALS else text


def with_unit(text: str, unit: Unit) -> str:
    """The text with the unit behind it that it lacks.

    Raises NotationError for what cannot be read with it nor without.
    """
    if text.lower() in NOT_MEASURED or _reads(text, unit):
        return text
    fuller = f"{text} {unit.name}"
    if not _reads(fuller, unit):
        read_quantity(text, unit, unit)
    return fuller


def _reads(text: str, unit: Unit) -> bool:
    try:
        read_quantity(text, unit)
    except NotationError:
        return False
    return True
