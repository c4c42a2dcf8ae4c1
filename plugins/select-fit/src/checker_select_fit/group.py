"""Kinds of parts that are chosen together, and what putting their parts in changes in a record."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

from checker import Problem, Record, Report, Rulebook, UsageError

from checker_select_fit.asked import Bearing, bearing
from checker_select_fit.fitted import Choice, Fitted, fitted, record_with
from checker_select_fit.kinds import Kind
from checker_select_fit.seats import Bench, Seats, seats_for
from checker_select_fit.shelf import Shelf

MOST_OPTIONS = 400
"""More than this for one station, and the kinds should be chosen one by one."""


class Group(NamedTuple):
    """Kinds that are chosen together; an option has the slots of the first, then of the second, and so on."""

    seats: tuple[Seats, ...]
    bearing: Bearing
    options: tuple[Choice, ...]

    @property
    def stations(self) -> int:
        return self.seats[0].stations

    def split(self, option: int) -> list[Choice]:
        found, start = [], 0
        for seats in self.seats:
            end = start + len(seats.kind.slots)
            found.append(self.options[option][start:end])
            start = end
        return found

    def changes(self, option: int, station: int) -> int:
        """How many parts differ from those in place."""
        return sum(seats.now.get((station, slot)) != part for seats, slot, part in self._taken(option))

    def is_for_good(self, option: int, station: int) -> bool:
        """Whether it takes off what does not come back."""
        taken = self._taken(option)
        return any(seats.kind.for_good and seats.now.get((station, slot)) != part for seats, slot, part in taken)

    def _taken(self, option: int) -> list[tuple[Seats, int, int]]:
        pairs = zip(self.seats, self.split(option), strict=True)
        return [(seats, slot, part) for seats, parts in pairs for slot, part in enumerate(parts)]


def _touched(kind: Kind) -> frozenset[str]:
    labels = (slot.label for slot in kind.slots if slot.label)
    return frozenset((*kind.fits, *labels, *kind.shifts, *kind.sizes[:1]))


def _bearing(kinds: Sequence[Kind], touched: frozenset[str], rulebook: Rulebook, report: Report) -> Bearing:
    fits = [fit for kind in kinds for fit in kind.fits]
    aimed = [aim for kind in kinds for aim in kind.aimed]
    return bearing(rulebook, report, kinds[0].per, touched, fits, aimed)


def kinds_together(kinds: Sequence[Kind], shelf: Shelf, rulebook: Rulebook, report: Report) -> list[list[Kind]]:
    """Kinds that one rule judges together at a station, or that belong to the whole assembly; those come last."""
    known = {reading.characteristic for reading in report.readings}
    known |= {name for part in shelf.parts for name in part.writes}
    groups: list[tuple[list[Kind], frozenset[str]]] = []
    for kind in kinds:
        own = _bearing([kind], _touched(kind) | known.intersection(kind.sizes), rulebook, report).own
        near = [one for one in groups if one[0][0].per == kind.per and (kind.per is None or one[1] & own)]
        groups = [one for one in groups if one not in near]
        groups.append(([*(other for one in near for other in one[0]), kind], own.union(*(one[1] for one in near))))
    return sorted((group for group, _ in groups), key=lambda group: group[0].per is None)


def group_of(kinds: Sequence[Kind], shelf: Shelf, bench: Bench, use: frozenset[str]) -> Group:
    seats = tuple(seats_for(kind, shelf, bench, use) for kind in kinds)
    brought = {name for one in seats for part in one.parts for name in part.writes}
    touched = frozenset(brought).union(*map(_touched, kinds))
    found = _bearing(kinds, touched, bench.rulebook, bench.before)
    slots = [range(len(one.parts)) for one in seats for _ in one.kind.slots]
    options = 1
    for slot in slots:
        options *= len(slot)
    if options > MOST_OPTIONS:
        names = " and ".join(kind.name for kind in kinds)
        hint = f"choose one kind at a time, as in --kind {kinds[0].name!r}, or put fewer parts on the shelf"
        message = f"{options} combinations of {names} for each station, expected {MOST_OPTIONS} at most"
        raise UsageError(Problem(message, hint=hint))
    return Group(seats, found, tuple(product(*slots)))


def changes_of(group: Group, chosen: Sequence[int], bench: Bench) -> list[Fitted]:
    split = [group.split(option) for option in chosen]
    return [
        fitted(seats, {station: parts[number] for station, parts in enumerate(split)}, bench)
        for number, seats in enumerate(group.seats)
    ]


def record_of(group: Group, chosen: Sequence[int], base: Record, bench: Bench) -> Record:
    for change in changes_of(group, chosen, bench):
        base = record_with(base, change.expected, bench)
    return base
