"""Judging one part of a table: every row is judged, or set aside with the reason."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from checker.errors import Place, UsageError
from checker.fleet.parts import Part
from checker.fleet.plan import Plan
from checker.fleet.sources import Numbers, Piece, numbers_where_plain, pieces
from checker.judging.judge import Verdict
from checker.tables import arrow
from checker.tables.arithmetic import columns_in
from checker.tables.arrow import trimmed, words_in
from checker.tables.places import AT, NO_NAME


class Told(NamedTuple):
    """What is said of some rows: tables in which each row says of which file and row (from 1) it tells.

    Of a long table that is the first row of an assembly in `findings` and `counts`; in `set_aside` each row stands for
    itself. `judged` rows were judged, and `failed` is that of a TableReport.
    """

    findings: Any
    counts: Any
    set_aside: Any
    judged: int
    failed: Mapping[str, int]


def told_of(plan: Plan, part: Part, verdicts: Sequence[Verdict]) -> Iterator[Told]:
    """What is said of the rows of a part, piece by piece, with the findings of these verdicts.

    Raises UsageError for columns that cannot be read, InputError for what is wrong with the record.
    """
    of_part = pieces(part.source, part.first, part.stop, plan.asked.rows)
    for piece in filter(None, [_joined(list(of_part))]) if plan.is_long else of_part:
        yield _told(plan, part, piece, verdicts)


def _joined(pieces_read: Sequence[Piece]) -> Piece | None:
    if not pieces_read:
        return None  # blank lines alone
    rows, tables, refused = zip(*pieces_read, strict=True)
    whole = pa.concat_tables(tables, promote_options="permissive")
    return Piece(np.concatenate(rows), whole, tuple(chain.from_iterable(refused)))


def _told(plan: Plan, part: Part, piece: Piece, verdicts: Sequence[Verdict]) -> Told:
    names, groups = _named(plan, piece)
    first = piece.rows
    if plan.is_long:
        first = np.full(len(names), np.iinfo(np.int64).max)
        np.minimum.at(first, groups, piece.rows)
    aside = dict.fromkeys(np.flatnonzero(pc.equal(names, "").to_numpy(zero_copy_only=False)).tolist(), NO_NAME)
    for own in np.flatnonzero(np.isin(first, list(part.aside))).tolist():
        aside.setdefault(own, part.aside[int(first[own])])
    is_kept = ~np.isin(groups, list(aside))
    table = _readable(plan, piece.table if is_kept.all() else piece.table.filter(pa.array(is_kept)))
    try:
        report = plan.check(table, verdicts)
    except UsageError as error:  # of its columns: what else is asked was looked at with the plan
        place = Place(part.source.path)
        raise UsageError(problem._replace(place=problem.place or place) for problem in error.problems) from None
    kept, lines = np.unique(groups[is_kept]), piece.rows[is_kept]

    def row_of(line: re.Match[str]) -> str:
        return f"row {lines[int(line[1])]}: "

    for number, reason in zip(report.set_aside["row"].to_pylist(), report.set_aside["reason"].to_pylist(), strict=True):
        own = reason.replace(f"row {number}: ", "")
        aside[int(kept[number])] = "; ".join(re.sub(r"^line (\d+): ", row_of, own, flags=re.MULTILINE).splitlines())
    is_aside = np.isin(groups, list(aside))
    cells = piece.table.filter(pa.array(is_aside)).to_pylist()
    called = arrow.taken(names, groups[is_aside]).to_pylist()
    lost = [
        (row, name, aside[group], _written(own))
        for row, name, group, own in zip(
            piece.rows[is_aside].tolist(), called, groups[is_aside].tolist(), cells, strict=True
        )
    ]
    lost += [(row, "", reason, text) for row, reason, text in piece.refused]
    file = part.source.path
    is_judged = np.isin(groups, kept[report.counts["row"].to_numpy()])  # counted by itself: none may be lost
    return Told(
        _placed(report.findings, kept, first, names, file),
        _placed(report.counts, kept, first, names, file),
        _set_aside(sorted(lost), file),
        int(is_judged.sum()),
        report.failed,
    )


def _named(plan: Plan, piece: Piece) -> tuple[Any, Numbers]:
    """What the assemblies of a piece are called, and which of them each of its rows tells of."""
    rows = np.arange(piece.rows.size)
    if plan.name_column is None:
        return pc.cast(pa.array(piece.rows), pa.string()), rows
    column = piece.table.column(plan.name_column)
    if not plan.is_long:
        return trimmed(column), rows
    words, owners = words_in(column)
    return arrow.texts(words), owners


def _readable(plan: Plan, table: Any) -> Any:
    """The same table with numbers where all texts of a column are numbers, and texts where facts look like numbers."""
    known, stated = plan.rulebook.characteristics, plan.asked.columns or {}
    if plan.is_long:
        value, names = (stated.get(role, role) for role in ("value", "characteristic"))
        is_fact: dict[str, bool] = {}
        if {value, names} <= set(table.column_names):
            named = pc.unique(table.column(names)).to_pylist()
            is_fact[value] = any(name in known and known[name].unit is None for name in named)
    else:
        items = {name: known.get(stated.get(name, name).partition(AT)[0].strip()) for name in table.column_names}
        is_fact = {name: item.unit is None for name, item in items.items() if item is not None}
        used = frozenset[str]().union(*(columns_in(text, items) for text in stated))
        is_fact.update(dict.fromkeys(used & items.keys() - is_fact.keys(), False))
    columns = dict(zip(table.column_names, table.columns, strict=True))
    for name, is_text in is_fact.items():
        kind = columns[name].type
        if is_text and pa.types.is_integer(kind):
            columns[name] = columns[name].cast(pa.string())
        elif not is_text and pa.types.is_string(kind):
            columns[name] = numbers_where_plain(columns[name])
    return pa.table(columns)


def _placed(table: Any, kept: Numbers, first: Numbers, names: Any, file: str) -> Any:
    """A table of a report with the file, row and name of each assembly in place of its number in the piece."""
    own = kept[table["row"].to_numpy()]
    placed = {
        "file": arrow.words(np.zeros(own.size, np.int64), [file]),
        "row": arrow.whole_numbers(first[own]),
        "assembly": arrow.taken(names, own),
    }
    rest = [name for name in table.column_names if name not in placed]
    return arrow.table({**placed, **{name: table[name] for name in rest}})


def _written(cells: Mapping[str, Any]) -> str:
    """What stands in a row, for whoever puts it right."""
    return json.dumps({name: cell for name, cell in cells.items() if cell is not None}, default=str, ensure_ascii=False)


def _set_aside(lost: Sequence[tuple[int, str, str, str]], file: str) -> Any:
    rows, *words = zip(*lost, strict=True) if lost else ((), (), (), ())
    names, reasons, cells = (arrow.texts(each) for each in words)
    places = {"file": arrow.texts([file] * len(lost)), "row": arrow.whole_numbers(rows), "assembly": names}
    return arrow.table({**places, "reason": reasons, "cells": cells})
