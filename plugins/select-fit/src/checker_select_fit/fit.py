"""The fit: the parts that put all inside what counts, with the fewest changed and nearest the aims; or why none do.

The kinds are chosen one after another, those of single stations first, each on what was chosen before; kinds that
one rule judges together at a station are chosen together. Every verdict is the checker's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from checker import Note, Problem, Record, Report, Rulebook, UsageError, nearest

from checker_select_fit.asked import Bearing, full_check, misses_of
from checker_select_fit.fitted import Key, record_with
from checker_select_fit.group import Group, changes_of, group_of, kinds_together
from checker_select_fit.kinds import KINDS, Kind
from checker_select_fit.said import said_of_all
from checker_select_fit.search import chosen_options, titles
from checker_select_fit.seats import bench_of
from checker_select_fit.shelf import Shelf


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
    for together in kinds_together(wanted, shelf, rulebook, report):
        bench = bench_of(rulebook, current)
        group = group_of(together, shelf, bench, allowed)
        bearings.append(group.bearing)
        rules = frozenset().union(*(one.names for one in bearings))
        chosen, reasons = chosen_options(group, base, bench, shelf.aims, aim_first)
        if chosen is None:
            return Proposal(report, None, None, (), {}, rules, wanted, reasons, passed_over)
        for change in changes_of(group, chosen, bench):
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


def _moves(group: Group, chosen: Sequence[int]) -> list[Move]:
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


def _refuted(expected: Report, bearings: Sequence[Bearing], before: Report, rulebook: Rulebook) -> tuple[str, ...]:
    """What the whole rulebook says against what was chosen: what the parts bear on, and all else that got worse."""
    against = [one for bearing in bearings for one in said_of_all(expected, bearing, {}).against]
    rules = frozenset().union(*(bearing.names for bearing in bearings))
    everything = frozenset(judged.rule.name for judged in before.judged)
    rest = Bearing(
        frozenset(), everything - rules, frozenset(), frozenset(), frozenset(), misses_of(before, everything)
    )
    against += said_of_all(expected, rest, {}).against
    return (f"what was chosen would not read within: {titles(against, rulebook)}",) if against else ()
