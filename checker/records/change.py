"""Change: a reading older than a change of what it depends on is stale, and counts as not measured."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from typing import NamedTuple, TypeAlias

from checker.errors import Problem, nearest
from checker.frozen import FrozenMapping
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading, day_at
from checker.records.layout import Layout, station_number
from checker.records.record import Record
from checker.records.sections import FittedPart

AHEAD = timedelta(days=1)
"""Clocks differ by no more than this: a date further ahead of the day of judging is a slip of the pen."""


class Change(NamedTuple):
    """A part, and the day on which it was fitted or last changed."""

    part: str
    fitted: date

    def __str__(self) -> str:
        return f"{self.part} fitted on {self.fitted}"  # without a verb: builders name parts as one or as many


Changes: TypeAlias = Mapping[tuple[str, int], Change]
"""The last change of what a characteristic depends on, by its name and station (from 0)."""


def changes_in(
    record: Record, characteristics: Mapping[str, CompiledCharacteristic], layout: Layout, problems: list[Problem]
) -> Changes:
    """The changes that the parts of a record made, to what they bear on and to all that follows from it."""
    followers = _followers(characteristics) if record.parts else {}
    changes: dict[tuple[str, int], Change] = {}
    for part in record.parts:
        fitted = day_at(part.fitted, part.origin.at("fitted"), problems)
        waiting = list(borne_on(part, characteristics, layout, problems))
        if fitted is None:
            continue
        seen = set()
        while waiting:
            key = waiting.pop()
            if key in seen:
                continue
            seen.add(key)
            if key not in changes or changes[key].fitted < fitted:
                changes[key] = Change(part.name, fitted)
            changed, station = key
            for follower in followers[changed]:
                own, other = (characteristics[known].characteristic.per for known in (changed, follower))
                waiting.extend((follower, index) for index in layout.related(own, station, other))
    return FrozenMapping(changes)


def _followers(characteristics: Mapping[str, CompiledCharacteristic]) -> Mapping[str, set[str]]:
    """By name, the characteristics whose readings depend on it: those that say so, and those derived from it."""
    followers: dict[str, set[str]] = defaultdict(set)
    for item in characteristics.values():
        derived_from = (column.name for column in item.derived.columns) if item.derived else ()
        for name in (*item.characteristic.follows, *derived_from):
            followers[name].add(item.name)
    return followers


def borne_on(
    part: FittedPart,
    characteristics: Mapping[str, CompiledCharacteristic],
    layout: Layout,
    problems: list[Problem],
) -> Iterator[tuple[str, int]]:
    """What a part says that it bears on, and at which stations; what is wrong with that is added to the problems."""
    for number, name in enumerate(part.bears_on):
        item = characteristics.get(name)
        if item is None:
            place = part.origin.at("bears_on", number)
            problems.append(Problem(f"unknown characteristic {name!r}", place, nearest(name, characteristics)))
            continue
        count = layout.count(item.characteristic.per)
        everywhere = tuple(str(station) for station in range(1, count + 1))
        for station in (part.stations or everywhere) if item.characteristic.per else ("1",):
            counted = station_number(station)
            if counted is not None and counted <= count:
                yield name, counted - 1
            else:
                place = part.origin.at("stations")
                problems.append(Problem(f"no {item.characteristic.per} {station}: there are {count}", place))


def aged(readings: Iterable[Reading], changes: Changes, day: date) -> Iterator[Reading]:
    """The readings, stale ones set aside; a date ahead of the day of judging counts as none."""
    for reading in readings:
        undated = "not dated"
        if reading.taken is not None and reading.taken - day > AHEAD:
            undated = f"dated {reading.taken}, which lies in the future"
            reading = reading._replace(taken=None).suspected(f"{undated}: is the day or the year mistyped?")
        change = changes.get((reading.characteristic, reading.station))
        if change is None or (reading.taken is not None and reading.taken >= change.fitted):
            yield reading
        elif reading.taken is None:
            yield reading._replace(set_aside=f"{undated}, and {change}")
        else:
            yield reading._replace(set_aside=f"taken on {reading.taken}, but {change}")
