"""Making a record of what the tables of a sheet say; every value keeps its cell."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence, Set
from itertools import pairwise

from checker.documents.document import Document
from checker.documents.scalars import ScalarError, plain_value
from checker.documents.tree import Findings, KeyPath, Tree, dotted
from checker.documents.yaml_events import read_yaml
from checker.errors import InputError, Place, Problem
from checker.grouping import grouped
from checker.records.notes import ASSEMBLY
from checker.records.record import Record, bare_record, record_in
from checker.sheets.grid import Cell
from checker.sheets.headings import NESTED
from checker.sheets.tables import Contents, Entry

_NUMBERS = ("record", "probability")
_ONE_OF_TWO = "one of the two was changed by hand: correct it, or empty the words"


def record_of(contents: Contents, raw: bytes, source: str, name: str) -> Record:
    """The record that a sheet holds; one without the keys of a record is bare readings, called by the file's name.

    Raises InputError with the cell of each problem.
    """
    builder = _Builder(source)
    try:
        builder.build(contents)
        document = builder.document(hashlib.sha256(raw).hexdigest())
        if not contents.head:
            return bare_record(document, name)
        record = record_in(document)
    except InputError as error:
        raise InputError([builder.placed(problem) for problem in error.problems]) from None
    named = {(name, str(number)) for kind in record.stations for number, name in enumerate(kind.names, 1)}
    problems = [*_other_stations(contents.entries, named, source), *_other_titles(contents.titles, source)]
    if problems:
        raise InputError(problems)
    return record


def _other_stations(entries: Sequence[Entry], named: Set[tuple[str, str]], source: str) -> Iterator[Problem]:
    """Stations that are not those which the words beside them call so; some are `named` by the record itself."""
    known = {name for name, _ in named}
    for entry in entries:
        number = None if entry.where in known else re.search(r"(?:^| )([1-9][0-9]?)$", entry.where)
        is_another = number is not None and number[1] != entry.station
        if is_another or (entry.where in known and (entry.where, entry.station) not in named):
            message = f"station {entry.station!r} stands beside the words {entry.where!r}"
            yield Problem(message, entry.cell.place(source, f"readings.{entry.characteristic}"), _ONE_OF_TWO)


def _other_titles(titles: Mapping[str, Mapping[str, Cell]], source: str) -> Iterator[Problem]:
    """Names that stand beside the words for another characteristic."""
    for name, stated in titles.items():
        first, *others = stated
        for other in others:
            message = f"{name} stands beside the words {other!r}, elsewhere beside {first!r}"
            yield Problem(message, stated[other].place(source, f"readings.{name}"), _ONE_OF_TWO)


class _Builder:
    """Feeds a document's tree, remembering the cell that each path of keys came from."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.findings = Findings(source)
        self.tree = Tree(self.findings)
        self.cells: dict[KeyPath, Cell] = {}
        self.current: Cell | None = None

    def build(self, contents: Contents) -> None:
        self.tree.open({}, (1, 1))
        for key, cell in contents.head:
            self.section(key, cell)
        self.findings.settle()
        self.key("readings", contents.entries[0].cell if contents.entries else Cell("", 1, 1, ""))
        self.tree.open({}, (1, 1))
        for name, entries in grouped(contents.entries, lambda entry: entry.characteristic).items():
            self.characteristic(name, entries)
        self.tree.close()
        self.tree.close()
        self.findings.settle()

    def section(self, key: str, cell: Cell) -> None:
        at = (cell.line, cell.column)
        self.key(key, cell)
        self.current = cell
        if cell.text.startswith(NESTED):
            read_yaml(cell.text, self.tree)
        elif key in _NUMBERS:
            self.tree.scalar(self.number(cell), cell.text, at)
        else:
            self.tree.scalar(cell.text, cell.text, at)

    def number(self, cell: Cell) -> str | float | bool | None:
        try:
            return plain_value(cell.text)
        except ScalarError as error:
            self.tree.problem(error.message, (cell.line, cell.column), error.hint)
            return None

    def characteristic(self, name: str, entries: Sequence[Entry]) -> None:
        stations = grouped(entries, lambda entry: entry.station)
        self.key(name, entries[0].cell)
        if set(stations) == {ASSEMBLY}:
            self.station(entries)
            return
        self.tree.open({}, (entries[0].cell.line, entries[0].cell.column))
        for station, own in stations.items():
            if station == ASSEMBLY:
                self.refuse("no station is named, but others of this characteristic are", own[0])
                continue
            self.key(station, own[0].cell)
            self.station(own)
        self.tree.close()

    def station(self, entries: Sequence[Entry]) -> None:
        """The values at one station, with what was noted beside them."""
        ordered = sorted(entries, key=lambda entry: entry.number)
        for before, after in pairwise(ordered):
            if before.number == after.number and before.number:
                self.refuse(f"reading {before.number} is already written in {before.cell.address}", after)
        first = entries[0].cell
        texts = [(entry.text, entry.cell) for entry in ordered]
        # Of a series it counts that one is lacking between others.
        numbers = {entry.number for entry in ordered}
        lacking = set(range(1, max(numbers) + 1)) - numbers if 0 not in numbers else set()
        for number in sorted(lacking):
            texts.insert(number - 1, ("", first))
        self.tree.open({}, (first.line, first.column))
        self.key("value" if len(texts) == 1 else "readings", first)
        if len(texts) == 1:
            self.scalar(*texts[0])
        else:
            self.tree.open([], (first.line, first.column))
            for text, cell in texts:
                self.scalar(text, cell)
            self.tree.close()
        for role, text in self.shared(entries).items():
            self.key(role, first)
            self.scalar(text, first)
        self.tree.close()

    def shared(self, entries: Sequence[Entry]) -> Mapping[str, str]:
        """What was noted at one station: of several notes all, of anything else one that all readings agree on."""
        values: dict[str, str] = {}
        for entry in entries:
            for role, text in entry.circumstances.items():
                known = values.setdefault(role, text)
                if role == "note" and text not in known:
                    values[role] = f"{known}; {text}"
                elif role != "note" and text != known:
                    self.refuse(f"{role}: {text!r}, but {known!r} beside another reading of this station", entry)
        return values

    def key(self, text: str, cell: Cell) -> None:
        self.tree.key(text, (cell.line, cell.column))
        self.cells[self.tree.path] = cell

    def scalar(self, text: str, cell: Cell) -> None:
        self.cells[self.tree.path] = cell
        self.tree.scalar(text, text, (cell.line, cell.column))

    def refuse(self, message: str, entry: Entry) -> None:
        self.cells[self.tree.path] = entry.cell
        self.tree.problem(message, (entry.cell.line, entry.cell.column))

    def document(self, digest: str) -> Document:
        tree = self.tree
        cells = {path: self.cell_of(path) for path in tree.positions}
        positions = {path: (cell.line, cell.column) if cell else (1, 1) for path, cell in cells.items()}
        addresses = {path: cell.address for path, cell in cells.items() if cell}
        return Document(tree.data, self.source, digest, positions, tree.texts, addresses)

    def cell_of(self, path: KeyPath) -> Cell | None:
        upwards = (path[:count] for count in range(len(path), 0, -1))
        return next((self.cells[known] for known in upwards if known in self.cells), None)

    def placed(self, problem: Problem) -> Problem:
        """The same problem with the cell its keys came from; the tree knows lines and columns only."""
        place = problem.place
        if place is None or place.cell:
            return problem
        by_key = {dotted(path): cell for path, cell in self.cells.items()}
        ends = [end.start() for end in re.finditer("[.,]|$", place.key)]
        known = (place.key[:end] for end in reversed(ends))
        cell = next((by_key[key] for key in known if key in by_key), self.current)
        there = cell.place(self.source, place.key) if cell else Place(self.source, key=place.key)
        return Problem(problem.message, there, problem.hint)
