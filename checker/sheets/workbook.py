"""Workbooks (.xlsx) to and from plain grids; the only module that knows openpyxl.

A cell whose text is not what a person sees in it carries a fault: a formula, a date that was a fraction, a unit or a
percentage that exists only in the number format, a value with a stroke through it.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet.datavalidation import DataValidation

from checker.documents.cells import inert
from checker.errors import InputError, Place, Problem
from checker.sheets.archive import check_archive
from checker.sheets.grid import Cell, Grid, column_letters
from checker.sheets.written import number_text

# Colours and gaps as wide as a sign. Then digits and places: a comma that scales by a thousand, letters, quotes and
# percent signs are not plain.
_PADDING = re.compile(r"\[(?:Red|Black|Blue|Green)\]|_.|\\ ", re.IGNORECASE)
_DIGITS = re.compile(r"(?P<sign>[-(])?(?:[0#?]|[.,](?=[0#?])|[+ /]|E\+(?=0))*\)?", re.IGNORECASE)
_AS_TYPED = ("General", "@")
_AS_TEXT = "a fraction such as 5/16, or a unit in the number format, makes one: write the value as text"


class Style(Enum):
    """How a cell looks."""

    TITLE = "title"
    NAME = "name"
    GUIDE = "guide"
    HEADING = "heading"
    LABEL = "label"
    ENTRY = "entry"


@dataclass(frozen=True, slots=True)
class Box:
    """One cell to be written."""

    value: str | float
    style: Style


@dataclass(frozen=True, slots=True)
class Guard:
    """What may be entered in an area, told when one of its cells is chosen; another entry is asked about, not refused.

    Rows and columns count from 1.
    """

    top: int
    left: int
    bottom: int
    right: int
    title: str
    prompt: str
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Tab:
    """One tab; a row may be empty, a width is in characters."""

    title: str
    rows: tuple[tuple[Box, ...], ...]
    guards: tuple[Guard, ...]
    widths: tuple[int, ...]


_LINE = Side(style="thin", color="888888")
_FRAME = Border(left=_LINE, right=_LINE, top=_LINE, bottom=_LINE)
_LOOKS: dict[Style, dict[str, Any]] = {
    Style.TITLE: {"font": Font(bold=True, size=13)},
    Style.NAME: {"font": Font(color="666666")},
    Style.GUIDE: {"font": Font(color="444444")},
    Style.HEADING: {"font": Font(bold=True), "fill": PatternFill("solid", fgColor="E4E4E4"), "border": _FRAME},
    Style.LABEL: {"border": _FRAME},
    Style.ENTRY: {"fill": PatternFill("solid", fgColor="FFFBE0"), "border": _FRAME},
}
_MOST_PROMPT, _MOST_TITLE, _MOST_LIST = 255, 32, 255


def read_workbook(raw: bytes, source: str) -> list[Grid]:
    """The tabs of a workbook as grids.

    Raises InputError for what cannot be read, and for what is stored but not seen: hidden rows, merged cells.
    """
    check_archive(raw, source)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of extensions it leaves out; none of them holds a value
            book = load_workbook(io.BytesIO(raw), keep_vba=False, keep_links=False)
            grids = [Grid(tab.title, tuple(_rows(tab))) for tab in book.worksheets]
    except Exception as error:  # the library leaks many kinds; none of them may become a traceback
        problem = Problem("not a workbook that can be read", Place(source), f"{type(error).__name__}: {error}"[:200])
        raise InputError(problem) from None
    unseen = [
        problem for tab, grid in zip(book.worksheets, grids, strict=True) for problem in _unseen(tab, grid, source)
    ]
    if unseen:
        raise InputError(unseen)
    return grids


def write_workbook(tabs: Sequence[Tab]) -> bytes:
    """The bytes of a workbook; every text is stored as text, whatever it begins with."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for tab in tabs:
        _write_tab(book.create_sheet(tab.title), tab)
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


def _rows(tab: Any) -> Iterator[tuple[Cell, ...]]:
    for line, row in enumerate(tab.iter_rows(), 1):
        yield tuple(
            _cell(cell, f"{tab.title}!{column_letters(column)}{line}", line, column)
            for column, cell in enumerate(row, 1)
        )


def _cell(cell: Any, address: str, line: int, column: int) -> Cell:
    text, fault, hint = _content(cell)
    return Cell(text, line, column, address, fault, hint, isinstance(cell.value, date))


