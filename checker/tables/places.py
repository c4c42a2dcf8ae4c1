"""What the cells of a table were measured at: columns with the name of a characteristic, or a line for each value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from checker.errors import Problem, UsageError, nearest
from checker.records.notes import ASSEMBLY
from checker.tables.arithmetic import cells_of, problems_of
from checker.tables.arrow import Cells, Table

Layout: TypeAlias = Literal["wide", "long"]
AT = "@"
"""Stands between a characteristic and its station in the name of a column."""
LONG = ("assembly", "characteristic", "station", "value", "unit")


class Place(NamedTuple):
    """Where some cells were measured, and the unit of their bare numbers where it is stated with them."""

    characteristic: str
    station: str
    unit: str
    cells: Cells
    column: str


class Laid(NamedTuple):
    """A table by assemblies: what was measured of each where, and what each is called."""

    places: tuple[Place, ...]
    assemblies: tuple[str, ...]


def laid_out(
    table: Table, layout: Layout, columns: Mapping[str, str] | None, assembly: str | None, known: Mapping[str, object]
) -> Laid:
    """The table by assemblies; raises UsageError naming every column that says nothing, or is not there."""
    if layout == "wide":
        return _wide(table, columns, assembly, known)
    if layout == "long":
        return _long(table, columns or {}, assembly, known)
    raise UsageError(Problem(f"no layout {layout!r} of tables", hint="wide: a row an assembly; long: a row a value"))


def _wide(table: Table, columns: Mapping[str, str] | None, assembly: str | None, known: Mapping[str, object]) -> Laid:
    chosen = {name: name for name in table.names if name != assembly} if columns is None else columns
    problems = [problem for name in chosen for problem in problems_of(name, table)]
    problems += table.missing([assembly] if assembly else [])
    for name, stated in chosen.items():
        characteristic = stated.partition(AT)[0].strip()
        if characteristic not in known:
            hint = nearest(characteristic, known) or "say with columns={...} which columns are measurements"
            problems.append(Problem(f"column {name!r}: unknown characteristic {characteristic!r}", hint=hint))
    if problems:
        raise UsageError(problems)
    places = []
    for name, stated in chosen.items():
        characteristic, _, station = (part.strip() for part in stated.partition(AT))
        places.append(Place(characteristic, station or ASSEMBLY, "", cells_of(name, table), name))
    names = [str(number) for number in range(table.rows)]
    if assembly:
        own = table.cells(assembly)
        names = [own.text(row) for row in range(table.rows)]
    return Laid(tuple(places), tuple(names))


def _long(table: Table, columns: Mapping[str, str], assembly: str | None, known: Mapping[str, object]) -> Laid:
    """A row for each assembly in the order in which they come; several values at one place are several readings."""
    strange = [role for role in columns if role not in LONG]
    if strange:
        raise UsageError(
            [Problem(f"no part {role!r} of a long table", hint=f"known: {', '.join(LONG)}") for role in strange]
        )
    names = {role: columns.get(role, role) for role in LONG} | ({"assembly": assembly} if assembly else {})
    if "unit" not in columns and "unit" not in table.names:
        del names["unit"]
    problems = table.missing(name for role, name in names.items() if role != "value")
    if problems := problems + problems_of(names["value"], table):
        raise UsageError(problems)
    texts = {role: _texts(table, names[role]) for role in names if role != "value"}
    cells = cells_of(names["value"], table)
    if problems := [
        Problem(f"unknown characteristic {name!r}", hint=nearest(name, known))
        for name in sorted(set(texts["characteristic"]) - known.keys())
    ]:
        raise UsageError(problems)
    rows = {name: row for row, name in enumerate(dict.fromkeys(texts["assembly"]))}
    lines: dict[tuple[str, str, str, int], list[tuple[int, int]]] = {}
    times: dict[tuple[str, str, str], int] = {}
    units = texts.get("unit", [""] * table.rows)
    whole = zip(texts["assembly"], texts["characteristic"], texts["station"], units, strict=True)
    for line, (name, characteristic, station, unit) in enumerate(whole):
        again = times[name, characteristic, station] = times.get((name, characteristic, station), -1) + 1
        lines.setdefault((characteristic, station, unit, again), []).append((rows[name], line))
    places = tuple(
        Place(characteristic, station, unit, _picked(cells, at, len(rows)), names["value"])
        for (characteristic, station, unit, _), at in lines.items()
    )
    return Laid(places, tuple(rows))


def _texts(table: Table, name: str) -> list[str]:
    """A column as texts; whole numbers without a point."""
    cells = table.cells(name)
    return [cells.text(row).removesuffix(".0") for row in range(table.rows)]


def _picked(cells: Cells, at: Sequence[tuple[int, int]], rows: int) -> Cells:
    """Some lines of a column, each at its row."""
    here, lines = np.array(at, dtype=np.int64).T
    if cells.numbers is not None:
        numbers = np.full(rows, np.nan)
        numbers[here] = cells.numbers[lines]
        return Cells(numbers)
    codes = np.full(rows, -1, dtype=np.int64)
    if cells.codes is not None:
        codes[here] = cells.codes[lines]
    return Cells(None, cells.texts, codes)
