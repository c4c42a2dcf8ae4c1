"""What stands where now: the parts in place, as the record tells them, and the readings of each station."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from checker import InputError, Note, Problem, Reading, Report, Rulebook

from checker_select_fit.kinds import Kind
from checker_select_fit.shelf import Part, Shelf

SAME = 1e-9
"""Sizes nearer than this, a thousandth of a micrometre, are one size."""

Seat = tuple[int, int]
"""A station, counted from 0, and one of its slots."""


class Seats(NamedTuple):
    """For one kind: all the parts there are, those in place first, and which of them stands in which seat."""

    kind: Kind
    parts: tuple[Part, ...]
    now: Mapping[Seat, int]
    stations: int


class Bench(NamedTuple):
    """The record as it was judged before anything was changed."""

    rulebook: Rulebook
    before: Report
    readings: Mapping[tuple[str, int], tuple[Reading, ...]]

    def count(self, per: str | None) -> int:
        """How many stations of a kind there are."""
        return self.before.context.block.layout.count(per)

    def related(self, per: str | None, station: int, other: str | None) -> Sequence[int]:
        """The stations of another kind that have to do with one of this kind."""
        return self.before.context.block.layout.related(per, station, other)

    def size(self, name: str, station: int) -> float | None:
        """What was read at a station, in SI; None where nothing that counts was written down."""
        found = self.readings.get((name, station))
        return sum(reading.middle for reading in found) / len(found) if found else None


def station_in_words(title: str, station: int) -> str:
    """A station as the middle of a sentence has it, such as "main bearing 3", from the title of its kind."""
    return f"{title[:1].lower()}{title[1:]} {station + 1}"


def bench_of(rulebook: Rulebook, before: Report) -> Bench:
    """The readings that count, by characteristic and station."""
    found: dict[tuple[str, int], tuple[Reading, ...]] = defaultdict(tuple)
    for reading in before.readings:
        if not reading.set_aside:
            key = (reading.characteristic, reading.station)
            found[key] = (*found[key], reading)
    return Bench(rulebook, before, dict(found))


def seats_for(kind: Kind, shelf: Shelf, bench: Bench, use: frozenset[str]) -> Seats:
    """The parts of a kind on the shelf and in place; a doubtful one only where it is named in `use`, or stands.

    Raises InputError where the shelf says that parts are in place at stations that there are not.
    """
    count = bench.count(kind.per)
    offered = [part for part in shelf.parts if part.kind == kind.name and (not part.doubtful or part.name in use)]
    if kind.sizes:
        return _seats_of_their_own(kind, offered, bench, count, use)
    return _seats_by_size(kind, offered, bench, count)


def _seats_of_their_own(kind: Kind, offered: list[Part], bench: Bench, count: int, use: frozenset[str]) -> Seats:
    """Every part in place is one of its kind; all that the record says of it goes with it."""
    parts: list[Part] = []
    now: dict[Seat, int] = {}
    for station in range(count):
        size = bench.size(kind.sizes[0], station)
        if size is None:
            continue
        readings = {name: bench.readings[name, station] for name in kind.sizes if (name, station) in bench.readings}
        where = f"{kind.name} of {kind.per} {station + 1}" if kind.per else f"{kind.name} in place"
        doubts = [str(words) for found in readings.values() for reading in found for words in reading.suspicions]
        doubtful = "; ".join(dict.fromkeys(doubts)) if where not in use else ""
        writes = {name: tuple(map(_note, found)) for name, found in readings.items()}
        now[station, 0] = len(parts)
        text = readings[kind.sizes[0]][0].written
        parts.append(Part(kind.name, where, 1, size, text, writes, None, station, "", doubtful))
    return Seats(kind, (*parts, *offered), now, count)


def _note(reading: Reading) -> Note:
    """What was written of a part, to be written of it wherever it goes."""
    text = reading.written
    if reading.unit is not None and reading.correction is not None:  # brought to the reference temperature
        text = f"{reading.unit.from_si(reading.middle):.9g} {reading.unit.name}"
    circumstances = {"with": reading.instrument} if reading.instrument else {}
    if reading.taken is not None:
        circumstances["taken"] = reading.taken.isoformat()
    return Note(reading.characteristic, "", (text,), reading.place, "value", circumstances, reading.is_fact)


def _seats_by_size(kind: Kind, offered: list[Part], bench: Bench, count: int) -> Seats:
    """Parts of one size are one: those in place join those on the shelf."""
    parts: list[Part] = []
    now: dict[Seat, int] = {}
    for part in offered:
        same = _same(parts, part.size)
        if same is None:
            parts.append(part)
        else:
            parts[same] = parts[same]._replace(stock=parts[same].stock + part.stock)
    for station, slot, size, text in _in_place(kind, offered, bench, count):
        same = _same(parts, size)
        if same is None:
            same = len(parts)
            parts.append(Part(kind.name, text, 0, size, text, {}))
        parts[same] = parts[same]._replace(stock=parts[same].stock + 1)
        now[station, slot] = same
    return Seats(kind, tuple(parts), now, count)


def _same(parts: list[Part], size: float) -> int | None:
    return next((number for number, part in enumerate(parts) if abs(part.size - size) < SAME), None)


def _in_place(kind: Kind, offered: list[Part], bench: Bench, count: int) -> Iterator[tuple[int, int, float, str]]:
    if kind.fresh is not None:
        yield 0, 0, kind.fresh, f"no {kind.name}"
        return
    for station in range(count):
        for number, slot in enumerate(kind.slots):
            if slot.label and (size := bench.size(slot.label, station)) is not None:
                yield station, number, size, bench.readings[slot.label, station][0].written
    for part in offered:
        for station in _stations(part, kind, count):
            yield station, 0, part.size, part.size_text


def _stations(part: Part, kind: Kind, count: int) -> list[int]:
    if not part.in_place:
        return []
    if part.in_place == "all":
        return list(range(count))
    words = part.in_place.replace(";", " ").replace(",", " ").split()
    if all(word.isascii() and word.isdigit() and 1 <= int(word[:6]) <= count for word in words):
        return [int(word) - 1 for word in words]
    message = f"found in_place {part.in_place!r}, expected numbers of the {kind.per or 'assembly'} from 1 to {count}"
    raise InputError(Problem(message, part.place, "such as all, or 1 2 3"))
