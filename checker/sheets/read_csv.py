"""Reading a sheet that was saved as CSV, or a long table as a gauge with a data cable writes it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from checker.documents.cells import restored
from checker.documents.document import decode, read_bytes
from checker.documents.printable import printable
from checker.documents.tree import LONGEST_SCALAR, Findings
from checker.records.record import Record
from checker.sheets.grid import MOST_COLUMNS, Cell, Grid, column_letters
from checker.sheets.into_record import record_of
from checker.sheets.tables import SAVE_WITH_COMMAS, contents_of


def read_csv(path: Path) -> Record:
    """Read a record from a CSV file: commas, UTF-8, quotes doubled inside quotes.

    Raises InputError with the cell of each problem.
    """
    raw, source = read_bytes(path), printable(str(path))
    findings = Findings(source)
    text = decode(raw, findings)
    grid = Grid("", tuple(csv_rows(text, findings)), is_ragged=True)
    findings.settle()
    return record_of(contents_of([grid], source), raw, source, printable(path.stem))


def csv_rows(text: str, findings: Findings) -> Iterator[tuple[Cell, ...]]:
    """The rows of a text of comma-separated values."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    begin = 1
    try:
        for number, row in enumerate(reader, 1):
            if len(row) > MOST_COLUMNS:
                parted = "the columns are parted by semicolons" if ";" in row[0] else ""
                findings.stop(
                    parted or f"more than {MOST_COLUMNS} columns", (begin, 1), (), parted and SAVE_WITH_COMMAS
                )
            yield tuple(_cell(field, begin, column, number) for column, field in enumerate(row, 1))
            begin = reader.line_num + 1
    except csv.Error as error:
        findings.stop(f"not valid CSV in the row that begins here: {error}", (begin, 1), (), "is a quote not closed?")


def _cell(field: str, line: int, column: int, row: int) -> Cell:
    text = field.strip()
    address = f"{column_letters(column)}{row}"
    if len(text) > LONGEST_SCALAR:
        return Cell(
            "", line, column, address, f"{len(text)} characters; at most {LONGEST_SCALAR} are read as one value"
        )
    if text.startswith("="):
        return Cell(text, line, column, address, "holds a formula", "write its value instead")
    return Cell(restored(text), line, column, address)
