"""Judging one part of a table: every row is judged, or set aside with the reason."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from checker.errors import UsageError
from checker.fleet.parts import Part, names_in
from checker.fleet.plan import Plan
from checker.fleet.sources import Numbers, Piece, numbers_where_plain, pieces
from checker.judging.judge import Verdict
from checker.tables.arithmetic import columns_in
from checker.tables.places import AT

NO_NAME = "no assembly is named there"
_PLACE = ("characteristic", "station", "unit")
"""What lines of a long table say of their values."""


class Told(NamedTuple):
    """What is said of some rows: tables in which each row says of which file and row (from 1) it tells.

    Of a long table that is the first row of an assembly in `findings` and `counts`; in `set_aside` each row stands for
    itself. `judged` rows were judged.
    """

    findings: Any
    counts: Any
    set_aside: Any
    judged: int


def told_of(plan: Plan, part: Part, verdicts: Sequence[Verdict]) -> Iterator[Told]:
    """What is said of the rows of a part, piece by piece, with the findings of these verdicts.

    Raises UsageError for columns that cannot be read, InputError for what is wrong with the record.
    """
    found = pieces(part.source, part.first, part.stop, plan.asked.rows)
    if plan.is_long:
        found = filter(None, [_joined(list(found))])
    for piece in found:
        yield _told(plan, part, piece, verdicts)


def _joined(pieces_read: Sequence[Piece]) -> Piece | None:
    if not pieces_read:
        return None  # blank lines alone
    refused = tuple(chain.from_iterable(one.refused for one in pieces_read))
    tables = pa.concat_tables([one.table for one in pieces_read], promote_options="permissive")
    return Piece(np.concatenate([one.rows for one in pieces_read]), tables, refused)


def _told(plan: Plan, part: Part, piece: Piece, verdicts: Sequence[Verdict]) -> Told:
    table = _readable(plan, piece.table)
    if plan.name_column is None:
        names, groups = [str(row) for row in piece.rows.tolist()], np.arange(len(piece.rows))
    else:
        named = names_in(table.column(plan.name_column)).to_pylist()
        if plan.is_long:
            numbers = {name: number for number, name in enumerate(dict.fromkeys(named))}
            names, groups = list(numbers), np.array([numbers[name] for name in named], dtype=np.int64)
        else:
            names, groups = named, np.arange(len(named))
    first = np.full(len(names), np.iinfo(np.int64).max)
    np.minimum.at(first, groups, piece.rows)
    aside = {
        number: NO_NAME if not names[number] else part.repeated[row]
        for number, row in enumerate(first.tolist())
        if not names[number] or row in part.repeated
    }
    try:
        report, kept = _checked(plan, table, groups, aside, verdicts)
    except UsageError:
        if not plan.is_long:
            raise
        aside.update(_unusable(plan, table, groups))
        report, kept = _checked(plan, table, groups, aside, verdicts)
    for line in report.set_aside.to_pylist():
        own = int(kept[line["row"]])
        aside[own] = "; ".join(line["reason"].replace(f"row {line['row']}: ", "").splitlines())
    is_aside = np.isin(groups, list(aside))
    cells = piece.table.filter(pa.array(is_aside)).to_pylist()
    lost = [
        (row, names[group], aside[group], _written(own))
        for row, group, own in zip(piece.rows[is_aside].tolist(), groups[is_aside].tolist(), cells, strict=True)
    ]
    lost += [(row, "", reason, text) for row, reason, text in piece.refused]
    file = part.source.path
    is_judged = np.isin(groups, kept[report.counts["row"].to_numpy()])  # counted by itself: none may be lost
    return Told(
        _placed(report.findings, kept, first, names, file),
        _placed(report.counts, kept, first, names, file),
        _set_aside(sorted(lost), file),
        int(is_judged.sum()),
    )


def _readable(plan: Plan, table: Any) -> Any:
    """The same table with numbers where all texts of a column are numbers, and texts where facts look like numbers."""
    known, stated = plan.rulebook.characteristics, plan.asked.columns or {}
    if plan.is_long:
        value, names = (stated.get(role, role) for role in ("value", "characteristic"))
        if {value, names} <= set(table.column_names):
            told = pc.unique(table.column(names)).to_pylist()
            has_facts = any(name in known and known[name].unit is None for name in told)
            columns = {value: has_facts}
        else:
            columns = {}
    else:
        items = {name: known.get(stated.get(name, name).partition(AT)[0].strip()) for name in table.column_names}
        columns = {name: item.unit is None for name, item in items.items() if item is not None}
        used = frozenset[str]().union(*(columns_in(text, table.column_names) for text in stated))
        columns.update(dict.fromkeys(used & items.keys() - columns.keys(), False))
    for name, is_fact in columns.items():
        column = table.column(name)
        if is_fact:
            made = column.cast(pa.string()) if pa.types.is_integer(column.type) else column
        else:
            made = numbers_where_plain(column) if pa.types.is_string(column.type) else column
        table = table.set_column(table.column_names.index(name), name, made)
    return table


def _checked(
    plan: Plan, table: Any, groups: Numbers, aside: Mapping[int, str], verdicts: Sequence[Verdict]
) -> tuple[Any, Numbers]:
    """The report on all assemblies but those that are set aside, and which number each of its rows has here."""
    kept, again = np.unique(groups, return_inverse=True)
    keeps = ~np.isin(kept, list(aside))
    numbers = np.cumsum(keeps) - 1
    is_kept = keeps[again]
    some = table.filter(pa.array(is_kept))
    column = plan.name_column
    if column is not None:
        own = pa.array([str(number) for number in numbers[again[is_kept]].tolist()], pa.string())
        some = some.set_column(some.column_names.index(column), column, own)
    return plan.check(some, verdicts), kept[keeps]


def _unusable(plan: Plan, table: Any, groups: Numbers) -> Iterator[tuple[int, str]]:
    """The assemblies of a long table with lines that say nothing, such as of an unknown characteristic."""
    plan.check(table.slice(0, 0))  # what is wrong with all of it is no fault of a line
    known = {role: (plan.asked.columns or {}).get(role, role) for role in (*_PLACE, "value")}
    cells = {role: table.column(name).to_pylist() for role, name in known.items() if name in table.column_names}
    has_value = [value is not None for value in cells.pop("value")]
    alike: dict[tuple[Any, ...], list[int]] = {}
    for line, key in enumerate(zip(has_value, *cells.values(), strict=True)):
        alike.setdefault(key, []).append(line)
    kinds = list(alike.values())

    def problem(some: Sequence[int]) -> str:
        try:
            plan.check(table.take([kinds[kind][0] for kind in some]))
        except UsageError as error:
            return str(error)
        return ""

    for kind, words in _faulty(range(len(kinds)), problem):
        yield from ((int(groups[line]), "; ".join(words.splitlines())) for line in kinds[kind])


def _faulty(kinds: Sequence[int], problem: Callable[[Sequence[int]], str]) -> Iterator[tuple[int, str]]:
    """Which of some kinds of lines have a problem by themselves; where none has, all together have none."""
    words = problem(kinds) if kinds else ""
    if words and len(kinds) == 1:
        yield kinds[0], words
    elif words:
        half = len(kinds) // 2
        yield from _faulty(kinds[:half], problem)
        yield from _faulty(kinds[half:], problem)


def _placed(table: Any, kept: Numbers, first: Numbers, names: Sequence[str], file: str) -> Any:
    """A table of a report with the file, row and name of each assembly in place of its number in the piece."""
    own = kept[table["row"].to_numpy()]
    placed = {
        "file": pa.DictionaryArray.from_arrays(pa.array(np.zeros(own.size, np.int32)), [file]),
        "row": pa.array(first[own]),
        "assembly": pa.array([names[number] for number in own.tolist()], pa.string()),
    }
    rest = [name for name in table.column_names if name not in placed]
    return pa.table({**placed, **{name: table[name] for name in rest}})


def _written(cells: Mapping[str, Any]) -> str:
    """What stands in a row, for whoever puts it right."""
    return json.dumps({name: cell for name, cell in cells.items() if cell is not None}, default=str, ensure_ascii=False)


def _set_aside(lost: Sequence[tuple[int, str, str, str]], file: str) -> Any:
    rows, names, reasons, cells = zip(*lost, strict=True) if lost else ((), (), (), ())
    return pa.table(
        {
            "file": pa.array([file] * len(lost), pa.string()),
            "row": pa.array(rows, pa.int64()),
            "assembly": pa.array(names, pa.string()),
            "reason": pa.array(reasons, pa.string()),
            "cells": pa.array(cells, pa.string()),
        }
    )
