"""A record of measurements as written: its structure is checked, its words are not yet understood."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from checker.document import Document, read_document
from checker.errors import InputError, Place, Problem, nearest
from checker.schemas import problems as schema_problems
from checker.versions import is_range

ALL = "all"
ASSEMBLY = ""
CIRCUMSTANCES = ("with", "taken", "by", "note", "temperature")
_WHOLE_KEYS = (*CIRCUMSTANCES, "values", ALL)
_OPEN_KEYS = ("above", "below", "between")
_STATION_KEYS = (*CIRCUMSTANCES, "value", "readings", *_OPEN_KEYS)
NOT_MEASURED = ("", "-", "?", "not measured")


@dataclass(frozen=True, slots=True)
class Note:
    """One value as written down, with the circumstances stated for it."""

    characteristic: str
    station: str
    written: tuple[str, ...]
    place: Place
    form: str = "value"
    circumstances: Mapping[str, str] = field(default_factory=dict)

    @property
    def stands_for_all(self) -> bool:
        """Whether one value was written for every station."""
        return self.station == ALL


@dataclass(frozen=True, slots=True)
class Record:
    """What was built and what was written down about it."""

    document: Document
    assembly: str
    application: str
    before: str | None
    rule_packs: Mapping[str, str]
    notes: tuple[Note, ...]

    @property
    def digest(self) -> str:
        return self.document.digest

    @property
    def source(self) -> str:
        return self.document.source

    def section(self, name: str) -> Any:
        """A section of the file as plain data; empty when absent."""
        return self.document.data.get(name, {})

    def judged_for(self, application: str) -> Record:
        """The same record for another application."""
        return replace(self, application=application)


def read_record(path: str | Path) -> Record:
    """Read a record file (YAML or JSON).

    Raises InputError naming every problem found in its structure.
    """
    return record_from(read_document(Path(path)))


def record_from(document: Document) -> Record:
    """The record in a document that was read elsewhere."""
    problems = schema_problems(document, "record")
    if problems:
        raise InputError(problems)
    data = document.data
    for name, allowed in data["rule_packs"].items():
        if not is_range(allowed):
            problems.append(Problem("not a version range such as '>=1,<2'", document.place("rule_packs", name)))
    notes = tuple(note for section in ("facts", "readings") for note in _notes(document, section, problems))
    problems.extend(_twice(notes))
    if problems:
        raise InputError(problems)
    return Record(document, data["assembly"], data["application"], data.get("before"), data["rule_packs"], notes)


def _twice(notes: tuple[Note, ...]) -> Iterator[Problem]:
    seen: dict[tuple[str, str], Note] = {}
    for note in notes:
        key = (note.characteristic, note.station)
        if key in seen:
            first = seen[key].place
            yield Problem(f"{note.characteristic} is written down twice", note.place, f"first in line {first.line}")
        seen[key] = note


def _notes(document: Document, section: str, problems: list[Problem]) -> Iterator[Note]:
    for name, given in document.data.get(section, {}).items():
        path = (section, name)
        if not isinstance(given, Mapping):
            yield from _values(document, path, given, {}, problems)
        elif any(key in given for key in (*_WHOLE_KEYS, *_OPEN_KEYS)):
            yield from _described(document, path, given, problems)
        else:
            yield from _by_station(document, path, given, {}, problems)


def _described(
    document: Document, path: tuple[str | int, ...], given: Mapping[str, Any], problems: list[Problem]
) -> Iterator[Note]:
    """Values with circumstances that hold for all of them."""
    circumstances = {key: document.written(*path, key) for key in CIRCUMSTANCES if key in given}
    rest = {key: value for key, value in given.items() if key not in CIRCUMSTANCES}
    if "values" in rest:
        for key in rest:
            if key != "values":
                problems.append(_unknown(document, (*path, key), key, _WHOLE_KEYS))
        yield from _values(document, (*path, "values"), rest["values"], circumstances, problems)
    elif any(key in rest for key in _OPEN_KEYS):
        yield from _at_station(document, path, ASSEMBLY, given, {}, problems)
    else:
        yield from _by_station(document, path, rest, circumstances, problems)


def _values(
    document: Document,
    path: tuple[str | int, ...],
    given: Any,
    circumstances: Mapping[str, str],
    problems: list[Problem],
) -> Iterator[Note]:
    if isinstance(given, list):
        yield from _listed(document, path, given, circumstances, problems)
    elif isinstance(given, Mapping):
        yield from _by_station(document, path, given, circumstances, problems)
    else:
        yield from _scalar(document, path, ASSEMBLY, circumstances)


def _listed(
    document: Document,
    path: tuple[str | int, ...],
    given: list[Any],
    circumstances: Mapping[str, str],
    problems: list[Problem],
) -> Iterator[Note]:
    """A list counts stations from 1; for one value of the assembly it is several readings (decided later)."""
    if any(isinstance(value, list | Mapping) for value in given):
        for number, value in enumerate(given):
            yield from _at_station(document, (*path, number), str(number + 1), value, circumstances, problems)
        return
    for number in range(len(given)):
        yield from _scalar(document, (*path, number), str(number + 1), circumstances, "listed")


def _by_station(
    document: Document,
    path: tuple[str | int, ...],
    given: Mapping[str, Any],
    circumstances: Mapping[str, str],
    problems: list[Problem],
) -> Iterator[Note]:
    for station, value in given.items():
        yield from _at_station(document, (*path, station), station, value, circumstances, problems)


def _at_station(
    document: Document,
    path: tuple[str | int, ...],
    station: str,
    given: Any,
    circumstances: Mapping[str, str],
    problems: list[Problem],
) -> Iterator[Note]:
    name = str(path[1])
    if isinstance(given, Mapping):
        own = {key: document.written(*path, key) for key in CIRCUMSTANCES if key in given}
        merged = {**circumstances, **own}
        forms = [key for key in given if key not in CIRCUMSTANCES]
        for key in forms:
            if key not in _STATION_KEYS:
                problems.append(_unknown(document, (*path, key), key, _STATION_KEYS))
        if len(forms) != 1:
            expected = "one of value, readings, above, below, between"
            problems.append(Problem(f"expected {expected}", document.place(*path)))
            return
        form = forms[0]
        inner = given[form]
        several = isinstance(inner, list)
        texts = (
            tuple(document.written(*path, form, n) for n in range(len(inner)))
            if several
            else (document.written(*path, form),)
        )
        shape = {"value": "value", "readings": "readings"}.get(form, form)
        yield Note(name, station, texts, document.place(*path), shape, merged)
    elif isinstance(given, list):
        if any(isinstance(value, list | Mapping) for value in given):
            problems.append(Problem("expected plain readings in this list", document.place(*path)))
            return
        texts = tuple(document.written(*path, number) for number in range(len(given)))
        yield Note(name, station, texts, document.place(*path), "readings", circumstances)
    else:
        yield from _scalar(document, path, station, circumstances)


def _scalar(
    document: Document, path: tuple[str | int, ...], station: str, circumstances: Mapping[str, str], form: str = "value"
) -> Iterator[Note]:
    yield Note(str(path[1]), station, (document.written(*path),), document.place(*path), form, circumstances)


def _unknown(document: Document, path: tuple[str | int, ...], key: str, known: tuple[str, ...]) -> Problem:
    return Problem(f"unknown key {key!r}", document.place(*path), nearest(key, known))
