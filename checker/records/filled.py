"""What is already written down of each characteristic by station, whatever shape the record gave it, and as YAML."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from checker.documents.write import key, scalar
from checker.frozen import FrozenMapping
from checker.records.notes import ASSEMBLY, Note, is_measured

_AS_WORDS = {"above": "above {0}", "below": "below {0}", "between": "{0} to {1}"}


class Filled(NamedTuple):
    """The texts written for one station; `form` is "value", "readings", or an end such as "above"."""

    texts: tuple[str, ...]
    circumstances: Mapping[str, str] = FrozenMapping({})
    form: str = "value"

    @property
    def in_words(self) -> tuple[str, ...]:
        """The texts with an open end said in words."""
        pattern = _AS_WORDS.get(self.form)
        if pattern is None:
            return self.texts
        return (pattern.replace("{0}", self.texts[0]).replace("{1}", self.texts[-1]),)

    @property
    def is_measured(self) -> bool:
        """Whether a value is written, and not only that there is none."""
        return any(map(is_measured, self.texts))

    @property
    def is_blank(self) -> bool:
        """Whether a space was left for it and nothing more."""
        return not any(self.texts) and not self.circumstances


BLANK = Filled(())


def filled_in(notes: Iterable[Note], per: Mapping[str, str | None]) -> dict[str, dict[str, Filled]]:
    """By characteristic and station; the assembly's own values stand under ASSEMBLY.

    `per` gives the station set of each characteristic.
    """
    stations_of: dict[str, dict[str, Filled]] = {}
    for note in notes:
        stations = stations_of.setdefault(note.characteristic, {})
        if note.form == "listed" and per.get(note.characteristic) is None:
            before = stations.get(ASSEMBLY, Filled(()))
            stations[ASSEMBLY] = Filled((*before.texts, *note.written), note.circumstances, "readings")
        else:
            form = "value" if note.form == "listed" else note.form
            stations[note.station] = Filled(note.written, note.circumstances, form)
    return stations_of


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
