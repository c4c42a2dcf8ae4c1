"""Tables as other libraries hold them, through Arrow's interface for streams (pyarrow)."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from checker.errors import Problem, UsageError, nearest
from checker.expressions.truth import Array
from checker.records.plain_data import LONG_ENOUGH, TOO_SHORT

Codes = npt.NDArray[np.int64]
_UNREADABLE = (pa.ArrowException, OverflowError, ValueError, TypeError)
"""What libraries raise for columns that they cannot read."""


class Cells(NamedTuple):
    """The cells of a column: numbers, missing ones NaN; or texts, each told once, with its number or -1 by row."""

    numbers: Array | None
    texts: tuple[str, ...] = ()
    codes: Codes | None = None

    @property
    def has_numbers(self) -> bool:
        """Whether there are numbers, or texts most of which are."""
        if self.numbers is not None:
            return not np.isnan(self.numbers).all()
        return 2 * sum(map(_is_number, self.texts)) > len(self.texts)

    def text(self, row: int, is_word: bool = False) -> str:
        """What a person would have written there, a word without a point; empty where there is nothing."""
        if self.numbers is not None:
            number = float(self.numbers[row])
            if math.isnan(number):
                return ""
            return f"{number:.0f}" if is_word and number.is_integer() else str(number)
        code = -1 if self.codes is None else int(self.codes[row])
        return "" if code < 0 else self.texts[code]


class Table:
    """A table that was handed in, and its columns as they are asked for."""

    def __init__(self, given: Any) -> None:
        """Raises TypeError for what is no table."""
        is_columns = isinstance(given, Mapping) and bool(given)
        if not is_columns and not hasattr(given, "__arrow_c_stream__"):
            raise TypeError(
                f"expected a table that speaks Arrow (of pyarrow, polars, pandas or duckdb) or a mapping of columns, "
                f"found {type(given).__name__}"
            )
        try:
            table = given if isinstance(given, pa.Table) else pa.table(_columns(given) if is_columns else given)
        except _UNREADABLE as error:
            raise UsageError(Problem(f"these columns make no table: {error}")) from None
        # So pandas calls the numbers of rows that were chosen from more.
        self._table = table.drop_columns([name for name in table.column_names if name.startswith("__index_level_")])
        names = self._table.column_names
        self.names: Mapping[str, int] = {name: number for number, name in enumerate(names)}
        self._several = {name for name, count in Counter(names).items() if count > 1}

    @property
    def rows(self) -> int:
        """How many rows it has."""
        return int(self._table.num_rows)

    def missing(self, names: Iterable[str]) -> list[Problem]:
        """A problem for each of these columns that it does not have."""
        return [
            Problem(
                f"the table has no column {name!r}", hint=nearest(name, self.names) or f"it has {', '.join(self.names)}"
            )
            for name in dict.fromkeys(names)
            if name not in self.names
        ]

    def cells(self, name: str) -> Cells:
        """The cells of a column; raises UsageError where they are neither numbers nor texts."""
        column = self._column(name)
        kind = column.type
        if pa.types.is_float64(kind):
            return Cells(column.to_numpy())
        if pa.types.is_float16(kind):
            raise UsageError(Problem(f"column {name!r}: {TOO_SHORT}", hint=LONG_ENOUGH))
        if pa.types.is_float32(kind):
            return Cells(column.to_numpy().astype(np.str_).astype(np.float64))  # 0.3 of 32 bits is 0.3 and no other
        if pa.types.is_integer(kind) or pa.types.is_decimal(kind):
            return Cells(np.asarray(column.cast(pa.float64(), safe=False).to_numpy(), dtype=np.float64))
        if pa.types.is_null(kind):
            return Cells(np.full(self.rows, np.nan))
        if not (pa.types.is_boolean(kind) or _is_text(kind)):
            message = f"column {name!r} holds {kind}, expected numbers, texts or truths"
            raise UsageError(Problem(message))
        return Cells(None, *_coded(pc.utf8_trim_whitespace(column.cast(pa.string()))))

    def words(self, name: str) -> tuple[tuple[str, ...], Codes]:
        """The words of a column, as `words_in` has them."""
        return words_in(self._column(name))

    def texts(self, name: str) -> tuple[str, ...]:
        """The words of a column by row."""
        return tuple(trimmed(self._column(name)).to_pylist())

    def _column(self, name: str) -> Any:
        if name in self._several:
            raise UsageError(Problem(f"the table has several columns {name!r}", hint="name each otherwise"))
        column = self._table.column(name)
        return _told_out(column) if pa.types.is_dictionary(column.type) else column


def _columns(given: Mapping[str, Any]) -> dict[str, Any]:
    """Columns that were handed in one by one; raises UsageError naming each that cannot be read as it stands.

    Arrow would put together by position what labels say is of other rows, and drop a unit without a word.
    """
    found: dict[str, Any] = {}
    problems: list[Problem] = []
    labels: dict[str, list[Any] | None] = {}
    for name, column in given.items():
        if (unit := _unit_of(column)) is not None:
            hint = "give its numbers, and their unit as in units={'length': 'mm'}"
            problems.append(Problem(f"column {name!r} is in a unit of its own, {unit}", hint=hint))
            continue
        try:
            found[name] = pa.table({name: column}).column(0)
        except _UNREADABLE as error:
            problems.append(Problem(f"column {name!r} cannot be read: {error}"))
            continue
        labels[name] = _labels_of(column)
    first, own = next(iter(labels.items()), ("", None))
    hint = "join them by their labels into one table, or give the to_numpy() of each, in one order"
    problems += [
        Problem(f"the rows of column {name!r} have other labels than those of {first!r}", hint=hint)
        for name, other in labels.items()
        if other != own
    ]
    if problems:
        raise UsageError(problems)
    return found


def _unit_of(column: Any) -> Any:
    """The unit of an array that has one; a column of days calls a word so, which is none of what was measured."""
    if not hasattr(column, "shape"):
        return None
    unit = getattr(column, "unit", None)
    return getattr(column, "units", None if isinstance(unit, str) else unit)


def _labels_of(column: Any) -> list[Any] | None:
    """How a column calls its rows, nothing where it counts them from 0."""
    labels = list(column.index) if hasattr(column, "index") and hasattr(column, "to_dict") else None
    return None if labels is None or labels == list(range(len(labels))) else labels


def trimmed(column: Any) -> Any:
    """Cells as texts without spaces about them, empty where there is nothing; UsageError where that cannot be."""
    try:
        stated = pc.if_else(pc.is_nan(column), None, column) if pa.types.is_floating(column.type) else column
        return pc.utf8_trim_whitespace(pc.fill_null(pc.cast(stated, pa.string()), ""))
    except pa.ArrowException:
        raise UsageError(Problem(f"a column of {column.type} holds no words")) from None


def words_in(column: Any) -> tuple[tuple[str, ...], Codes]:
    """The words of a column, each told once in the order in which they come, and by row the number of its word.

    A whole number is a word without a point; where nothing stands the word is empty.
    """
    return _coded(trimmed(column))


def _told_out(column: Any) -> Any:
    """Cells of a column that tells each word once; polars tells them as views, which no kernel of Arrow takes out."""
    kind = column.type.value_type
    plain = pa.string() if _is_text(kind) else kind
    return pa.chunked_array([pc.take(part.dictionary.cast(plain), part.indices) for part in column.chunks], plain)


def _coded(column: Any) -> tuple[tuple[str, ...], Codes]:
    coded = column.combine_chunks().dictionary_encode()
    if isinstance(coded, pa.ChunkedArray):
        coded = coded.combine_chunks()
    codes = coded.indices.fill_null(-1).to_numpy(zero_copy_only=False).astype(np.int64)
    return tuple(coded.dictionary.to_pylist()), codes


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _is_text(kind: Any) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind))


def words(codes: Any, known: Sequence[str]) -> Any:
    """A column of words of which each is told once, though several codes may stand for one: pandas asks for that."""
    each = {word: number for number, word in enumerate(dict.fromkeys(known))}
    numbers = np.array([each[word] for word in known], dtype=np.int32)[codes]
    return pa.DictionaryArray.from_arrays(pa.array(numbers, pa.int32()), pa.array(list(each), pa.string()))


def whole_numbers(values: Any, missing: Any = None) -> Any:
    """A column of whole numbers, nothing where they are missing."""
    return pa.array(values, pa.int64(), mask=missing)


def numbers(values: Any) -> Any:
    """A column of numbers, nothing where they are not finite."""
    found = np.asarray(values, dtype=np.float64)
    return pa.array(found, pa.float64(), mask=~np.isfinite(found))


def texts(values: Iterable[str] | range) -> Any:
    """A column of texts; of a range, its numbers."""
    if isinstance(values, range):
        return pc.cast(pa.array(np.arange(values.start, values.stop, values.step)), pa.string())
    return pa.array(list(values), pa.string())


def taken(column: Any, rows: Any) -> Any:
    """The cells of a column in these rows, from 0, one after the other."""
    return column.take(pa.array(rows, pa.int64()))


def truths(values: Any) -> Any:
    """A column of truths."""
    return pa.array(values, pa.bool_())


def table(columns: Mapping[str, Any]) -> Any:
    """A table of such columns."""
    return pa.table(dict(columns))
