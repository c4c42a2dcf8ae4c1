"""Reading a sheet that was filled in as a workbook."""

from __future__ import annotations

from pathlib import Path

from checker.documents.document import read_bytes
from checker.documents.printable import printable
from checker.records.record import Record
from checker.sheets.archive import MOST_BYTES
from checker.sheets.into_record import record_of
from checker.sheets.tables import contents_of
from checker.sheets.workbook import read_workbook


def read_xlsx(path: Path) -> Record:
    """Read a record from a workbook: the tables of all its tabs.

    Raises InputError with the cell of each problem.
    """
    raw, source = read_bytes(path, most=MOST_BYTES), printable(str(path))
    return record_of(contents_of(read_workbook(raw, source), source), raw, source, printable(path.stem))
