"""Files cut into parts that are judged one by one, and the rows whose assembly stands elsewhere too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from checker.errors import Problem, UsageError, nearest
from checker.fleet.sources import Numbers, Source, pieces
from checker.tables.arrow import words_in
from checker.tables.places import NO_NAME, PERHAPS, perhaps_of, starts_of_runs

MOST_CUTS = 4
"""Into so many parts a block is cut at most: each of them reads it from its beginning."""
_WHOLE = 2
"""A block of no more than so many times the lines that are judged at once is not cut."""


class Part(NamedTuple):
    """Lines of a file, from 0, that are judged together: how many rows they hold, and what number the first is of all.

    `aside` has the rows (from 1) at which assemblies begin that are not to be judged, and why: one stands elsewhere
    too, or a row of which nobody knows what assembly it tells of may tell of it.
    """

    number: int
    source: Source
    first: int
    stop: int
    before: int
    aside: dict[int, str]


class _Starts(NamedTuple):
    """Where in a file assemblies begin: their rows from 1, a number made of each name, and why some are in doubt."""

    rows: Numbers
    names: Numbers
    in_doubt: dict[int, str]


def parts_of(sources: Sequence[Source], most: int, column: str | None, is_long: bool) -> list[Part]:
    """All parts, in the order of the files, of about so many lines each.

    Where assemblies have names each file is read through once more, that column alone; it takes 16 bytes for each
    assembly. Raises UsageError where a file has no such column.
    """
    problems = [
        Problem(
            f"{source.path} has no column {column!r}", hint=nearest(column, source.columns) or ", ".join(source.columns)
        )
        for source in sources
        if column is not None and column not in source.columns
    ]
    if problems:
        raise UsageError(problems)
    starts = [] if column is None else [_starts(source, most, column, is_long) for source in sources]
    repeated = _repeated(sources, starts)
    aside = {number: {**repeated.get(number, {}), **in_file.in_doubt} for number, in_file in enumerate(starts)}
    parts: list[Part] = []
    before = 0
    for number, source in enumerate(sources):
        ends = _long_ends(source, starts[number].rows, most) if is_long else _wide_ends(source, most)
        for first, stop in pairwise(ends):
            own = {row: words for row, words in aside.get(number, {}).items() if first < row <= stop}
            parts.append(Part(len(parts), source, first, stop, before + first, own))
        before += source.lines
    return parts


def _wide_ends(source: Source, most: int) -> Iterator[int]:
    """Whole blocks, as many as come to so many lines; a longer block is cut."""
    yield 0
    start = 0
    for block, at in enumerate(source.starts):
        stop = source.stop(block)
        if at > start and stop - start > most:
            yield at
            start = at
        size = most * max(1, -(-(stop - at) // (most * MOST_CUTS)))
        for cut in range(at + size, stop, size) if stop - at > _WHOLE * most else ():
            yield cut
            start = cut
    if source.lines:
        yield source.lines


def _long_ends(source: Source, starts: Numbers, most: int) -> Iterator[int]:
    """So many lines, and those of the last assembly that are left."""
    yield 0
    if source.lines > most:
        for mark in range(most, source.lines, most):
            after = starts[np.searchsorted(starts, mark + 1) :]
            if after.size and after[0] - 1 < mark + most:
                yield int(after[0]) - 1
    if source.lines:
        yield source.lines


def _starts(source: Source, most: int, column: str, is_long: bool) -> _Starts:
    """Where assemblies begin: in a wide table at every row, in a long one where the name changes.

    The lines of a short long table may stand in any order: it is judged in one piece.
    """
    rows, names = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    refused: dict[int, str] = {}
    for piece in pieces(source, 0, source.lines, most, [column]):
        words, codes = words_in(piece.table.column(column))
        rows.append(piece.rows)
        # What a name comes to is the same throughout one program, and two names in 2 ** 64 come to the same.
        names.append(np.fromiter((hash(word) if word else 0 for word in words), np.int64, len(words))[codes])
        refused.update((lost.row, lost.reason) for lost in piece.refused)
    all_rows, all_names = np.concatenate(rows), np.concatenate(names)
    if not is_long:
        return _Starts(all_rows, all_names, {})
    at = np.searchsorted(all_rows, list(refused))
    all_rows, all_names = np.insert(all_rows, at, list(refused)), np.insert(all_names, at, 0)
    is_short = source.lines <= most
    first = np.sort(np.unique(all_names, return_index=True)[1]) if is_short else starts_of_runs(all_names)
    starts = _Starts(all_rows[first], all_names[first], {})
    if not all_names.all():
        known, numbers = np.unique(all_names, return_inverse=True)
        perhaps = perhaps_of(numbers, int(np.searchsorted(known, 0)), are_together=not is_short)
        for row, name in zip(starts.rows.tolist(), numbers[first].tolist(), strict=True):
            if name in perhaps and known[name]:
                lost = int(all_rows[perhaps[name]])
                starts.in_doubt[row] = f"row {lost}: {refused.get(lost, NO_NAME)}{PERHAPS}"
    return starts


def _repeated(sources: Sequence[Source], starts: Sequence[_Starts]) -> dict[int, dict[int, str]]:
    """By file, the rows at which assemblies begin whose name stands elsewhere too, and where that is."""
    if not starts:
        return {}
    names = np.concatenate([in_file.names for in_file in starts])
    order = np.argsort(names, kind="stable")
    ordered = names[order]
    is_same = np.concatenate([ordered[1:] == ordered[:-1], [False]])[: ordered.size] & (ordered != 0)
    ends = np.cumsum([in_file.names.size for in_file in starts])
    repeated: dict[int, dict[int, str]] = {}

    def note(at: int, other: int) -> None:
        (file, row), (there, where) = (_placed(place, ends, starts) for place in (at, other))
        name = "this file" if file == there else sources[there].path
        repeated.setdefault(file, {}).setdefault(row, f"the same assembly stands in row {where} of {name} too")

    for place in np.flatnonzero(is_same).tolist():
        note(int(order[place]), int(order[place + 1]))
        note(int(order[place + 1]), int(order[place]))
    return repeated


def _placed(at: int, ends: Numbers, starts: Sequence[_Starts]) -> tuple[int, int]:
    file = int(np.searchsorted(ends, at, side="right"))
    return file, int(starts[file].rows[at - (int(ends[file - 1]) if file else 0)])
