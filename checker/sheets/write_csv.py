"""A sheet as CSV: one reading a row, as a gauge with a data cable writes it, and what guides the builder beside it."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

from checker.documents.cells import inert
from checker.records.reading_keys import CIRCUMSTANCES
from checker.sheets.headings import CHARACTERISTIC, GUIDES, KEY, READING, REMARK, STATION, UNIT, VALUE
from checker.sheets.plan import Sheet
from checker.sheets.rows import head_of, rows_of

_NUMBER = re.compile(r"-?[0-9]*\.?[0-9]+")


def write_csv(sheet: Sheet) -> str:
    """The text of a CSV file; no cell in it acts as a formula."""
    target = io.StringIO()
    writer = csv.writer(target, quoting=csv.QUOTE_MINIMAL)
    for row in _rows(sheet):
        writer.writerow([text if _NUMBER.fullmatch(text) else inert(text) for text in row])
    return target.getvalue()


def _rows(sheet: Sheet) -> Iterator[tuple[str, ...]]:
    yield from ((f"{REMARK} Caution: {caution}",) for caution in sheet.report.cautions)
    yield (KEY, VALUE)
    yield from head_of(sheet)
    yield ()
    yield (CHARACTERISTIC, STATION, READING, VALUE, UNIT, *CIRCUMSTANCES, *GUIDES)
    lines_with_rows = [(line, row) for line in sheet.measured for row in rows_of(line, sheet)]
    for line, row in lines_with_rows:
        stated = line.item.characteristic
        for number in range(max(line.spaces, len(row.texts))):
            text = row.texts[number] if number < len(row.texts) else ""
            beside = row.circumstances.values() if text or not number else [""] * len(CIRCUMSTANCES)
            guides = (line.title, row.where, row.target, stated.with_, stated.how)
            yield (line.name, row.station, str(number + 1), text, line.unit_name, *beside, *guides)
