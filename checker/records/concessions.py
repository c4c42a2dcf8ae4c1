"""Concessions: named, dated, reasoned permissions to use what does not conform, and what ends one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import NamedTuple

from checker.errors import Place, Problem, nearest
from checker.expressions.truth import RELATIVE_TOLERANCE
from checker.frozen import FrozenMapping
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledRule
from checker.packs.rule import NEVER
from checker.records.change import AHEAD, Changes
from checker.records.entry import Reading, day_at, last_digit
from checker.records.layout import Layout, station_number
from checker.records.record import Record
from checker.records.sections import GivenConcession
from checker.records.values import Asked
from checker.units.units import Unit, bare_unit


class Concession(NamedTuple):
    """What somebody accepted: that a rule is missed at one station (from 0), or wherever it is where none is named.

    `value` is the one it was given for, to its last digit; NaN where none is stated.
    """

    rule: CompiledRule
    station: int | None
    by: str
    dated: date
    because: str
    place: Place
    until: date | None = None
    value: float = math.nan
    last_digit: float = 0.0

    def __str__(self) -> str:
        until = f" until {self.until}" if self.until else ""
        return f"accepted by {self.by} on {self.dated}{until}: {self.because}"

    def lapsed(self, value: float, rests_on: Iterable[tuple[str, int]], past: Past) -> str:
        """Why it does not count for a value that rests on some readings; empty where it does."""
        if self.rule.rule.concession == NEVER:
            return "the rule admits none"
        if self.until is not None and self.until < past.day:
            return f"ended on {self.until}"
        if self.dated - past.day > AHEAD:
            return "is dated ahead of the day of judging"
        if not math.isnan(self.value) and not abs(value - self.value) <= self.last_digit / 2:
            now = write_quantity(value, self.rule.unit) if math.isfinite(value) else "not known"
            return f"given for {write_quantity(self.value, self.rule.unit)}, but the value is {now}"
        return next((since for key in rests_on if (since := past.since(self.dated, key))), "")


class Past(NamedTuple):
    """When each reading was taken and what it depends on was last changed, up to the day of judging.

    Where `figures` stand, nothing was measured: they are those of the plan or of a maker.
    """

    taken: Mapping[tuple[str, int], date]
    changes: Changes
    day: date
    figures: frozenset[tuple[str, int]] = frozenset()

    def since(self, day: date, key: tuple[str, int]) -> str:
        """What happened to a reading, given by name and station, after a day; empty where nothing did."""
        change, taken = self.changes.get(key), self.taken.get(key)
        if change is not None and change.fitted > day:
            return f"since then {change}"
        return f"{key[0]} was measured again on {taken}" if taken is not None and taken > day else ""


def past_of(readings: Iterable[Reading], changes: Changes, day: date) -> Past:
    """The past of a record's readings; of several at one place the latest counts."""
    taken: dict[tuple[str, int], date] = {}
    figures = set[tuple[str, int]]()
    for reading in readings:
        key = (reading.characteristic, reading.station)
        if reading.taken is not None:
            taken[key] = max(reading.taken, taken.get(key, reading.taken))
        if reading.is_fact and reading.unit is not None:
            figures.add(key)
    return Past(FrozenMapping(taken), changes, day, frozenset(figures))


def concessions_in(
    record: Record,
    rules: Mapping[str, CompiledRule],
    layout: Layout,
    defaults: Mapping[str, Unit],
    problems: list[Problem],
) -> Iterator[Concession]:
    """The concessions a record states; what is wrong with them is added to the problems."""
    for given in record.concessions:
        place = given.origin.place
        rule = rules.get(given.rule)
        if rule is None:
            problems.append(Problem(f"no rule {given.rule!r}", place, nearest(given.rule, rules)))
            continue
        dated = day_at(given.dated, place, problems)
        until = day_at(given.until, place, problems) if given.until else None
        if dated is None:
            continue
        if until is not None and until < dated:
            problems.append(Problem("a concession ends before it was given", place))
        yield Concession(
            rule=rule,
            station=station_of(given.station, rule, layout, place, problems),
            by=given.by,
            dated=dated,
            because=given.because,
            place=place,
            until=until,
            **_value(given, rule, defaults, problems),
        )


def _value(
    given: GivenConcession, rule: CompiledRule, defaults: Mapping[str, Unit], problems: list[Problem]
) -> dict[str, float]:
    text = given.value
    if not text:
        return {}
    asked = Asked(rule.unit, bare_unit(rule.unit, defaults.get(rule.unit.kind)), given.origin.at("value"), problems)
    if rule.is_demand:
        asked.refuse(f"{rule.name} judges no value that a concession could be given for")
        return {}
    written = asked.exact(text)
    if written is None:
        return {}
    # Half a digit more is what rounding leaves, a hair of it is binary noise. Of a value with a remark, such as one in
    # two units, it is not plain which digit is its last.
    last = 0.0 if written.notes else last_digit(text, written.unit)
    hair = RELATIVE_TOLERANCE * (last + abs(written.spans[0].low))
    return {"value": written.spans[0].low, "last_digit": last + hair}


def station_of(given: str, rule: CompiledRule, layout: Layout, place: Place, problems: list[Problem]) -> int | None:
    """The station (from 0) that a record names for a rule, if any; what cannot be meant is added to the problems."""
    count = layout.count(rule.stations) if rule.stations else 0
    if not given:
        return None
    number = station_number(given)
    if number is not None and number <= count:
        return number - 1
    hint = f"it judges {count} stations" if count else "it judges the assembly"
    problems.append(Problem(f"{rule.name!r} judges no station {given}", place, hint))
    return None
