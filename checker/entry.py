"""Understanding what was written down: units, stations, instruments, dates."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from checker.compiled import CompiledCharacteristic
from checker.errors import InputError, Place, Problem, nearest
from checker.layout import Layout
from checker.notation import NotationError, read_quantity
from checker.record import ALL, ASSEMBLY, NOT_MEASURED, Note, Record
from checker.units import KINDS, Unit, UnitError, unit

_FORMS = {"above": (1, "above {0}"), "below": (1, "below {0}"), "between": (2, "{0} to {1}")}


@dataclass(frozen=True, slots=True)
class Reading:
    """One value in SI at one station; an interval where only its ends are known."""

    characteristic: str
    station: int
    low: float
    high: float
    written: str
    unit: Unit | None
    place: Place
    instrument: str | None = None
    taken: date | None = None
    temperature: float | None = None
    for_all: bool = False
    remarks: tuple[str, ...] = ()

    @property
    def middle(self) -> float:
        """Best single value: the middle, or the known end of an open interval."""
        if math.isinf(self.low):
            return self.high
        return self.low if math.isinf(self.high) else (self.low + self.high) / 2


def understand(
    record: Record, characteristics: Mapping[str, CompiledCharacteristic], layout: Layout
) -> tuple[Reading, ...]:
    """Every reading of a record in SI; raises InputError naming all that cannot be read."""
    problems: list[Problem] = []
    defaults = dict(_default_units(record, problems))
    readings: list[Reading] = []
    for note in record.notes:
        item = characteristics.get(note.characteristic)
        if item is None:
            hint = nearest(note.characteristic, characteristics)
            problems.append(Problem(f"unknown characteristic {note.characteristic!r}", note.place, hint))
            continue
        readings.extend(_readings(note, item, layout, defaults, record, problems))
    problems.extend(_conflicts(readings))
    if problems:
        raise InputError(problems)
    return tuple(readings)


def quantity_at(text: str, expected: Unit, default: Unit | None, place: Place, problems: list[Problem]) -> float:
    """One exact value in SI; NaN, and a problem more, where there is none."""
    try:
        written = read_quantity(text, expected, default)
    except NotationError as error:
        problems.append(_unreadable(error, place))
        return math.nan
    if len(written.spans) != 1 or written.spans[0].low != written.spans[0].high:
        problems.append(Problem(f"{text!r} is not one value", place))
        return math.nan
    return written.spans[0].low


def _default_units(record: Record, problems: list[Problem]) -> Iterator[tuple[str, Unit]]:
    for kind, name in record.section("units").items():
        place = record.document.place("units", kind)
        if kind not in KINDS:
            problems.append(Problem(f"no kind of quantity {kind!r}", place, nearest(kind, KINDS)))
            continue
        try:
            found = unit(name)
        except UnitError as error:
            problems.append(Problem(str(error), place))
            continue
        if found.kind != kind:
            problems.append(Problem(f"{name} is a unit of {found.kind}, not of {kind}", place))
        yield kind, found


def _readings(
    note: Note,
    item: CompiledCharacteristic,
    layout: Layout,
    defaults: Mapping[str, Unit],
    record: Record,
    problems: list[Problem],
) -> Iterator[Reading]:
    stations = list(_stations(note, item, layout, problems))
    texts = [text for text in _texts(note) if text.strip().lower() not in NOT_MEASURED]
    circumstances = _circumstances(note, item, record, problems)
    for text in texts:
        for reading in _values(text, note, item, defaults, problems):
            for station in stations:
                yield replace(reading, station=station, for_all=note.stands_for_all, **circumstances)


def _texts(note: Note) -> tuple[str, ...]:
    if note.form in _FORMS:
        count, pattern = _FORMS[note.form]
        if len(note.written) == count:
            return (pattern.replace("{0}", note.written[0]).replace("{1}", note.written[-1]),)
    return note.written


def _stations(note: Note, item: CompiledCharacteristic, layout: Layout, problems: list[Problem]) -> Iterator[int]:
    per = item.characteristic.per
    if per is None:
        if note.station in (ASSEMBLY, ALL) or note.form == "listed":
            yield 0
        else:
            problems.append(
                Problem(f"{item.name} has one value for the assembly, not one for each station", note.place)
            )
        return
    count = layout.count(per)
    if (
        note.station == ALL
        or (note.station == ASSEMBLY and count == 1)
        or (note.station == ASSEMBLY and item.unit is None)
    ):
        yield from range(count)
    elif note.station == ASSEMBLY:
        message = f"{item.name} is measured at each {per}"
        problems.append(
            Problem(message, note.place, "write one value a station, or all: for one value that stands for every one")
        )
    elif note.station.isdigit() and 1 <= int(note.station) <= count:
        yield int(note.station) - 1
    else:
        problems.append(Problem(f"no {per} {note.station}: there are {count}", note.place))


def _values(
    text: str, note: Note, item: CompiledCharacteristic, defaults: Mapping[str, Unit], problems: list[Problem]
) -> Iterator[Reading]:
    blank = Reading(item.name, 0, math.nan, math.nan, text, item.unit, note.place)
    if item.unit is None:
        yield from _choice(blank, item, problems)
        return
    try:
        written = read_quantity(text, item.unit, defaults.get(item.unit.kind))
    except NotationError as error:
        problems.append(_unreadable(error, note.place))
        return
    if len(written.spans) > 1 and not item.characteristic.series:
        problems.append(Problem(f"{text!r} holds {len(written.spans)} values", note.place, "write one value a station"))
        return
    for span in written.spans:
        yield replace(blank, low=span.low, high=span.high, remarks=tuple(written.notes), unit=written.unit)


def _choice(blank: Reading, item: CompiledCharacteristic, problems: list[Problem]) -> Iterator[Reading]:
    choices = item.characteristic.choices
    if blank.written in choices:
        code = float(choices.index(blank.written))
        yield replace(blank, low=code, high=code)
    else:
        hint = nearest(blank.written, choices) or f"one of {', '.join(choices)}"
        problems.append(Problem(f"{item.name} cannot be {blank.written!r}", blank.place, hint))


def _circumstances(note: Note, item: CompiledCharacteristic, record: Record, problems: list[Problem]) -> dict[str, Any]:
    given = note.circumstances
    instruments = record.section("instruments")
    instrument = given.get("with")
    if instrument is not None and instrument not in instruments:
        hint = nearest(instrument, instruments) or "list it under instruments"
        problems.append(Problem(f"no instrument {instrument!r}", note.place, hint))
    temperature = given.get("temperature")
    degrees = unit("degC")
    return {
        "instrument": instrument,
        "taken": _day(given["taken"], note.place, problems) if "taken" in given else None,
        "temperature": None if temperature is None else quantity_at(temperature, degrees, None, note.place, problems),
    }


def _day(text: str, place: Place, problems: list[Problem]) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        problems.append(Problem(f"{text!r} is not a date such as 2026-05-02", place))
        return None


def _conflicts(readings: list[Reading]) -> Iterator[Problem]:
    """A value for all stations and one for a single station contradict each other."""
    single = {(reading.characteristic, reading.station) for reading in readings if not reading.for_all}
    for reading in readings:
        if reading.for_all and (reading.characteristic, reading.station) in single and reading.station == 0:
            yield Problem("one value for all stations beside values for single ones", reading.place)


def _unreadable(error: NotationError, place: Place) -> Problem:
    hint = f"it could be {' or '.join(error.readings)}" if error.readings else ""
    return Problem(error.message, place, hint)
