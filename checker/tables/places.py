"""What the cells of a table were measured at: columns with the name of a characteristic, or a line for each value."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from checker.errors import Place as Spot
from checker.errors import Problem, UsageError, nearest
from checker.frozen import FrozenMapping
from checker.records.notes import ASSEMBLY
from checker.tables.arithmetic import cells_of, problems_of
from checker.tables.arrow import Cells, Codes, Table

Layout: TypeAlias = Literal["wide", "long"]
AT = "@"
"""Stands between a characteristic and its station in the name of a column."""
NO_NAME, PERHAPS = "no assembly is named there", ", and it may tell of this one"
LONG = ("assembly", "characteristic", "station", "value", "unit")


class Place(NamedTuple):
    """Where some cells were measured, and the unit of their bare numbers where it is stated with them.

    `lines` are those of a long table that say the cells, by assembly, -1 where none does.
    """

    characteristic: str
    station: str
    unit: str
    cells: Cells
    column: str
    lines: Codes | None = None


class Laid(NamedTuple):
    """A table by assemblies: what was measured of each where, its name or number, and what is wrong with some.

    `column_of_units` is whether each line of a long table states its unit; nothing in a wide one, which has no lines.
    """

    places: tuple[Place, ...]
    assemblies: Sequence[str] | range
    faults: Mapping[int, tuple[Problem, ...]] = FrozenMapping()
    column_of_units: bool | None = None


def laid_out(
    table: Table, layout: Layout, columns: Mapping[str, str] | None, assembly: str | None, known: Mapping[str, object]
) -> Laid:
    """The table by assemblies; raises UsageError naming every column that says nothing, or is not there.

    A line of a long table that says of no known assembly or characteristic what its value is takes every assembly with
    it of which the value may be: without it a reading would be lacking that might have made the verdict another.
    """
    if layout == "wide":
        return _wide(table, columns, assembly, known)
    if layout == "long":
        return _long(table, columns or {}, assembly, known)
    raise UsageError(Problem(f"no layout {layout!r} of tables", hint="wide: a row an assembly; long: a row a value"))


def _wide(table: Table, columns: Mapping[str, str] | None, assembly: str | None, known: Mapping[str, object]) -> Laid:
    chosen = {name: name for name in table.names if name != assembly} if columns is None else columns
    problems = [problem for name in chosen if name not in table.names for problem in problems_of(name, table)]
    problems += table.missing([assembly] if assembly else [])
    parts = {name: stated.partition(AT) for name, stated in chosen.items()}
    measured = {name: (characteristic.strip(), station.strip()) for name, (characteristic, _, station) in parts.items()}
    for name, (characteristic, _) in measured.items():
        if characteristic not in known:
            hint = nearest(characteristic, known) or "say which are measurements: columns={...}, or --column"
            if name == LONG[0]:
                hint = f"where it names each, say so: assembly={name!r}, or --assembly {name}"
            problems.append(Problem(f"column {name!r}: unknown characteristic {characteristic!r}", hint=hint))
    if problems:
        raise UsageError(problems)
    places = [
        Place(characteristic, station or ASSEMBLY, "", cells_of(name, table), name)
        for name, (characteristic, station) in measured.items()
    ]
    return Laid(tuple(places), table.texts(assembly) if assembly else range(table.rows))


def _long(table: Table, columns: Mapping[str, str], assembly: str | None, known: Mapping[str, object]) -> Laid:
    """A row for each assembly in the order in which they come; several values at one place are several readings."""
    strange = [role for role in columns if role not in LONG]
    if strange:
        raise UsageError(
            [Problem(f"no part {role!r} of a long table", hint=f"known: {', '.join(LONG)}") for role in strange]
        )
    names = {role: columns.get(role, role) for role in LONG} | ({"assembly": assembly} if assembly else {})
    has_units = "unit" in columns or "unit" in table.names
    if not has_units:
        del names["unit"]
    problems = table.missing(name for role, name in names.items() if role != "value")
    if problems := problems + problems_of(names["value"], table):
        raise UsageError(problems)
    cells = cells_of(names["value"], table)
    assemblies, owners = table.words(names["assembly"])
    characteristics, of = table.words(names["characteristic"])
    stations, at = table.words(names["station"])
    units, stated = table.words(names["unit"]) if has_units else (("",), np.zeros_like(of))
    faults: dict[int, list[Problem]] = {}
    hints = {word: nearest(word, known) for word in characteristics if word not in known}
    is_known = np.array([word in known for word in characteristics], dtype=np.bool_)[of]
    for line in np.flatnonzero(~is_known).tolist():
        word = characteristics[of[line]]
        problem = Problem(f"unknown characteristic {word!r}", line_of(line), hints[word])
        faults.setdefault(int(owners[line]), []).append(problem)
    if "" in assemblies:
        nameless = assemblies.index("")
        for owner, line in perhaps_of(owners, nameless).items():
            words = NO_NAME if owner == nameless else f"{NO_NAME}{PERHAPS}"
            faults.setdefault(owner, []).append(Problem(words, line_of(line)))
    places = tuple(
        Place(
            characteristics[of[lines[0]]],
            stations[at[lines[0]]],
            units[stated[lines[0]]],
            _picked(cells, owners[lines], lines, len(assemblies)),
            names["value"],
            _at_rows(lines, owners[lines], len(assemblies), -1),
        )
        for lines in _at_places(owners, of, at, stated)
        if is_known[lines[0]]
    )
    return Laid(places, assemblies, {row: tuple(own) for row, own in faults.items()}, has_units)


def line_of(line: int) -> Spot:
    """A line of a long table, counted from 0."""
    return Spot(f"line {line}")


def starts_of_runs(values: Codes) -> Codes:
    """Where each value begins that stands several times one after the other."""
    return np.flatnonzero(np.concatenate([[True], values[1:] != values[:-1]])[: values.size])


def perhaps_of(owners: Codes, nameless: int, are_together: bool = False) -> dict[int, int]:
    """The assemblies of which lines without a name may tell, each with such a line; those lines tell of `nameless`.

    Where the lines of each assembly stand together it is one of the two beside them, else it may be any.
    """
    starts = starts_of_runs(owners)
    runs = owners[starts]
    lost = np.flatnonzero(runs == nameless)
    known = runs[runs != nameless]
    known = known[starts_of_runs(known)]
    if lost.size and not are_together and np.unique(known).size < known.size:
        return dict.fromkeys([nameless, *known.tolist()], int(starts[lost[0]]))
    beside = {int(runs[at]): int(starts[run]) for run in lost for at in (run - 1, run + 1) if 0 <= at < runs.size}
    return beside | ({nameless: int(starts[lost[0]])} if lost.size else {})


def _at_places(owners: Codes, *roles: Codes) -> Iterator[Codes]:
    """The lines about each place, at most one of each assembly; where there are more, the next ones come apart."""
    place = np.zeros_like(owners)
    for codes in roles:
        place = np.unique(place * (codes.max(initial=0) + 1) + codes, return_inverse=True)[1]
    order = np.lexsort((place, owners))
    same = np.concatenate(
        [[False], (owners[order][1:] == owners[order][:-1]) & (place[order][1:] == place[order][:-1])]
    )
    count = np.arange(owners.size)
    again = np.zeros_like(owners)
    again[order] = count - np.maximum.accumulate(np.where(same[: owners.size], 0, count))
    apart = np.lexsort((again, place))
    ends = np.flatnonzero((np.diff(place[apart]) != 0) | (np.diff(again[apart]) != 0)) + 1
    return (lines for lines in np.split(apart, ends) if lines.size)


def _picked(cells: Cells, here: Codes, lines: Codes, rows: int) -> Cells:
    """Some lines of a column, each at its row."""
    if cells.numbers is not None:
        return Cells(_at_rows(cells.numbers[lines], here, rows, np.nan))
    return Cells(None, cells.texts, None if cells.codes is None else _at_rows(cells.codes[lines], here, rows, -1))


def _at_rows(values: Any, here: Codes, rows: int, empty: float) -> Any:
    found = np.full(rows, empty, dtype=values.dtype)
    found[here] = values
    return found
