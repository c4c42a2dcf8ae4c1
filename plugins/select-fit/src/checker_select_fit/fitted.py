"""The record as it would read with other parts in place: what goes with a part, what moves, what is void."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from checker import Note, Place, Reading, Record

from checker_select_fit.asked import noted
from checker_select_fit.kinds import Kind, Shift
from checker_select_fit.seats import Bench, Seats
from checker_select_fit.shelf import Part

Choice = tuple[int, ...]
"""The numbers of the parts in the slots of one station."""

Key = tuple[str, int]
"""A characteristic and its station, counted from 0."""

ASSEMBLY = ""
"""The station of a note on the whole assembly."""

FORETOLD = "foretold from the size of the part"


class Fitted(NamedTuple):
    """What changes in a record: what is chosen, what is foretold of it, and what must be measured again."""

    chosen: Mapping[Key, tuple[Note, ...]]
    foretold: Mapping[Key, tuple[Note, ...]]
    void: frozenset[Key]

    @property
    def expected(self) -> Mapping[Key, tuple[Note, ...]]:
        """What would be read, by what it is read of; nothing for what nobody can foretell."""
        return {**dict.fromkeys(self.void, ()), **self.foretold, **self.chosen}

    @property
    def written(self) -> Mapping[Key, tuple[Note, ...]]:
        """What may be written down now: the parts, and blanks for all that must be measured with them."""
        return {**dict.fromkeys((*self.void, *self.foretold), ()), **self.chosen}


def fitted(seats: Seats, choices: Mapping[int, Choice], bench: Bench) -> Fitted:
    """What putting these parts at these stations changes."""
    chosen: dict[Key, tuple[Note, ...]] = {}
    foretold: dict[Key, tuple[Note, ...]] = {}
    void: set[Key] = set()
    for station, choice in choices.items():
        parts = [seats.parts[number] for number in choice]
        foretold.update(_from_trial(seats.kind, station, parts, bench))
        old = [seats.now.get((station, slot)) for slot in range(len(choice))]
        if old == list(choice):
            continue
        own = dict(_chosen(seats.kind, station, parts))
        foretold.update(_shifted(seats, station, choice, bench))
        void.update((name, station) for name in seats.kind.sizes if (name, station) not in own)
        void.update(key for name in seats.kind.voids for key in _related(name, seats.kind.per, station, bench))
        chosen.update(own)
    kept = {*chosen, *foretold}
    void.update(_followers({*kept, *void}, bench))
    noted = {note.characteristic for note in bench.before.record.notes}
    return Fitted(chosen, foretold, frozenset(key for key in void - kept if key[0] in noted))


def _chosen(kind: Kind, station: int, parts: list[Part]) -> Iterator[tuple[Key, tuple[Note, ...]]]:
    for slot, part in zip(kind.slots, parts, strict=True):
        if slot.label:
            place = part.place or Place("the record")
            text = part.size_text
            yield (slot.label, station), (Note(slot.label, "", (text,), place, is_fact=True),)
        for name, notes in part.writes.items():
            yield (name, station), notes


def _shifted(seats: Seats, station: int, choice: Choice, bench: Bench) -> Iterator[tuple[Key, tuple[Note, ...]]]:
    """The readings that move with the size; where the size of what is in place is not known, they are not foretold."""
    kind = seats.kind
    old = [seats.now.get((station, slot)) for slot in range(len(choice))]
    for name, shift in kind.shifts.items():
        for key in _related(name, kind.per, station, bench):
            readings = bench.readings.get(key, ())
            by = _times(shift, bench)
            if None in old or by is None:
                yield key, ()
                continue
            change = sum(
                seats.parts[new].size - seats.parts[before].size
                for new, before in zip(choice, old, strict=True)
                if before is not None
            )
            if readings:
                yield key, tuple(_moved(reading, by * change) for reading in readings)


def _times(shift: Shift, bench: Bench) -> float | None:
    by = bench.size(shift.by, 0) if shift.by else 1.0
    return None if by is None else shift.factor * by


def _from_trial(kind: Kind, station: int, parts: list[Part], bench: Bench) -> Iterator[tuple[Key, tuple[Note, ...]]]:
    """The clearance that a trial clearance foretells, where none was measured with the parts in place."""
    if kind.trial is None:
        return
    trial, clearance = kind.trial
    if any((name, station) in bench.readings for name in kind.shifts):
        return
    labels = [bench.size(slot.trial, station) for slot in kind.slots]
    change = sum(part.size - label for part, label in zip(parts, labels, strict=True) if label is not None)
    if None not in labels and (trial, station) in bench.readings:
        moved = (_moved(reading, kind.shifts[clearance].factor * change) for reading in bench.readings[trial, station])
        yield (clearance, station), tuple(note._replace(characteristic=clearance) for note in moved)


def _moved(reading: Reading, change: float) -> Note:
    if reading.unit is None:
        raise ValueError(f"{reading.characteristic} is no quantity")
    name = reading.unit.name
    ends = [f"{reading.unit.from_si(end + change):.9g} {name}" for end in (reading.low, reading.high)]
    texts, form = ((ends[0],), "value") if reading.low == reading.high else (tuple(ends), "between")
    circumstances = {"with": reading.instrument} if reading.instrument else {}
    return Note(reading.characteristic, "", texts, reading.place, form, {**circumstances, "note": FORETOLD})


def _related(name: str, per: str | None, station: int, bench: Bench) -> Iterator[Key]:
    """Where a characteristic has to do with a station."""
    item = bench.rulebook.characteristics.get(name)
    if item is not None:
        for other in bench.related(per, station, item.characteristic.per):
            yield name, other


def _followers(changed: Iterable[Key], bench: Bench) -> set[Key]:
    """What was read of characteristics that follow from what has changed, as the packs say."""
    items = bench.rulebook.characteristics
    behind: dict[str, set[str]] = defaultdict(set)
    for item in items.values():
        for name in (*item.characteristic.follows, *((c.name for c in item.derived.columns) if item.derived else ())):
            behind[name].add(item.name)
    found: set[Key] = set()
    waiting = list(changed)
    while waiting:
        name, station = waiting.pop()
        per = items[name].characteristic.per if name in items else None
        for follower in behind[name]:
            for key in _related(follower, per, station, bench):
                if key not in found:
                    found.add(key)
                    waiting.append(key)
    return found


def record_with(record: Record, values: Mapping[Key, tuple[Note, ...]], bench: Bench) -> Record:
    """The record with these notes in the place of what it says there; no notes leave the place empty."""
    touched = {name for name, _ in values}
    notes = [note for note in record.notes if note.characteristic not in touched]
    for name in sorted(touched):
        per = bench.rulebook.characteristics[name].characteristic.per
        old = [note for note in record.notes if note.characteristic == name]
        is_fact = any(note.is_fact for note in old)
        for station in range(bench.count(per)):
            if (name, station) in values:
                placed = values[name, station]
                if old:
                    placed = tuple(note._replace(is_fact=is_fact) for note in placed)
            else:
                placed = tuple(note for note in old if _is_of(note, per, station))
            label = ASSEMBLY if per is None else str(station + 1)
            notes += [note._replace(station=label, form=_form(note)) for note in placed]
    return noted(record, notes)


def _is_of(note: Note, per: str | None, station: int) -> bool:
    return per is None or note.stands_for_all or note.station in (ASSEMBLY, str(station + 1))


def _form(note: Note) -> str:
    return "value" if note.form == "listed" else note.form
