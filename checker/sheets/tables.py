"""Finding the tables in a grid, and in them what was written down: each value with its cell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

from checker.documents.document import parse_yaml
from checker.errors import MOST_PROBLEMS, TOO_MANY, CheckerError, InputError, Place, Problem, nearest, nearest_name
from checker.notation.read import NotationError
from checker.records.reading_keys import CIRCUMSTANCES
from checker.sheets.grid import Cell, Grid
from checker.sheets.headings import (
    CALLED,
    CHARACTERISTIC,
    FIRST,
    GUIDES,
    KEY,
    READING,
    REMARK,
    ROLES,
    STATION,
    UNIT,
    VALUE,
    reading_column,
    role_of,
)
from checker.sheets.written import with_unit_in_any_words
from checker.units.units import Unit, UnitError, unit

SAVE_WITH_COMMAS = "save it with commas, or as a workbook (.xlsx)"
_LIKE_A_HEADING = 0.8
"""A row of words outside a table is rather a remark than a heading that is spelt wrong."""
_NEEDED = {KEY: {KEY, VALUE}, CHARACTERISTIC: {CHARACTERISTIC, STATION, VALUE}, STATION: {STATION}}
_ALLOWED = {KEY: (KEY, VALUE), CHARACTERISTIC: ROLES, STATION: (STATION, *CIRCUMSTANCES, *GUIDES)}


@dataclass(frozen=True, slots=True)
class Entry:
    """One value of one station, or what was noted there instead of a value; number 0 where none is stated.

    `where` is what a sheet calls its station, empty where it does not.
    """

    characteristic: str
    station: str
    number: int
    text: str
    circumstances: Mapping[str, str]
    cell: Cell
    where: str = ""


@dataclass(frozen=True, slots=True)
class Contents:
    """What a sheet says: keys of the record with their text, values, and what it calls each characteristic where."""

    head: tuple[tuple[str, Cell], ...]
    entries: tuple[Entry, ...]
    titles: Mapping[str, Mapping[str, Cell]]


def contents_of(grids: Sequence[Grid], source: str) -> Contents:
    """Everything written in the tables of some grids; raises InputError with the cell of each problem."""
    reader = _Reader(source)
    for grid in grids:
        reader.read(grid)
    if not reader.has_table and not reader.problems:
        reader.note("no table here", None, f"a table begins with a row whose first cell is {' or '.join(FIRST)}")
    if reader.problems:
        more = [Problem(TOO_MANY, Place(source))] if len(reader.problems) > MOST_PROBLEMS else []
        raise InputError([*reader.problems[:MOST_PROBLEMS], *more])
    return Contents(tuple(reader.head), tuple(reader.entries), reader.titles)


@dataclass(frozen=True, slots=True)
class _Table:
    """The heading of a table: which column has which role, and which hold readings."""

    kind: str
    characteristic: Cell | None
    columns: Mapping[str, int]
    readings: tuple[tuple[int, int, Unit | None], ...]
    width: int


class _Reader:
    def __init__(self, source: str) -> None:
        self.source = source
        self.problems: list[Problem] = []
        self.head: list[tuple[str, Cell]] = []
        self.entries: list[Entry] = []
        self.titles: dict[str, dict[str, Cell]] = {}
        self.has_table = False

    def note(self, message: str, cell: Cell | None, hint: str = "") -> None:
        place = (cell or Cell("", 1, 1, "")).place(self.source)
        self.problems.append(Problem(message, place, hint))

    def read(self, grid: Grid) -> None:
        """Take the rows one by one; a blank row ends a table."""
        table: _Table | None = None
        in_table = False
        for number, row in enumerate(grid.rows):
            if all(cell.is_blank for cell in row):
                table, in_table = None, False
            elif row[0].text.startswith(REMARK):
                continue
            elif _first(row) in FIRST:
                self.has_table, in_table = True, True
                table = self.heading(row, grid.rows[number - 1] if number else ())
            elif table is not None:
                self.row(row, table, grid.is_ragged)
            elif not in_table and _first(grid.rows[number + 1] if number + 1 < len(grid.rows) else ()) != STATION:
                self.stray(row)
                in_table = True  # the rows that follow are part of the same trouble

    def stray(self, row: tuple[Cell, ...]) -> None:
        cell = next(cell for cell in row if not cell.is_blank)
        if ";" in cell.text and role_of(cell.text.split(";")[0]) in FIRST:
            self.note("the columns are parted by semicolons", cell, SAVE_WITH_COMMAS)
        elif near := nearest_name(role_of(cell.text), FIRST, _LIKE_A_HEADING):
            self.note(f"no table begins with {cell.text!r}", cell, f"did you mean {near!r}?")
        else:
            self.note("stands outside every table", cell, f"begin the row with {REMARK} if it is a remark")

    def heading(self, row: tuple[Cell, ...], above: tuple[Cell, ...]) -> _Table | None:
        kind = _first(row)
        before = len(self.problems)
        cells = row[: max(number for number, cell in enumerate(row) if not cell.is_blank) + 1]
        columns: dict[str, int] = {}
        readings = []
        for number, cell in enumerate(cells):
            reading = reading_column(cell.text.casefold()) if kind == STATION else None
            if reading is not None:
                readings.append((number, reading[0], self.unit(reading_column(cell.text)[1], cell)))  # type: ignore[index]
            role = role_of(cell.text) if reading is None else f"{READING} {reading[0]}"
            if role in columns:
                self.note(f"a second column {role!r}", cell, f"the first is {cells[columns[role]].address}")
            elif cell.text and reading is None and role not in _ALLOWED[kind]:
                hint = nearest(role, _ALLOWED[kind]) or f"known here: {', '.join(_ALLOWED[kind])}"
                self.note(f"no column {cell.text!r} in such a table", cell, hint)
            elif cell.text:
                columns[role] = number
        for role in sorted(_NEEDED[kind] - set(columns)):
            self.note(f"the column {role!r} is missing", row[0])
        if kind == STATION and not readings:
            self.note(f"a column '{READING} 1' is missing", row[0])
        characteristic = above[0] if kind == STATION and above else None
        if kind == STATION and (characteristic is None or characteristic.is_blank):
            self.note("the row above names no characteristic", row[0])
        elif characteristic is not None and len(above) > 1 and not above[1].is_blank:
            self.titles.setdefault(characteristic.text, {}).setdefault(above[1].text, characteristic)
        if kind == CHARACTERISTIC and not self.problems[before:]:
            readings = [(columns[VALUE], 0, None)]
        return None if self.problems[before:] else _Table(kind, characteristic, columns, tuple(readings), len(cells))

    def row(self, row: tuple[Cell, ...], table: _Table, is_ragged: bool) -> None:
        beyond = [cell for cell in row[table.width :] if not cell.is_blank]
        if beyond:
            self.note("stands beside the table", beyond[0])
        elif is_ragged and len(row) < table.width:
            self.note(f"{len(row)} cells where the heading has {table.width}", row[-1])
        elif table.kind == KEY:
            self.plain(row[table.columns[KEY]])
            self.plain(row[table.columns[VALUE]])
            self.head.append((row[table.columns[KEY]].text, row[table.columns[VALUE]]))
        else:
            self.entries.extend(self.values(row, table))

    def values(self, row: tuple[Cell, ...], table: _Table) -> Iterator[Entry]:
        """The readings of one row; what was noted without any stands at the first."""
        name = table.characteristic or row[table.columns[CHARACTERISTIC]]
        station = row[table.columns[STATION]]
        self.plain(name)
        self.plain(station)
        if not name.text:
            self.note("no characteristic is named", name)
        circumstances = dict(self.circumstances(row, table))
        what, where = (row[table.columns[role]].text if role in table.columns else "" for role in CALLED)
        if what:
            self.titles.setdefault(name.text, {}).setdefault(what, name)
        is_empty = True
        for column, number, own in table.readings:
            cell = row[column]
            self.plain(cell)
            if cell.is_blank:
                continue
            is_empty = False
            text = self.in_unit(cell, own or self.row_unit(row, table))
            yield Entry(name.text, station.text, number or self.number(row, table), text, circumstances, cell, where)
        if is_empty:
            self.row_unit(row, table)  # a value typed beside its cell must not be lost without a word
        if circumstances and is_empty:
            yield Entry(name.text, station.text, 0, "", circumstances, row[table.readings[0][0]], where)

    def circumstances(self, row: tuple[Cell, ...], table: _Table) -> Iterator[tuple[str, str]]:
        for role in CIRCUMSTANCES:
            cell = row[table.columns[role]] if role in table.columns else None
            if cell is None or cell.is_blank:
                continue
            if role == "taken":
                yield role, self.day(cell)
            else:
                self.plain(cell)
                yield role, cell.text

    def plain(self, cell: Cell) -> None:
        if cell.fault:
            self.note(cell.fault, cell, cell.hint)

    def day(self, cell: Cell) -> str:
        """The day of a date or time; the hour is not kept."""
        if not cell.is_date:
            self.plain(cell)
        try:
            return datetime.fromisoformat(cell.text).date().isoformat()
        except ValueError:
            self.note(f"{cell.text!r} is not a date such as 2026-05-02", cell)
            return cell.text

    def number(self, row: tuple[Cell, ...], table: _Table) -> int:
        """Which of several readings a row holds; 0 where it does not say."""
        if READING not in table.columns:
            return 0
        cell = row[table.columns[READING]]
        self.plain(cell)
        if cell.text and not (cell.text.isascii() and cell.text.isdigit() and len(cell.text) < 3):
            self.note(f"{cell.text!r} is not the number of a reading", cell)
            return 0
        return int(cell.text or 0)

    def row_unit(self, row: tuple[Cell, ...], table: _Table) -> Unit | None:
        cell = row[table.columns[UNIT]] if UNIT in table.columns else None
        if cell is None:
            return None
        self.plain(cell)
        return self.unit(cell.text, cell)

    def unit(self, name: str, cell: Cell) -> Unit | None:
        if not name:
            return None
        try:
            return unit(name)
        except UnitError as error:
            is_rest = name.replace(".", "").isdigit()
            hint = "a number where a unit belongs: if a comma for the point parted it, write a point" if is_rest else ""
            self.note(error.problems[0].message, cell, hint or error.hint)
            return None

    def usual_units(self) -> Mapping[str, str]:
        """The units of the record's bare numbers, by kind, as far as the rows above state them."""
        stated = next((cell.text for name, cell in self.head if name == "units"), "")
        with suppress(CheckerError):
            given = parse_yaml(stated.encode(), self.source).data if stated else {}
            return {kind: unit(str(name)).name for kind, name in given.items()} if isinstance(given, dict) else {}
        return {}

    def in_unit(self, cell: Cell, own: Unit | None) -> str:
        if own is None or cell.fault:
            return cell.text
        try:
            return with_unit_in_any_words(cell.text, own, self.usual_units().get(own.kind) == own.name)
        except NotationError as error:
            self.note(error.message, cell, f"it could be {' or '.join(error.readings)}" if error.readings else "")
            return cell.text


def _first(row: tuple[Cell, ...]) -> str:
    return role_of(row[0].text) if row else ""
