"""Sheets for tests: records of a gear train laid out, sent through every form, and filled in as a person does."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from pack_tools import gear_rulebook

from checker.documents.document import parse_yaml
from checker.records.entry import Reading
from checker.records.record import Record, record_in
from checker.rulebook import Rulebook
from checker.sheets.plan import Sheet, plan
from checker.sheets.read_csv import read_csv
from checker.sheets.read_xlsx import read_xlsx
from checker.sheets.write_csv import write_csv
from checker.sheets.write_xlsx import write_xlsx
from checker.sheets.write_yaml import write_yaml

HEAD = """record: 1
assembly: Reducer 7
application: general
rule_packs: {gear-train: ">=1"}
stations: {shaft: 2, gear: {count: 4, of: [1, 1, 2, 2]}, mesh: 2}
"""


@cache
def rulebook() -> Rulebook:
    return gear_rulebook()


def record(text: str) -> Record:
    return record_in(parse_yaml(text.encode(), "record.yaml"))


def sheet(text: str = HEAD + "readings: {}\n", before: str | None = None) -> Sheet:
    return plan(rulebook(), rulebook().check(record(text), before=before))


def through(form: str, laid_out: Sheet, folder: Path) -> Record:
    """The record that comes back when a sheet is written in a form and read again."""
    path = folder / f"sheet.{form}"
    if form == "yaml":
        return record(write_yaml(laid_out))
    if form == "csv":
        path.write_text(write_csv(laid_out), newline="")
        return read_csv(path)
    path.write_bytes(write_xlsx(laid_out))
    return read_xlsx(path)


def essence(reading: Reading) -> tuple[Any, ...]:
    """What a reading says, whatever shape it was written in."""
    own = (reading.characteristic, reading.station, reading.low, reading.high)
    return (*own, reading.instrument, reading.taken, reading.temperature, reading.for_all)


def essences(of: Record) -> list[tuple[Any, ...]]:
    return [essence(reading) for reading in rulebook().check(of, "general").readings]


class Filling:
    """A workbook opened, filled in and saved as a person would."""

    def __init__(self, raw: bytes) -> None:
        self.book = load_workbook(io.BytesIO(raw))

    def cell(self, name: str, station: str = "", column: str = "reading 1") -> Any:
        """The cell of a characteristic's station under a heading."""
        for tab in self.book.worksheets:
            for row in tab.iter_rows():
                if row[0].value == name:
                    return self._in_table(tab, row[0].row + 1, station, column)
        raise KeyError(name)

    def put(self, value: object, name: str, station: str = "", column: str = "reading 1") -> str:
        """Type a value into a cell; its address as messages name it."""
        cell = self.cell(name, station, column)
        cell.value = value
        return f"{cell.parent.title}!{cell.coordinate}"

    def head(self, key: str) -> Any:
        """The cell beside a key of the record."""
        return next(row[1] for row in self.book["Record"].iter_rows() if row[0].value == key)

    def save(self, path: Path) -> Path:
        self.book.save(path)
        return path

    def _in_table(self, tab: Any, top: int, station: str, column: str) -> Any:
        headings = [str(cell.value or "").split(",")[0] for cell in tab[top]]
        for line in range(top + 1, tab.max_row + 1):
            if str(tab.cell(line, 1).value or "") == station:
                return tab.cell(line, headings.index(column) + 1)
        raise KeyError(station)
