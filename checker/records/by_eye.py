"""Inspections by eye: who looked at what, when, and whether it was clear."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import NamedTuple

from checker.errors import Place, Problem, nearest
from checker.packs.compiled import CompiledRule
from checker.records.change import AHEAD, Changes
from checker.records.concessions import station_of
from checker.records.entry import day_at
from checker.records.layout import Layout
from checker.records.reading_keys import ALL
from checker.records.record import Record


class EyeInspection(NamedTuple):
    """What somebody saw of a rule at one station (from 0), or wherever it is judged where none is named."""

    rule: CompiledRule
    station: int | None
    by: str
    dated: date
    is_clear: bool
    place: Place

    def __str__(self) -> str:
        return f"seen {'clear' if self.is_clear else 'not clear'} by {self.by} on {self.dated}"

    def lapsed(self, rests_on: Iterator[tuple[str, int]], changes: Changes, day: date) -> str:
        """Why it does not count on a day: a part was fitted since, or it is dated ahead; empty where it does."""
        if self.dated - day > AHEAD:
            return "is dated ahead of the day of judging"
        since = (changes[key] for key in rests_on if key in changes and changes[key].fitted > self.dated)
        return next((f"since then {change}" for change in since), "")


def eye_inspections_in(
    record: Record, rules: Mapping[str, CompiledRule], layout: Layout, problems: list[Problem]
) -> Iterator[EyeInspection]:
    """The inspections by eye that a record states; what is wrong with them is added to the problems."""
    for given in record.seen:
        place = given.origin.place
        dated = day_at(given.dated, place, problems)
        station = "" if given.station == ALL else given.station
        for rule in filter(None, (_rule(name, rules, place, problems) for name in given.rules)):
            at = station_of(station, rule, layout, place, problems)
            if dated is not None:
                yield EyeInspection(rule, at, given.by, dated, given.clear, place)


def _rule(name: str, rules: Mapping[str, CompiledRule], place: Place, problems: list[Problem]) -> CompiledRule | None:
    """A rule that can be judged by eye; anything else is a problem."""
    rule = rules.get(name)
    if rule is None:
        problems.append(Problem(f"no rule {name!r}", place, nearest(name, rules)))
    elif not rule.rule.inspection.by_eye:
        problems.append(
            Problem(f"{name!r} cannot be judged by eye", place, "write down what was measured, under readings or facts")
        )
        return None
    return rule
