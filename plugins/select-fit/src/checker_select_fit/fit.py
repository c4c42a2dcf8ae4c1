"""The fit: the parts that put all inside what counts, with the fewest changed and nearest the aims; or why none do.

The kinds are chosen one after another, those of single stations first, each on what was chosen before; kinds that
one rule judges together at a station are chosen together. Every verdict is the checker's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from checker import Record, Report, Rulebook, UsageError, Verdict
from checker.errors import Problem, nearest
from checker.records.notes import Note

from checker_select_fit.asked import (
    Bearing,
    Check,
    Objection,
    Said,
    bearing,
    full_check,
    misses_of,
    narrow_check,
    said_of,
    said_of_all,
    spread_of,
    values_of,
)
from checker_select_fit.assignment import Array, Even, cheapest
from checker_select_fit.fitted import Choice, Fitted, Key, fitted, record_with
from checker_select_fit.kinds import KINDS, Kind
from checker_select_fit.seats import Bench, Seats, bench_of, seats_for
from checker_select_fit.shelf import Shelf

MOST_TRIES = 40
"""How many choices, the best first, are tried against rules that see several stations together."""
LEAST_DISTANCE = 1e-6
"""Aims that differ by less than this, as squared shares of half a band, are equally near."""
LEAST_STEP = 1e-3
"""A spread that does not do is narrowed by this share at the least."""
NOTHING_SAID = Said(False, 0.0, ())
MOST_OPTIONS = 400
"""More than this for one station, and the kinds should be chosen one by one."""


class Move(NamedTuple):
    """One part that is put in the place of another."""

    kind: Kind
    station: int
    slot: str
    old: str
    new: str
    doubtful: str


class Proposal(NamedTuple):
    """What is proposed, and what the checker says before and after.

    `expected` judges the record as it would read, `written` as it may be written now. Without a proposal `reasons`
    say why. `rules` are those that the parts bear on.
    """

    before: Report
    expected: Report | None
    written: Record | None
    moves: tuple[Move, ...]
    changed: Mapping[Key, tuple[Note, ...]]
    rules: frozenset[str]
    kinds: tuple[Kind, ...]
    reasons: tuple[str, ...] = ()
    passed_over: tuple[str, ...] = ()


class _Group(NamedTuple):
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


def propose(
    rulebook: Rulebook,
    record: Record,
    shelf: Shelf,
    *,
    before: Report | None = None,
    kinds: Sequence[str] = (),
    use: Iterable[str] = (),
    aim_first: bool = False,
) -> Proposal:
    """What to fit from a shelf. Raises InputError and UsageError as the checker does, and for unknown names.

    `kinds` leaves out all others; `use` names doubtful parts that may be used all the same; `aim_first` puts
    nearness to the aims before the number of parts changed.
    """
    report = before or rulebook.check(record)
    wanted = _wanted(kinds, shelf)
    allowed = frozenset(use)
    passed_over = _passed_over(shelf, wanted, allowed)
    moves: list[Move] = []
    changed: dict[Key, tuple[Note, ...]] = {}
    bearings: list[Bearing] = []
    current, base, written = report, record, record
    for together in _together(wanted, rulebook, report):
        bench = bench_of(rulebook, current)
        group = _group(together, shelf, bench, allowed)
        bearings.append(group.bearing)
        rules = frozenset().union(*(one.names for one in bearings))
        chosen, reasons = _chosen(group, base, bench, shelf.aims, aim_first)
        if chosen is None:
            return Proposal(report, None, None, (), {}, rules, wanted, reasons, passed_over)
        for change in _changes(group, chosen, bench):
            base = record_with(base, change.expected, bench)
            written = record_with(written, change.written, bench)
            changed.update(change.written)
        moves += _moves(group, chosen)
        current = full_check(report, rulebook)(base)
    reasons = _refuted(current, bearings, report, rulebook)
    if reasons:
        return Proposal(report, None, None, (), {}, rules, wanted, reasons, passed_over)
    return Proposal(report, current, written, tuple(moves), changed, rules, wanted, (), passed_over)


def _wanted(names: Sequence[str], shelf: Shelf) -> tuple[Kind, ...]:
    for name in names:
        if name not in KINDS:
            raise UsageError(Problem(f"no kind of part {name!r}", hint=nearest(name, KINDS) or ", ".join(KINDS)))
        if all(part.kind != name for part in shelf.parts):
            raise UsageError(Problem(f"no {name} is on the shelf {shelf.source}"))
    return tuple(kind for kind in shelf.kinds if not names or kind.name in names)


def _passed_over(shelf: Shelf, kinds: tuple[Kind, ...], use: frozenset[str]) -> tuple[str, ...]:
    names = {kind.name for kind in kinds}
    parts = (part for part in shelf.parts if part.kind in names and part.doubtful and part.name not in use)
    return tuple(f"{part.kind} {part.title}: {part.doubtful}" for part in parts)


def _touched(kind: Kind) -> frozenset[str]:
    labels = (slot.label for slot in kind.slots if slot.label)
    return frozenset((*kind.fits, *labels, *kind.shifts, *kind.sizes[:1]))


def _bearing(kinds: Sequence[Kind], touched: frozenset[str], rulebook: Rulebook, report: Report) -> Bearing:
    fits = [fit for kind in kinds for fit in kind.fits]
    aimed = [aim for kind in kinds for aim in kind.aimed]
    return bearing(rulebook, report, kinds[0].per, touched, fits, aimed)


def _together(kinds: Sequence[Kind], rulebook: Rulebook, report: Report) -> list[list[Kind]]:
    """Kinds that one rule judges together at a station, or that belong to the whole assembly; those come last."""
    groups: list[tuple[list[Kind], frozenset[str]]] = []
    for kind in kinds:
        own = _bearing([kind], _touched(kind), rulebook, report).own
        near = [one for one in groups if one[0][0].per == kind.per and (kind.per is None or one[1] & own)]
        groups = [one for one in groups if one not in near]
        groups.append(([*(other for one in near for other in one[0]), kind], own.union(*(one[1] for one in near))))
    return sorted((group for group, _ in groups), key=lambda group: group[0].per is None)


def _group(kinds: Sequence[Kind], shelf: Shelf, bench: Bench, use: frozenset[str]) -> _Group:
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
    return _Group(seats, found, tuple(product(*slots)))


def _changes(group: _Group, chosen: Sequence[int], bench: Bench) -> list[Fitted]:
    split = [group.split(option) for option in chosen]
    return [
        fitted(seats, {station: parts[number] for station, parts in enumerate(split)}, bench)
        for number, seats in enumerate(group.seats)
    ]


def _record(group: _Group, chosen: Sequence[int], base: Record, bench: Bench) -> Record:
    for change in _changes(group, chosen, bench):
        base = record_with(base, change.expected, bench)
    return base


def _chosen(
    group: _Group, base: Record, bench: Bench, aims: Mapping[str, float], aim_first: bool
) -> tuple[tuple[int, ...] | None, tuple[str, ...]]:
    """The option of each station, or the reasons why there is none."""
    whole_bearing = group.bearing.names
    check = narrow_check(bench.before, bench.rulebook, whole_bearing, whole_bearing)
    at_stations = group.bearing.own if group.seats[0].kind.per else whole_bearing
    check_stations = narrow_check(bench.before, bench.rulebook, at_stations, whole_bearing)
    spreads = _spreads(group, bench.rulebook)
    asked = _asked(group, base, bench, check_stations, aims, frozenset(spreads.values()))
    uses, stock = _stock(group)
    costs = _costs(group, asked.said, aim_first)
    excluded: list[tuple[int, ...]] = []
    even: dict[str, Even] = {}
    against: list[Objection] = []
    for _ in range(MOST_TRIES):
        found = cheapest(costs, uses, stock, excluded, tuple(even.values()))
        if found is None:
            break
        report = check(_record(group, found, base, bench))
        whole = said_of_all(report, group.bearing, aims)
        if whole.is_good:
            return found, ()
        against += whole.against
        narrower = {name: one for name, _ in whole.against if (one := _narrower(report, name, spreads, asked))}
        even.update(narrower)
        if not narrower:
            excluded.append(found)
    return None, _why_not(group, asked.said, costs, against, bench.rulebook)


def _spreads(group: _Group, rulebook: Rulebook) -> dict[str, str]:
    """The rules that judge the spread of something over the stations of these parts."""
    per = group.seats[0].kind.per
    found = {name: spread_of(rulebook.rules[name]) for name in group.bearing.across} if per else {}
    return {name: of for name, of in found.items() if of and rulebook.per[of] == per}


def _narrower(report: Report, name: str, spreads: Mapping[str, str], asked: _Asked) -> Even | None:
    """What keeps a spread that was too wide, or too near its limit, within what is allowed, and below what it was."""
    if name not in spreads:
        return None
    values = asked.values[spreads[name]]
    judged = next(judged for judged in report.judged if judged.rule.name == name)
    spread = float(judged.measures.value[0, 0])
    allowed = float(np.nanmin(judged.measures.limits[2:, 0, 0]))
    if not np.isfinite(values).all() or not np.isfinite(spread):
        return None
    return Even(values, min(allowed, spread * (1 - LEAST_STEP)))


class _Asked(NamedTuple):
    """What is said of each option (second) at each station (first), and the values there of what must be even."""

    said: list[list[Said]]
    values: Mapping[str, Array]


def _asked(
    group: _Group, base: Record, bench: Bench, check: Check, aims: Mapping[str, float], names: frozenset[str]
) -> _Asked:
    """In each record judged the stations have options one further on: there are no more records than options."""
    count = len(group.options)
    said: list[list[Said]] = [[NOTHING_SAID] * count for _ in range(group.stations)]
    values = {name: np.full((group.stations, count), np.nan) for name in names}
    for turn in range(count):
        chosen = [(turn + station) % count for station in range(group.stations)]
        report = check(_record(group, chosen, base, bench))
        for station, option in enumerate(chosen):
            if group.seats[0].kind.per is None:
                said[station][option] = said_of_all(report, group.bearing, aims)
            else:
                said[station][option] = said_of(report, group.bearing, aims, station)
        for name in names:
            values[name][range(group.stations), chosen] = values_of(report, name)
    return _Asked(said, values)


def _stock(group: _Group) -> tuple[Array, Array]:
    """How many of each part an option takes, and how many there are."""
    stock = [part.stock for seats in group.seats for part in seats.parts]
    uses = np.zeros((len(group.options), len(stock)))
    for option in range(len(group.options)):
        start = 0
        for seats, parts in zip(group.seats, group.split(option), strict=True):
            for part in parts:
                uses[option, start + part] += 1
            start += len(seats.parts)
    return uses, np.array(stock, dtype=np.float64)


def _costs(group: _Group, said: list[list[Said]], aim_first: bool) -> Array:
    """What each option costs at each station: parts changed first and distance next, or the other way round."""
    distance = np.array([[one.distance if one.is_good else np.inf for one in row] for row in said])
    stations, options = distance.shape
    changes = np.array([[group.changes(option, station) for option in range(options)] for station in range(stations)])
    for_good = np.array(
        [[group.is_for_good(option, station) for option in range(options)] for station in range(stations)]
    )
    for station, option in product(range(stations), range(options)):
        if _doubtful_elsewhere(group, option, station):
            distance[station, option] = np.inf
    most = 1.0 + np.where(np.isfinite(distance), distance, 0.0).max(axis=1).sum()
    costs: Array = distance + LEAST_DISTANCE * changes if aim_first else changes + distance / most
    dearest: Array = costs + for_good * (most + changes.max() * stations)
    return dearest


def _doubtful_elsewhere(group: _Group, option: int, station: int) -> bool:
    """Whether a part whose readings are in doubt would go where it does not stand now."""
    return any(
        seats.parts[part].home not in (None, station) and seats.parts[part].doubtful
        for seats, parts in zip(group.seats, group.split(option), strict=True)
        for part in parts
    )


def _moves(group: _Group, chosen: Sequence[int]) -> list[Move]:
    return [
        Move(
            seats.kind,
            station,
            slot.title,
            "" if (old := seats.now.get((station, number))) is None else seats.parts[old].title,
            seats.parts[part].title,
            seats.parts[part].doubtful,
        )
        for station, option in enumerate(chosen)
        for seats, parts in zip(group.seats, group.split(option), strict=True)
        for number, (slot, part) in enumerate(zip(seats.kind.slots, parts, strict=True))
        if seats.now.get((station, number)) != part
    ]


def _why_not(
    group: _Group, said: list[list[Said]], costs: Array, against: list[Objection], rulebook: Rulebook
) -> tuple[str, ...]:
    """Why no choice is possible, in words."""
    names = " and ".join(seats.kind.name for seats in group.seats)
    where = group.seats[0].kind.per
    reasons = []
    for station, row in enumerate(said):
        if not np.isfinite(costs[station]).any():
            place = f" at {where} {station + 1}" if where else ""
            fewest = min(row, key=_how_far)
            reasons.append(f"no {names} that there is would read within{place}: {_titles(fewest.against, rulebook)}")
    if against:
        reasons.append(
            f"of the best choices of {names} none reads within across stations: {_titles(against, rulebook)}"
        )
    return tuple(reasons) or (f"there are not enough of any {names} that would read within at each station",)


def _how_far(said: Said) -> tuple[int, int]:
    """Sorts choices by what speaks against them; what is only undecided comes first."""
    return len(said.against), max((it.verdict for it in said.against if it.verdict is not Verdict.UNDECIDED), default=0)


def _titles(against: Iterable[Objection], rulebook: Rulebook) -> str:
    titles = dict.fromkeys(f"{rulebook.rules[rule].rule.title} ({verdict})" for rule, verdict in against)
    return "; ".join(titles) or "nothing that judges the fit could be judged; see what is still to be measured"


def _refuted(expected: Report, bearings: Sequence[Bearing], before: Report, rulebook: Rulebook) -> tuple[str, ...]:
    """What the whole rulebook says against what was chosen: what the parts bear on, and all else that got worse."""
    against = [one for bearing in bearings for one in said_of_all(expected, bearing, {}).against]
    rules = frozenset().union(*(bearing.names for bearing in bearings))
    everything = frozenset(judged.rule.name for judged in before.judged)
    rest = Bearing(
        frozenset(), everything - rules, frozenset(), frozenset(), frozenset(), misses_of(before, everything)
    )
    against += said_of_all(expected, rest, {}).against
    return (f"what was chosen would not read within: {_titles(against, rulebook)}",) if against else ()
