"""Room: how far a value may move each way before something is said of it that is worse than now.

It is found by judging, not by reading limits: a value bears on many rules, through what is computed of it too, and what
is in doubt counts. A value is moved outwards until a rule says something worse, and the two are brought together; both
ends of the answer were judged. That nothing is worse in between was looked at in steps, which are fine at face value.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from checker.checking.book import Book
from checker.checking.check import check_record
from checker.checking.question import question_of
from checker.errors import Problem, UsageError, nearest, require
from checker.expressions.truth import Truths
from checker.findings.context import place_name
from checker.findings.display import shown_in
from checker.grouping import grouped
from checker.judging.judge import Codes, Verdict, judge
from checker.judging.measures import Measures, measure
from checker.judging.suspect_sheets import names_behind
from checker.notation.write import usual_step, with_unit
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.records.entry import Reading
from checker.records.layout import station_number
from checker.records.notes import Note
from checker.records.record import Record
from checker.reports.report import Report
from checker.units.units import UNITS, Unit, units_of

SCANNED = 600
"""At so many places on each side a value is judged at face value, ever wider apart."""
LOOKED_AT = 6
"""At so many places between the value and the first miss at face value it is judged with all its doubt."""
FINE = 1e-3
"""The ends are brought together to this share of the step that the unit is usually written with."""
_WORSE = [Verdict.NOT_COVERED, Verdict.ADVISORY, Verdict.NOT_MEASURED, Verdict.UNDECIDED, Verdict.OUTSIDE]


class End(NamedTuple):
    """How far a value may move one way, in the unit of its Room.

    At `value` nothing is worse than now; at `beyond`, next to it, the `rule` of this `title` says this `verdict`, at
    `where`. Where a value may move as far as is possible at all, `beyond` is None and nothing is named.
    """

    value: float
    beyond: float | None
    rule: str = ""
    title: str = ""
    where: str = ""
    verdict: Verdict | None = None


class Already(NamedTuple):
    """A rule that the value bears on and that does not hold as it is: where it says nothing worse, it stops nothing."""

    rule: str
    title: str
    where: str
    verdict: Verdict


class Room(NamedTuple):
    """How far a value may move down and up before a rule says something worse of it than now.

    What is said `already` of where it stands may be said all the way.
    """

    characteristic: str
    title: str
    where: str
    unit: str
    value: float
    down: End
    up: End
    already: tuple[Already, ...] = ()

    def __str__(self) -> str:
        place = f", {self.where}" if self.where else ""
        ways = [f"{way} {self._limit(end)}" for way, end in (("down", self.down), ("up", self.up))]
        for verdict, own in grouped(self.already, lambda one: one.verdict).items():
            titles = ", ".join(dict.fromkeys(one.title for one in own))
            ways.append(f"already {verdict}: {titles}")
        return f"{self.title}{place}, {self._shown(self.value)}: {'; '.join(ways)}"

    def _limit(self, end: End) -> str:
        if end.beyond is None:
            return f"as far as is possible, to {self._shown(end.value)}"
        where = f", {end.where}" if end.where else ""
        return f"to {self._shown(end.value)}, beyond which {end.title}{where} is {end.verdict}"

    def _shown(self, value: float) -> str:
        return with_unit(f"{value:.6g}", UNITS[self.unit])


def room_of(book: Book, report: Report, characteristic: str, station: int | None, musts_only: bool) -> Room:
    """The room that a value of a judged record has; raises UsageError where there is no such value."""
    require(station or 1, "stations are counted from 1", int, np.integer)
    item = book.characteristics.get(characteristic)
    if item is None or item.unit is None:
        hint = nearest(characteristic, [name for name, known in book.characteristics.items() if known.unit is not None])
        raise UsageError(Problem(f"no measured characteristic {characteristic!r}", hint=hint))
    moving = _Moving(book, report, item, item.unit, station, musts_only)
    unit = shown_in(item.unit, report.context.units)
    ends = [moving.end(way) for way in (-1, 1)]
    already = moving.already()
    down, up = (
        end._replace(value=unit.from_si(end.value), beyond=None if end.beyond is None else unit.from_si(end.beyond))
        for end in ends
    )
    where = place_name(item.characteristic.per, moving.index, report.context)
    return Room(item.name, item.characteristic.title, where, unit.name, unit.from_si(moving.value), down, up, already)


class _Said(NamedTuple):
    """What a rule says, and where its must is open."""

    codes: Codes
    must_open: Truths

    def is_worse(self, now: _Said, musts_only: bool) -> Truths:
        """Where that is worse than now; of what was undecided already, where its must is open too."""
        opened = (self.codes >= now.codes) & self.must_open & ~now.must_open
        is_worse = self.codes > now.codes
        if musts_only:
            return np.asarray(opened | is_worse & (self.codes == Verdict.OUTSIDE))
        return np.asarray(opened | is_worse & np.isin(self.codes, _WORSE))


class _Moving:
    """One value of a record, and what the rules it bears on say of it elsewhere."""

    def __init__(
        self,
        book: Book,
        report: Report,
        item: CompiledCharacteristic,
        unit: Unit,
        station: int | None,
        musts_only: bool,
    ) -> None:
        self.report = report
        self.item = item
        self.station = station if item.characteristic.per else None
        self.musts_only = musts_only
        self.index = 0 if station is None else station - 1
        count = report.context.block.layout.count(item.characteristic.per)
        if not 0 <= self.index < count or (station is None and count > 1):
            counted = f"{item.name} has {count} stations"
            message = counted if station is None else f"{item.name} has no station {station}"
            raise UsageError(Problem(message, hint=f"stations are counted from 1 to {count}"))
        value = float(report.values(item.name)[self.index])
        written = report.context.written.get((item.name, self.index), ())
        if not np.isfinite(value) or not written:
            raise UsageError(Problem(f"nothing that counts was measured for {item.name} there"))
        self.value, self.written = value, written
        self.step = usual_step(value, written[0].unit or unit)
        # A number of this unit is what it says, however small it is; the name of bare numbers is a number itself.
        exact = (known for known in units_of(unit.kind) if known.factor == 1.0 and not known.offset)
        self.exact = next((known for known in exact if known.name != "1"), unit)
        chain = report.context.chain
        names = [
            judged.rule.name for judged in report.judged if item.name in book.inputs(judged.rule.name, chain).names
        ]
        self.book = book.only(*names)
        self.asked = question_of(book, report.record, report.application, **report.terms)
        behind = {name for rule in names for name in book.inputs(rule, chain).names}
        # Which sheet is suspect may follow from what the rules do not rest on.
        self.record = _with_only(report, behind | names_behind(report.context.sheets.by_name, book.compiled))
        as_read = written[0]
        # What is written down instead is brought to 20 degrees C as that was, and is as old.
        self.scale = as_read.middle / (as_read.middle - as_read.correction) if as_read.correction else 1.0
        self.around: dict[str, Any] = {"instrument": as_read.instrument, "taken": as_read.taken}
        if as_read.temperature is not None:
            self.around["temperature"] = f"{as_read.temperature!r} K"
        self.now = self._said(value)
        self.borne_on: dict[str, Truths] = {}

    def end(self, way: int) -> End:
        """How far the value may move one way, in SI."""
        last = self.item.low if way < 0 else self.item.high
        far = self._first_at_face_value(way, last)
        good, bad = self.value, last
        # What is undecided already may get no worse at the first miss at face value, but further out.
        places = np.concatenate([np.linspace(near, end, 1 + LOOKED_AT)[1:] for near, end in ((good, far), (far, last))])
        for there in map(float, np.unique(places)[::way]):
            if self._worse(there):
                bad = there
                break
            good = there
        else:
            return End(good, None)
        while abs(bad - good) > FINE * self.step:
            middle = (good + bad) / 2
            good, bad = (good, middle) if self._worse(middle) else (middle, bad)
        (rule, station), code = max(self._worse(bad).items(), key=lambda worse: worse[1])
        stated = next(judged.rule for judged in self.report.judged if judged.rule.name == rule)
        where = place_name(stated.stations, station, self.report.context)
        return End(good, bad, rule, stated.rule.title, where, Verdict(code))

    def already(self) -> tuple[Already, ...]:
        """What does not hold where the value stands, of what was seen to move with it."""
        found = []
        for stated in (judged.rule for judged in self.report.judged if judged.rule.name in self.borne_on):
            codes, must_open = self.now[stated.name]
            amiss = must_open | (codes == Verdict.OUTSIDE)
            if not self.musts_only:
                amiss = amiss | np.isin(codes, _WORSE)
            for station in np.flatnonzero(amiss & self.borne_on[stated.name]).tolist():
                where = place_name(stated.stations, station, self.report.context)
                found.append(Already(stated.name, stated.rule.title, where, Verdict(int(codes[station]))))
        return tuple(found)

    def _moves(self, rule: CompiledRule, seen: Measures) -> Truths:
        """At which stations a rule sees other numbers where the value is another, or has none to see."""
        numbers = (seen.value, seen.applies, *seen.limits)
        moved = [((rows != rows[:1]) & ~(np.isnan(rows) & np.isnan(rows[:1]))).any(axis=0) for rows in numbers]
        is_own = np.arange(seen.value.shape[1]) == self.index
        is_blind = np.isnan(seen.value).all(axis=0) & (is_own | (rule.stations != self.item.characteristic.per))
        return np.asarray(np.logical_or.reduce([*np.broadcast_arrays(*moved, is_blind)]))

    def _first_at_face_value(self, way: int, last: float) -> float:
        """The first place outwards at which a rule says something worse at face value; the last one if none does."""
        away = abs(last - self.value)
        if not away:
            return last
        places = self.value + way * np.geomspace(min(FINE * self.step, away), away, SCANNED)
        places[-1] = last
        block = self.report.context.block
        own = np.repeat(np.array(block.measured[self.item.name], dtype=np.float64), 1 + SCANNED, axis=0)
        own[1:, self.index] = places
        moved = block.with_values({self.item.name: own})
        worse = np.zeros(SCANNED, dtype=np.bool_)
        for name in self.book.judging:
            rule = self.book.rules[name]
            measures = measure(rule, moved, self.report.context.chain, self.report.context.part_limit(rule))
            self.borne_on[name] = self._moves(rule, measures) | self.borne_on.get(name, False)
            judged = judge(rule, measures, self.report.context.decision)
            if len(judged.codes) > 1:
                here, there = (_Said(judged.codes[rows], judged.must_open[rows]) for rows in (slice(1), slice(1, None)))
                worse |= there.is_worse(here, self.musts_only).any(axis=1)
        first = np.flatnonzero(worse)
        return float(places[first[0]]) if first.size else last

    def _said(self, value: float) -> Mapping[str, _Said]:
        texts = [self._moved(reading, value - self.value) for reading in self.written]
        given = texts[0] if len(texts) == 1 else texts
        record = self.record.with_reading(self.item.name, self.station, given, **self.around)
        report = check_record(self.book, record, self.asked)
        return {judged.rule.name: _Said(judged.codes[0], judged.must_open[0]) for judged in report.judged}

    def _moved(self, reading: Reading, by: float) -> str:
        """One of the readings behind the value, moved with it: it scatters and is as vague as it was."""
        low, high = (f"{(end + by) / self.scale!r} {self.exact.name}" for end in (reading.low, reading.high))
        if reading.low == reading.high:
            return low
        if math.isinf(reading.low):
            return f"below {high}"
        return f"above {low}" if math.isinf(reading.high) else f"{low} to {high}"

    def _worse(self, value: float) -> Mapping[tuple[str, int], int]:
        """What is said worse of a value than of the one measured, by rule and station."""
        return {
            (name, station): int(said.codes[station])
            for name, said in self._said(value).items()
            for station in np.flatnonzero(said.is_worse(self.now[name], self.musts_only)).tolist()
        }


def _with_only(report: Report, names: set[str]) -> Record:
    """The record with what these characteristics say, and of others what shows how many stations there are."""
    record, characteristics = report.record, report.context.characteristics
    furthest: dict[str | None, tuple[int, Note]] = {}
    for note in record.notes:
        kind, number = characteristics[note.characteristic].characteristic.per, station_number(note.station) or 0
        if number > furthest.get(kind, (0, note))[0]:
            furthest[kind] = number, note
    counted = {id(note) for _, note in furthest.values()}
    facts, readings = (
        tuple(note for note in notes if note.characteristic in names or id(note) in counted)
        for notes in (record.facts, record.readings)
    )
    return record._replace(facts=facts, readings=readings)
