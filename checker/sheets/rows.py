"""The rows of a sheet, one for each station, as CSV and workbooks have them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from checker.documents.write import flow, key
from checker.notation.read import NotationError
from checker.records.filled import BLANK
from checker.records.notes import FACTS, SECTIONS
from checker.records.reading_keys import CIRCUMSTANCES
from checker.sheets.headings import NESTED
from checker.sheets.plan import Line, Sheet
from checker.sheets.written import with_unit
from checker.units.units import UNITS, bare_unit


@dataclass(frozen=True, slots=True)
class Row:
    """One station: the texts that are written there already, and what it should come to."""

    station: str
    where: str
    texts: tuple[str, ...]
    circumstances: Mapping[str, str]
    target: str


def rows_of(line: Line, sheet: Sheet) -> Iterator[Row]:
    """The rows of one characteristic; whatever is written for all stations, or for none by name, comes first."""
    spots = {spot.station: (number, spot.where) for number, spot in enumerate(line.asked_at)}
    others = [station for station in line.filled if station not in spots]
    for station in (*others, *spots):
        filled = line.filled.get(station, BLANK)
        number, where = spots.get(station, (0, station))
        texts = tuple(_text(text, line, sheet) for text in filled.in_words)
        circumstances = {name: filled.circumstances.get(name, "") for name in CIRCUMSTANCES}
        yield Row(station, where, texts, circumstances, target_words(line, number))


def head_of(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """What the record says besides readings, key by key; what is nested as YAML on one line."""
    document = sheet.record.document
    for name, given in document.data.items():
        if name not in SECTIONS:
            plain = isinstance(given, str) and given == given.strip() and not given.startswith(NESTED)
            yield name, given if plain else flow(document, name)
    if sheet.facts:
        stated = ", ".join(f"{key(line.name)}: {flow(document, FACTS, line.name)}" for line in sheet.facts)
        yield FACTS, f"{{{stated}}}"


def guidance(line: Line) -> str:
    """How to measure: with what, and how to hold it; and what it can be."""
    stated = line.item.characteristic
    choices = f"one of: {', '.join(stated.choices)}" if stated.choices else ""
    return ". ".join(text.rstrip(".") for text in (stated.with_, stated.how, choices) if text)


def target_words(line: Line, station: int) -> str:
    """All targets of one station in a line of text."""
    return " | ".join(f"{target.title}: {target.at(station)}" for target in line.targets)


def _text(text: str, line: Line, sheet: Sheet) -> str:
    """A text as written; a bare number gets its unit where the sheet would take it for another."""
    if line.item.characteristic.series and not text:
        return "-"  # a blank cell would close the gap in the series
    if line.unit is None:
        return text
    usual = bare_unit(line.item.unit or line.unit, UNITS.get(sheet.report.context.units.get(line.unit.kind, "")))
    if usual is None or usual == line.unit:
        return text
    try:
        return with_unit(text, usual, line.item.notation)
    except NotationError:
        return text
