"""Writing one more value into the text of a record, so that all else stays: order, shapes, comments.

An edit is never trusted: the new text is read back and must say what the old one said, and the new value. Where the
text is laid out in a way that no edit fits, the record is written again, and only then its comments are lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from checker.documents.document import Document, parse_yaml
from checker.documents.write import flow, key
from checker.errors import InputError
from checker.records.filled import BLANK, Filled, entry_lines, filled_in, value_text
from checker.records.notes import FACTS, SECTIONS
from checker.records.record import Record, record_in

Stations: TypeAlias = Mapping[str, Filled | None]

_ON_ONE_LINE = re.compile(r"( *[^:#]+:)(?: +(?:\{.*\}|\[.*\]|\"[^\"]*\"|'[^']*'|[^\s#][^#]*?))?( +#.*)?")


def with_value(text: str, source: str, name: str, station: str, filled: Filled, per: Mapping[str, str | None]) -> str:
    """The text of a YAML record with this written at a station; `per` gives the stations of each characteristic.

    Raises InputError where the text is no record.
    """
    old = _read(text, source)
    before = filled_in(old.notes, per)
    stations: Stations = {**before.get(name, {}), station: filled}
    wanted = {**before, name: stations}
    for edited in _Edits(text, old.document).all(name, station, wanted):
        if _says(edited, source, old, wanted, per):
            return edited
    anew = _ending(text).join([*_anew(old, wanted), ""])
    if not _says(anew, source, old, wanted, per):
        raise RuntimeError(f"{source} cannot be written so that it reads back the same")
    return anew


def _read(text: str, source: str) -> Record:
    return record_in(parse_yaml(text.encode(), source))


def _says(text: str, source: str, old: Record, wanted: Mapping[str, Stations], per: Mapping[str, str | None]) -> bool:
    """Whether a text says all that is wanted, and of everything else what the old record says."""
    try:
        new = _read(text, source)
    except InputError:
        return False
    is_alike = _rest(new.document) == _rest(old.document) and _facts(new) <= _facts(old)
    # What nobody measured is no reading, and the other way round.
    is_alike = is_alike and _facts(old).isdisjoint(note.characteristic for note in new.readings)
    return is_alike and _essence(filled_in(new.notes, per)) == _essence(wanted)


def _facts(record: Record) -> frozenset[str]:
    return frozenset(note.characteristic for note in record.facts)


def _essence(state: Mapping[str, Stations]) -> dict[tuple[str, str], Any]:
    return {
        (name, station): (filled.in_words, dict(filled.circumstances))
        for name, stations in state.items()
        for station, filled in stations.items()
        if filled is not None and not filled.is_blank
    }


def _rest(document: Document) -> dict[str, Any]:
    return {name: given for name, given in document.data.items() if name not in SECTIONS}


def _anew(record: Record, wanted: Mapping[str, Stations]) -> Iterator[str]:
    for name in _rest(record.document):
        yield f"{key(name)}: {flow(record.document, name)}"
    facts = _facts(record)
    for section, is_fact in ((FACTS, True), ("readings", False)):
        lines = [line for name, own in wanted.items() if (name in facts) is is_fact for line in entry_lines(name, own)]
        yield from (f"{section}:", *lines) if lines else ()


def _ending(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


class _Edits:
    """The lines of a text, and the ways to write a value into them: the one that touches least comes first."""

    def __init__(self, text: str, document: Document) -> None:
        self.ending = _ending(text)
        self.lines = text.split(self.ending)
        self.document = document

    def all(self, name: str, station: str, wanted: Mapping[str, Stations]) -> Iterator[str]:
        """`wanted` is all that is to be written, this value included."""
        section = FACTS if name in self.document.data.get(FACTS, {}) else "readings"
        if section not in self.document.data:
            yield from self.in_new_section(section, wanted)
            return
        given = self.document.data[section]
        if name in given:
            yield from self.in_its_line(given[name], (section, name), station, wanted[name])
            yield from self.in_its_entry((section, name), wanted[name])
        else:
            yield from self.added(section, bool(given), name, wanted[name])
        yield from self.in_its_section(section, {other: wanted[other] for other in (*given, name) if other in wanted})

    def in_its_line(self, given: Any, path: tuple[str, ...], station: str, stations: Stations) -> Iterator[str]:
        """Where the station, or the characteristic that has but one, stands on a line of its own."""
        filled = stations[station] or BLANK
        if isinstance(given, Mapping) and "values" in given:
            given, path = given["values"], (*path, "values")
        start, end = self.span(path)
        if isinstance(given, Mapping) and station not in given and end > start + 1:
            yield self.joined(end, end, [f"{self.inner_indent(start)}{key(station)}: {value_text(filled)}"])
            return
        start, end = self.span((*path, station) if isinstance(given, Mapping) else path)
        match = _ON_ONE_LINE.fullmatch(self.lines[start])
        if match and end == start + 1 and (isinstance(given, Mapping) or len(stations) == 1):
            yield self.joined(start, end, [f"{match[1]} {value_text(filled)}{match[2] or ''}"])

    def in_its_entry(self, path: tuple[str, ...], stations: Stations) -> Iterator[str]:
        """Where the characteristic begins on a line of its own: all its lines are written again."""
        start, end = self.span(path)
        first, *more = entry_lines(path[-1], stations, " " * self.indent(start))
        yield self.joined(start, end, [first + self.remark(start), *more])

    def added(self, section: str, has_entries: bool, name: str, stations: Stations) -> Iterator[str]:
        """Behind the last entry of the section."""
        start, end = self.span((section,))
        if has_entries:
            yield self.joined(end, end, list(entry_lines(name, stations, self.inner_indent(start))))

    def in_its_section(self, section: str, wanted: Mapping[str, Stations]) -> Iterator[str]:
        """Where the section is laid out otherwise, all in braces or empty: all its lines are written again."""
        start, end = self.span((section,))
        lines = [line for name, stations in wanted.items() for line in entry_lines(name, stations)]
        yield self.joined(start, end, [f"{section}:{self.remark(start)}", *lines])

    def in_new_section(self, section: str, wanted: Mapping[str, Stations]) -> Iterator[str]:
        """Where there is no such section yet, or one without entries: under its name, at the end where it is new."""
        facts = self.document.data.get(FACTS, {})
        lines = [line for name, own in wanted.items() if name not in facts for line in entry_lines(name, own)]
        start = next((number for number, line in enumerate(self.lines) if line.startswith(f"{section}:")), None)
        if start is None:
            behind = len(self.lines) - (self.lines[-1] == "")
            yield self.joined(behind, behind, [f"{section}:", *lines])
        else:
            yield self.joined(start + 1, start + 1, lines)

    def span(self, path: tuple[str, ...]) -> tuple[int, int]:
        """The lines of what stands at a path; blank lines and remarks behind it are left to what follows."""
        start = (self.document.place(*path).line or 1) - 1
        indent = self.indent(start)
        end = start + 1
        for number in range(start + 1, len(self.lines)):
            if self.is_content(number):
                if self.indent(number) <= indent:
                    break
                end = number + 1
        return start, end

    def remark(self, number: int) -> str:
        """The remark behind what stands on a line of its own."""
        match = _ON_ONE_LINE.fullmatch(self.lines[number])
        return match[2] or "" if match else ""

    def inner_indent(self, start: int) -> str:
        """The indent of the first line inside what begins here."""
        first = next(number for number in range(start + 1, len(self.lines) + 1) if self.is_content(number))
        return " " * self.indent(first)

    def is_content(self, number: int) -> bool:
        text = self.lines[number].strip() if number < len(self.lines) else "end"
        return bool(text) and not text.startswith("#")

    def indent(self, number: int) -> int:
        line = self.lines[number] if number < len(self.lines) else ""
        return len(line) - len(line.lstrip(" "))

    def joined(self, start: int, end: int, instead: Sequence[str]) -> str:
        return self.ending.join([*self.lines[:start], *instead, *self.lines[end:]])
