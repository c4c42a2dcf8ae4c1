"""Files of tables that are read piece by piece: Parquet, Arrow (as a file) and CSV.

A file has blocks that can be read without those before them: row groups, record batches, or so many lines. Rows are
counted from 1 and without the heading, as a person counts them; blank lines count, and are no rows.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.ipc
import pyarrow.parquet

from checker.errors import InputError, Place, Problem, UsageError
from checker.fleet.csv_rows import rows_in, separator_of

Numbers = npt.NDArray[np.int64]
KINDS = {".parquet": "parquet", ".pq": "parquet", ".arrow": "arrow", ".feather": "arrow", ".csv": "csv", ".tsv": "csv"}
"""What a file holds, by the end of its name."""
_SAVE_IT = "save it as CSV in UTF-8, with the line ends of Windows or Unix"
_CHUNK = 1 << 20
_BUFFER = 1 << 16
"""Bytes of each column of a Parquet file that are held at once, where its row groups are large."""


class Source(NamedTuple):
    """A file: its columns, its SHA-256, how many lines or rows it has, and at which of them, from 0, each block starts.

    `offsets` are the places of the blocks in the bytes of a CSV file; `rows` does not count blank lines.
    """

    path: str
    kind: str
    columns: tuple[str, ...]
    sha256: str
    lines: int
    rows: int
    starts: tuple[int, ...]
    offsets: tuple[int, ...] = ()

    def stop(self, block: int) -> int:
        """The line after the last one of a block."""
        return self.starts[block + 1] if block + 1 < len(self.starts) else self.lines


class Refused(NamedTuple):
    """A row that does not fit its table: its number from 1, why, and its text."""

    row: int
    reason: str
    text: str


class Piece(NamedTuple):
    """Some rows of a file: their numbers from 1, the columns, and rows among them that do not fit the table."""

    rows: Numbers
    table: Any
    refused: tuple[Refused, ...] = ()


def open_source(name: str | Path, most: int) -> Source:
    """A file looked through once, with blocks of at most so many lines where it has none of its own.

    Raises InputError where it cannot be read, UsageError where its name does not say what it holds.
    """
    path = Path(name)
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise UsageError(Problem(f"{name}: no kind of table by its name", hint=f"known: {', '.join(KINDS)}"))
    try:
        if kind == "csv":
            return _csv_source(path, most)
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        counts, columns = _parquet_blocks(path) if kind == "parquet" else _arrow_blocks(path)
    except (OSError, pa.ArrowException) as error:
        words = error.strerror if isinstance(error, OSError) and error.strerror else str(error).splitlines()[0]
        raise InputError(Problem(f"cannot be read as {kind}: {words}", Place(str(path)))) from error
    _require_names(columns, path)
    starts = tuple(int(start) for start in np.cumsum([0, *counts])[:-1])
    return Source(str(path.resolve()), kind, columns, digest, sum(counts), sum(counts), starts)


def _parquet_blocks(path: Path) -> tuple[list[int], tuple[str, ...]]:
    with pa.parquet.ParquetFile(path) as file:
        groups = range(file.metadata.num_row_groups)
        return [file.metadata.row_group(group).num_rows for group in groups], tuple(file.schema_arrow.names)


def _arrow_blocks(path: Path) -> tuple[list[int], tuple[str, ...]]:
    with pa.memory_map(str(path)) as mapped, pa.ipc.open_file(mapped) as file:
        return [file.get_batch(number).num_rows for number in range(file.num_record_batches)], tuple(file.schema.names)


def _csv_source(path: Path, most: int) -> Source:
    digest = hashlib.sha256()
    starts, offsets = [], []
    with path.open("rb") as file:
        separator = separator_of(file.readline())
        file.seek(0)
        lines = rows_in(file, separator)
        heading = next(lines, b"")
        digest.update(heading)
        offset, count, rows = len(heading), 0, 0
        for line in lines:
            if count % most == 0:
                starts.append(count)
                offsets.append(offset)
            digest.update(line)
            offset += len(line)
            count += 1
            rows += not _is_blank(line)
    try:
        columns = _cells(heading.decode("utf-8-sig"), separator)
    except UnicodeDecodeError as error:
        raise InputError(Problem("its heading is not UTF-8", Place(str(path)), _SAVE_IT)) from error
    except csv.Error as error:
        raise InputError(Problem(f"its heading is no line of CSV: {error}", Place(str(path)), _SAVE_IT)) from error
    _require_names(columns, path)
    return Source(str(path.resolve()), "csv", columns, digest.hexdigest(), count, rows, tuple(starts), tuple(offsets))


def _require_names(columns: Sequence[str], path: Path) -> None:
    twice = sorted({name for name in columns if columns.count(name) > 1})
    if not any(columns) or twice:
        words = f"column {twice[0]!r} stands there twice" if twice else "no column has a name"
        raise InputError(Problem(words, Place(str(path))))


def _is_blank(line: bytes) -> bool:
    return not line.strip(b' \t\r\n,;"')


def _cells(line: str, separator: str) -> tuple[str, ...]:
    return tuple(next(csv.reader([line], delimiter=separator), []))


def pieces(source: Source, first: int, stop: int, most: int, columns: Sequence[str] | None = None) -> Iterator[Piece]:
    """Lines of a file from `first` (from 0) up to `stop`, at most so many at once; all columns, or those named.

    Raises InputError where they cannot be read.
    """
    try:
        yield from _pieces(source, first, stop, most, columns)
    except (OSError, pa.ArrowException) as error:
        raise InputError(Problem(f"cannot be read on: {str(error).splitlines()[0]}", Place(source.path))) from error


def _pieces(source: Source, first: int, stop: int, most: int, columns: Sequence[str] | None) -> Iterator[Piece]:
    for block, start in enumerate(source.starts):
        if start < stop and source.stop(block) > first:
            for piece in _pieces_of(source, block, most, None if columns is None else list(columns)):
                inside = (piece.rows > first) & (piece.rows <= stop)
                refused = tuple(lost for lost in piece.refused if first < lost.row <= stop)
                table = piece.table if inside.all() else piece.table.filter(pa.array(inside))
                if table.num_rows or refused:
                    yield Piece(piece.rows[inside], table, refused)
                if piece.rows.size and piece.rows[-1] >= stop:
                    break  # before more is read than is wanted


def _pieces_of(source: Source, block: int, most: int, columns: list[str] | None) -> Iterator[Piece]:
    at = source.starts[block] + 1
    if source.kind == "csv":
        yield _csv_piece(source, block, columns)
    elif source.kind == "arrow":
        with pa.memory_map(source.path) as mapped, pa.ipc.open_file(mapped) as opened:
            whole = pa.Table.from_batches([opened.get_batch(block)])
            whole = whole if columns is None else whole.select(columns)
            for start in range(0, whole.num_rows, most):
                part = whole.slice(start, most)
                yield Piece(np.arange(at + start, at + start + part.num_rows), part)
    else:
        with pa.parquet.ParquetFile(source.path, pre_buffer=False, buffer_size=_BUFFER) as opened:
            for batch in opened.iter_batches(most, [block], columns, use_threads=False):
                yield Piece(np.arange(at, at + batch.num_rows), pa.Table.from_batches([batch]))
                at += batch.num_rows


def _csv_piece(source: Source, block: int, columns: list[str] | None) -> Piece:
    """The rows of a block, all cells as texts."""
    with Path(source.path).open("rb") as file:
        separator = separator_of(file.readline())
        file.seek(source.offsets[block])
        lines = list(islice(rows_in(file, separator), source.stop(block) - source.starts[block]))
    at = [source.starts[block] + 1 + number for number, line in enumerate(lines) if not _is_blank(line)]
    data = "".join(line.decode(errors="replace") for line in lines if not _is_blank(line)).encode()
    if not data:
        return Piece(np.zeros(0, np.int64), pa.table({name: pa.array([], pa.string()) for name in source.columns}))
    invalid: dict[int, Refused] = {}

    def refuse(row: Any) -> str:
        words = f"{row.actual_columns} cells where the heading has {row.expected_columns}"
        invalid[row.number - 1] = Refused(at[row.number - 1], words, row.text)
        return "skip"

    table = pa.csv.read_csv(
        io.BytesIO(data),
        pa.csv.ReadOptions(use_threads=False, block_size=max(_CHUNK, len(data)), column_names=list(source.columns)),
        pa.csv.ParseOptions(delimiter=separator, newlines_in_values=True, invalid_row_handler=refuse),
        pa.csv.ConvertOptions(
            column_types={name: pa.string() for name in source.columns},
            include_columns=columns,
            null_values=[""],
            strings_can_be_null=True,
        ),
    )
    if table.num_rows + len(invalid) != len(at):  # its rows would be told by the numbers of others
        words = f"rows {at[0]} to {at[-1]} cannot be told apart: a line ends where none can"
        raise InputError(Problem(words, Place(source.path), _SAVE_IT))
    rows = np.delete(np.array(at, dtype=np.int64), list(invalid))
    return Piece(rows, table, tuple(invalid.values()))


def numbers_where_plain(column: Any) -> Any:
    """A column of texts as numbers, where every cell is one."""
    try:
        made = pc.cast(pc.utf8_trim_whitespace(column), pa.float64())
    except pa.ArrowInvalid:
        return column
    return made if pc.all(pc.is_finite(made)).as_py() is not False else column
