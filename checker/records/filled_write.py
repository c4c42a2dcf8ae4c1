"""Writing what is filled in as the YAML of a record, one station a line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from checker.documents.write import key, scalar
from checker.records.filled import Filled
from checker.records.notes import ASSEMBLY


def entry_lines(name: str, stations: Mapping[str, Filled | None], indent: str = "  ") -> Iterator[str]:
    """The lines of one characteristic; a station without anything gets a blank to fill in."""
    if set(stations) == {ASSEMBLY}:
        yield f"{indent}{key(name)}:{_value(stations[ASSEMBLY])}"
        return
    yield f"{indent}{key(name)}:"
    for station, filled in stations.items():
        yield f"{indent}  {key(station)}:{_value(filled)}"


def value_text(filled: Filled) -> str:
    """What is filled in at one station, on one line."""
    several = len(filled.texts) != 1 or filled.form == "between"
    written = f"[{', '.join(map(scalar, filled.texts))}]" if several else scalar(filled.texts[0])
    if filled.form in ("value", "readings") and not filled.circumstances:
        return written
    form = "readings" if several and filled.form == "value" else filled.form
    pairs = [f"{form}: {written}", *(f"{name}: {scalar(text)}" for name, text in filled.circumstances.items())]
    return "{" + ", ".join(pairs) + "}"


def _value(filled: Filled | None) -> str:
    return "" if filled is None or filled.is_blank else f" {value_text(filled)}"
