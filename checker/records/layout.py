"""How many stations there are, which belong to which, and how they lie."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from checker.errors import Place, Problem, nearest
from checker.frozen import FrozenMapping
from checker.graph import lineage
from checker.packs.characteristic import Stations
from checker.packs.layers import Layered
from checker.records.counts import Counting, counting, either
from checker.records.notes import Note, is_measured
from checker.records.record import Record

Indices = npt.NDArray[np.intp]


class Uncounted(NamedTuple):
    """A reading of a kind of station of which nobody says how many there are, and how to say it."""

    note: Note
    advice: str


@dataclass(frozen=True, eq=False)
class Layout:
    """The stations of an assembly; station n of a kind is counted from 1. Layouts that judge alike are equal."""

    counts: Mapping[str, int]
    parents: Mapping[str, str | None] = field(default_factory=FrozenMapping)
    belongs: Mapping[str, tuple[int, ...]] = field(default_factory=FrozenMapping)
    rows: Mapping[str, tuple[tuple[int, ...], ...]] = field(default_factory=FrozenMapping)
    uncounted: Mapping[str, Uncounted] = field(default_factory=FrozenMapping)
    """Kinds measured though nobody says how many there are: others would not be missed."""
    names: Mapping[str, tuple[str, ...]] = field(default_factory=FrozenMapping)
    """What the record calls the stations of a kind, where it gives them names."""

    def count(self, stations: str | None) -> int:
        """How many stations of a kind; one for the assembly itself."""
        return 1 if stations is None else self.counts.get(stations, 1)

    def children(self, child: str, ancestor: str) -> Indices:
        """For each child station, the index (from 0) of the ancestor station it belongs to."""
        indices = np.arange(self.count(child), dtype=np.intp)
        line = lineage(child, self.parents)
        if ancestor not in line:
            raise KeyError(f"{child} does not belong to {ancestor}")
        for current in line[: line.index(ancestor)]:
            indices = self._own_parent(current)[indices]
        return indices

    def related(self, stations: str | None, station: int, others: str | None) -> tuple[int, ...]:
        """Which of other stations have to do with one: itself, that it belongs to, those that belong to it, or all."""
        if others is None:
            return (0,)
        if stations == others:
            return (station,)
        if stations is not None and others in self.lineage(stations):
            return (int(self.children(stations, others)[station]),)
        if stations is not None and stations in self.lineage(others):
            return tuple(int(child) for child in np.flatnonzero(self.children(others, stations) == station))
        return tuple(range(self.count(others)))

    def lineage(self, stations: str) -> tuple[str, ...]:
        """The stations that a kind belongs to, nearest first."""
        return lineage(stations, self.parents)[1:]

    def _own_parent(self, child: str) -> Indices:
        if child in self.belongs:
            return np.asarray(self.belongs[child], dtype=np.intp) - 1
        parent = self.parents[child]
        share = max(1, self.count(child) // self.count(parent))
        return np.minimum(np.arange(self.count(child)) // share, self.count(parent) - 1)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Layout) and self._key == other._key

    def __hash__(self) -> int:
        return hash(self._key)

    @cached_property
    def _key(self) -> tuple[Any, ...]:
        return (tuple(sorted(self.counts.items())), tuple(sorted(self.belongs.items())))


MOST_STATIONS = 64
_NUMBERS = {str(number): number for number in range(1, MOST_STATIONS + 1)}


def station_number(label: str) -> int | None:
    """The number that a label stands for, counted from 1; nothing where it is no plain number, or too large."""
    return _NUMBERS.get(label)


def layout_of(record: Record, layered: Layered, per: Mapping[str, str | None], problems: list[Problem]) -> Layout:
    """The layout a record names or states; where it is silent, what follows from that or what its readings show.

    `per` gives the station set of each characteristic. What is wrong is added to the problems; the layout is then only
    good for finding more of them.
    """
    stations = layered.stations
    named = layered.layouts.get(record.layout)
    faults = list(_unknown(record, layered))
    belongs = {stated.name: stated.of for stated in record.stations if stated.of}
    numbers = {stated.name: stated.number for stated in record.stations}
    known = counting(numbers, named, stations, layered.layouts, frozenset(belongs))
    labels: dict[str | None, set[str]] = defaultdict(set)
    for note in record.notes:
        labels[per.get(note.characteristic)].add(note.station)
    counts = dict(known.certain)
    parents = layered.parents
    fitting = known.fitting()
    for name in sorted((name for name in stations if name not in counts), key=lambda item: len(lineage(item, parents))):
        counts[name] = _silent_count(name, known.likely(name, fitting), known, counts, labels[name])
    rows = {stated.name: stated.rows for stated in record.stations if stated.rows}
    names = {stated.name: stated.names for stated in record.stations if stated.names}
    faults = faults or list(_contradictions(record, known)) or _misfits(record, counts, parents, belongs, stations)
    faults += _incomplete(record, counts, rows, names)
    if faults:
        problems.extend(faults)
        return Layout(FrozenMapping(counts), parents)
    uncounted: dict[str, Uncounted] = {}
    for note in record.notes:
        measured = per.get(note.characteristic)
        is_new = measured is not None and measured not in known.certain and measured not in uncounted
        if measured is not None and is_new and any(map(is_measured, note.written)):
            uncounted[measured] = Uncounted(note, known.advice(measured, counts[measured]))
    return Layout(
        FrozenMapping(counts),
        parents,
        FrozenMapping(belongs),
        FrozenMapping(rows),
        FrozenMapping(uncounted),
        FrozenMapping(names),
    )


def _unknown(record: Record, layered: Layered) -> Iterator[Problem]:
    """Names that no pack knows."""
    for stated in record.stations:
        if stated.name not in layered.stations:
            hint = nearest(stated.name, layered.stations)
            yield Problem(f"no stations {stated.name!r}", stated.origin.place, hint)
    layout = record.layout
    if layout and layout not in layered.layouts:
        known = f"known: {', '.join(layered.layouts)}" if layered.layouts else "no rule pack here has layouts"
        hint = nearest(layout, layered.layouts) or known
        yield Problem(f"no layout {layout!r}", record.document.place("layout"), hint)


def _silent_count(
    name: str, likely: Sequence[int], known: Counting, counts: Mapping[str, int], labels: Iterable[str]
) -> int:
    """How many there are taken to be of a kind of which nothing says so for certain."""
    most = max(filter(None, map(station_number, labels)), default=1)
    for number in likely:
        if number >= most:
            return number
    kind = known.stations[name]
    if kind.of is not None and counts.get(kind.of, 1) > 1:
        return likely[0] if likely else counts[kind.of] * (kind.each or (1,))[0]
    return most


def _contradictions(record: Record, known: Counting) -> Iterator[Problem]:
    """Counts that others do not allow; what the layout named does not allow comes first, for others follow from it."""
    broken = [(name, demand) for name in known.certain for demand in known.broken(name)]
    stated = {known.name: known.origin.place for known in record.stations}
    by_layout = [(name, demand) for name, demand in broken if demand.is_of_layout]
    for name, demand in by_layout or broken:
        kind = known.stations[name]
        place = next((stated[other] for other in (name, kind.of, kind.as_many_as) if other in stated), None)
        where = place or record.document.place("layout")
        reason = "" if name in stated else f" ({known.reason(name)})"
        yield Problem(f"{known.certain[name]} {name}{reason}, expected {demand}", where)


def _misfits(
    record: Record,
    counts: Mapping[str, int],
    parents: Mapping[str, str | None],
    belongs: Mapping[str, tuple[int, ...]],
    stations: Mapping[str, Stations],
) -> list[Problem]:
    problems: list[Problem] = []
    stated = {known.name: known.origin.place for known in record.stations}
    for name, parent in parents.items():
        if parent is None:
            continue
        place = stated.get(name, record.document.place())
        if name in belongs:
            problems += _wrongly_shared(stations[name], belongs[name], counts, place)
        elif counts[name] % counts[parent]:
            message = f"{counts[name]} {name} cannot be shared out evenly over {counts[parent]} {parent}"
            problems.append(
                Problem(message, place, "say which each belongs to, as in {count: 6, of: [1, 1, 2, 2, 3, 3]}")
            )
    return problems


def _wrongly_shared(
    kind: Stations, belongs: tuple[int, ...], counts: Mapping[str, int], place: Place
) -> Iterator[Problem]:
    """What is wrong with a list of what each station of a kind belongs to."""
    parents = counts[str(kind.of)]
    if len(belongs) != counts[kind.name] or any(not 1 <= number <= parents for number in belongs):
        yield Problem(f"'of' must name one of {parents} {kind.of} for each of {counts[kind.name]}", place)
        return
    for parent in range(1, parents + 1) if kind.each else ():
        if (own := belongs.count(parent)) not in kind.each:
            message = f"'of' gives {own or 'no'} {kind.name} to {kind.of} {parent}, expected {either(kind.each)}"
            yield Problem(message, place)


def _incomplete(
    record: Record,
    counts: Mapping[str, int],
    rows: Mapping[str, tuple[tuple[int, ...], ...]],
    names: Mapping[str, tuple[str, ...]],
) -> Iterator[Problem]:
    """Rows that leave a station out, as would every sheet and drawing; names too few, too many, or two alike."""
    for name, own_rows in rows.items():
        if sorted(station for row in own_rows for station in row) != list(range(1, counts[name] + 1)):
            place = record.document.place("stations", name, "rows")
            yield Problem(f"'rows' must name each of the {counts[name]} once", place)
    for name, own_names in names.items():
        if len(own_names) != counts[name] or len(set(own_names)) != len(own_names):
            place = record.document.place("stations", name, "names")
            yield Problem(f"'names' must give each of the {counts[name]} a name of its own", place)