def _content(cell: Any) -> tuple[str, str, str]:
    """Text, fault and hint of one cell."""
    value = cell.value
    match cell.data_type:
        case _ if value is None:
            return "", "", ""
        case _ if cell.font.strike:
            return str(value), "is crossed out", "delete it, or take the stroke away if it counts"
        case "f":
            return "", "holds a formula", "copy it and paste its value alone"
        case "e":
            return str(value), f"shows an error of the spreadsheet, {value}", ""
        case "b":
            return str(value).upper(), "holds true or false", "write text or a number"
        case "d":
            text = value.isoformat() if hasattr(value, "isoformat") else str(value)
            return text, f"holds a date or time ({text[:16]}, format {cell.number_format!a})", _AS_TEXT
        case "n":
            return number_text(value), *_shown_otherwise(cell.number_format)
        case _:
            return str(value).strip(), "", ""


def _shown_otherwise(number_format: str) -> tuple[str, str]:
    if number_format in _AS_TYPED or _shows_the_value(number_format):
        return "", ""
    return f"its format {number_format!a} shows another value than it holds", "write the value as text, with its unit"


def _shows_the_value(number_format: str) -> bool:
    """Whether a format shows digits, rounded at most, and a sign where there is one: its parts are for numbers above
    nought, below, and for nought itself.
    """
    parts = [_PADDING.sub("", part) for part in number_format.split(";")]
    shown = [_DIGITS.fullmatch(part) for part in parts]
    if len(parts) > 3 or not all(shown) or not all(re.search("[0#?]", part) for part in parts):
        return False
    signs = [bool(match and match["sign"]) for match in shown]
    return signs == [False, True, False][: len(signs)]


def _unseen(tab: Any, grid: Grid, source: str) -> Iterator[Problem]:
    """Merged cells, and what stands where nobody sees it."""
    for merged in tab.merged_cells.ranges:
        yield Problem("merged cells", Place(source, cell=f"{tab.title}!{merged.coord}"), "part them again")
    filled = [cell for row in grid.rows for cell in row if not cell.is_blank]
    if tab.sheet_state != "visible" and filled:
        yield Problem("a hidden tab that is not empty", Place(source, cell=tab.title), "show it or delete it")
    rows = {number for number, row in tab.row_dimensions.items() if row.hidden}
    spans = [range(item.min, item.max + 1) for item in tab.column_dimensions.values() if item.hidden]
    for cell in filled:
        if cell.line in rows or any(cell.column in span for span in spans):
            yield Problem("stands in a hidden row or column", cell.place(source), "show it or delete it")


def _write_tab(sheet: Any, tab: Tab) -> None:
    for line, row in enumerate(tab.rows, 1):
        for column, box in enumerate(row, 1):
            cell = sheet.cell(line, column, None if box.value == "" else box.value)
            if isinstance(cell.value, str):
                cell.data_type = "s"
                cell.quotePrefix = inert(cell.value) != cell.value
            for name, look in _LOOKS[box.style].items():
                setattr(cell, name, look)
            cell.alignment = Alignment(vertical="center", horizontal="left")
    for number, width in enumerate(tab.widths, 1):
        sheet.column_dimensions[column_letters(number)].width = width
    for guard in tab.guards:
        sheet.add_data_validation(_validation(guard))
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _validation(guard: Guard) -> DataValidation:
    listed = '"' + ",".join(guard.choices).replace('"', '""') + '"'
    kind: dict[str, Any] = {}
    if guard.choices and len(listed) <= _MOST_LIST and not any("," in choice for choice in guard.choices):
        kind = {"type": "list", "formula1": listed}
    elif guard.low is not None and guard.high is not None:
        kind = {"type": "decimal", "operator": "between", "formula1": repr(guard.low), "formula2": repr(guard.high)}
    return DataValidation(
        **kind,
        sqref=f"{column_letters(guard.left)}{guard.top}:{column_letters(guard.right)}{guard.bottom}",
        allow_blank=True,
        errorStyle="warning",
        errorTitle="Are you sure?",
        error=guard.prompt[:_MOST_PROMPT],
        promptTitle=guard.title[:_MOST_TITLE],
        prompt=guard.prompt[:_MOST_PROMPT],
        showErrorMessage=True,
        showInputMessage=True,
    )
