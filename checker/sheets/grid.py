"""A grid of cells as text: what a CSV file and a tab of a workbook have in common."""

from __future__ import annotations

from dataclasses import dataclass

from checker.errors import Place

MOST_ROWS = 5_000
MOST_COLUMNS = 64


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell; a fault says why it may not be taken at its face, such as a formula."""

    text: str
    line: int
    column: int
    address: str
    fault: str = ""
    hint: str = ""
    is_date: bool = False

    @property
    def is_blank(self) -> bool:
        return not self.text and not self.fault

    def place(self, source: str, key: str = "") -> Place:
        """Where it stands, for a message."""
        return Place(source, self.line, self.column, key, self.address)


@dataclass(frozen=True, slots=True)
class Grid:
    """The rows of a file or tab; where rows are ragged, a short one has lost cells."""

    name: str
    rows: tuple[tuple[Cell, ...], ...]
    is_ragged: bool = False


def column_letters(column: int) -> str:
    """The name of a column, counted from 1, as spreadsheets have it: A to Z, then AA."""
    letters = ""
    while column:
        column, index = divmod(column - 1, 26)
        letters = chr(ord("A") + index) + letters
    return letters
