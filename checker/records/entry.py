"""Understanding what was written down: units, stations, instruments, dates."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from checker.documents.document import Document
from checker.errors import Place, Problem, nearest, nearest_name
from checker.notation.plain import SLIPPED
from checker.notation.write import usual_step, write_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.records.instruments import Instrument
from checker.records.layout import Layout, station_number
from checker.records.notes import ASSEMBLY, FACTS, Note, is_measured
from checker.records.reading_keys import ALL
from checker.records.record import Record
from checker.records.values import Value, temperature_at, values_in
from checker.units.names import OF_FEW_THINGS
from checker.units.units import KINDS, Unit, UnitError, bare_unit, unit, units_of

_NUMBER = re.compile(r"(?<![#\d])(\d+|(?=\.\d))([.,](?P<decimals>\d+))?(?:[eE](?P<exponent>[+-]?\d{1,2}))?")
MOST_DIGITS = 7
"""More digits than any gauge of a shop shows."""
FINEST = 1e-3
"""No gauge shows a smaller part of the step that its unit is usually written with."""
_GAP = "not all of this series was measured: its order cannot be told"
_FRACTION = re.compile(r"\d/\d")


class Slip(NamedTuple):
    """What a strange value may have been: the slip in words, and the value that was then meant."""

    name: str
    value: float
    unit: Unit

    def __str__(self) -> str:
        return f"{self.name}, {write_quantity(self.value, self.unit)}"


class Suspicion(NamedTuple):
    """Why to look at a reading again, and the slips that would explain it, likeliest first."""

    words: str
    slips: tuple[Slip, ...] = ()

    def __str__(self) -> str:
        return f"{self.words}: {self.slips[0]}?" if self.slips else self.words


class Warmth(NamedTuple):
    """How far a reading may be off that cannot be brought to 20 degrees C, and what to find out.

    So much of it may be warmth as its `size` says, in SI; nought where that is not worth asking. `shares` say of each
    that grows by nobody knows how much, by a name for what is alike for all that was measured on or with it, by which
    share of itself the reading is off if that grows the least, and if it grows the most. It `counts` where it is
    further from 20 than a bench is.
    """

    asks: str
    size: float
    shares: tuple[tuple[str, float, float], ...] = ()
    counts: bool = False


class Reading(NamedTuple):
    """One value in SI at one station, counted from 0; an interval where only its ends are known.

    A fact is known without measuring; one that packs `read_with` a gauge is a figure in the place of a measurement.
    `correction` is what was added to bring it to the reference temperature, where that was done, and `warmth` what may
    be wrong with it where it was not, though it is known how warm it was. `remarks` say how it was understood,
    `suspicions` why to look at it again, and `set_aside` why it does not count as measured: it is stale, or not
    possible, and then nothing else counts at its station either. `beside_a_gap` is one of a series that is not whole.
    """

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
    is_fact: bool = False
    read_with: str = ""
    correction: float | None = None
    warmth: Warmth | None = None
    remarks: tuple[str, ...] = ()
    suspicions: tuple[Suspicion, ...] = ()
    set_aside: str = ""
    is_possible: bool = True
    beside_a_gap: bool = False

    @property
    def middle(self) -> float:
        """Best single value: the middle, or the known end of an open interval."""
        if self.low == self.high or math.isinf(self.low):
            return self.high
        return self.low if math.isinf(self.high) else (self.low + self.high) / 2

    @property
    def uncertainty_is_unstated(self) -> bool:
        """Whether it was, or should have been, measured with an instrument that nobody named."""
        return self.instrument is None and self.unit is not None and bool(not self.is_fact or self.read_with)

    @property
    def last_digit(self) -> float:
        """One step of the last digit read, in SI; zero where the text shows none, as a fraction does not.

        The last digit of a converted or computed number is no gauge's: the unit's usual one stands for it.
        """
        if self.unit is None:
            return 0.0
        step = last_digit(self.written, self.unit)
        if not step or math.isinf(self.middle):
            return step
        usual = usual_step(self.middle, self.unit)
        is_computed = step < max(10.0**-MOST_DIGITS * abs(self.middle), FINEST * usual)
        return usual if is_computed else step

    def suspected(self, words: str, slips: Iterable[Slip] = ()) -> Reading:
        """The same reading with one more reason to look at it again."""
        return self._replace(suspicions=(*self.suspicions, Suspicion(words, tuple(slips))))


def understand(
    record: Record,
    characteristics: Mapping[str, CompiledCharacteristic],
    layout: Layout,
    defaults: Mapping[str, Unit],
    instruments: Mapping[str, Instrument],
    problems: list[Problem],
) -> tuple[Reading, ...]:
    """Every reading of a record in SI; `defaults` are the units of bare numbers by kind.

    What cannot be read is added to the problems.
    """
    if record.taken:
        day_at(record.taken, record.document.place("taken"), problems)
    of_assembly = (note for note in record.notes if _is_series(note, characteristics) and _has_gap(note))
    gaps = frozenset(note.characteristic for note in of_assembly)
    entry = _Entry(record.document, layout, defaults, instruments, record.taken, problems, gaps)
    readings = [
        reading
        for note in record.notes
        if note.characteristic in characteristics
        for reading in entry.readings(note, characteristics[note.characteristic])
    ]
    problems.extend(_strangers((*record.notes, *record.earlier), characteristics))
    problems.extend(_contradictions(readings, characteristics))
    return tuple(readings)


def _is_series(note: Note, characteristics: Mapping[str, CompiledCharacteristic]) -> bool:
    """Whether it is of a series of the assembly."""
    item = characteristics.get(note.characteristic)
    return item is not None and item.characteristic.series and item.characteristic.per is None


def _has_gap(note: Note) -> bool:
    """Whether something is not measured of what is written."""
    return not all(map(is_measured, note.written))


def _strangers(notes: Iterable[Note], characteristics: Collection[str]) -> Iterator[Problem]:
    """Characteristics that no pack knows, each told where it stands first."""
    first = {note.characteristic: note.place for note in reversed(tuple(notes))}
    for name, place in first.items():
        if name not in characteristics:
            yield Problem(f"unknown characteristic {name!r}", place, nearest(name, characteristics))


def default_units(record: Record, problems: list[Problem]) -> dict[str, Unit]:
    """The unit of bare numbers, by kind of quantity.

    For one that is written wrong stands another of the kind that is meant, so that its numbers are no mistakes too.
    """
    units: dict[str, Unit] = {}
    for kind, name in record.units.items():
        wrong = Problem("", record.document.place("units", kind))
        meant = kind if kind in KINDS else nearest_name(kind, KINDS)
        try:
            stated = unit(name)
        except UnitError as error:
            stated = None
            if meant:
                hint = error.hint or f"known: {', '.join(own.name for own in units_of(meant))}"
                problems.append(wrong._replace(message=error.problems[0].message, hint=hint))
        if kind not in KINDS:
            hint = nearest(kind, KINDS) or f"known: {', '.join(KINDS)}"
            problems.append(wrong._replace(message=f"no kind of quantity {kind!r}", hint=hint))
        elif stated is not None and stated.kind != kind:
            problems.append(wrong._replace(message=f"{name} is a unit of {stated.kind}, not of {kind}"))
        elif stated is not None and stated.name in OF_FEW_THINGS:
            # Bare numbers of all else would be taken in the usual unit: a torque in lb-in for twelve times as much.
            what = f"{name} is what few things are read in: choose another unit of {kind} here"
            problems.append(wrong._replace(message=f"{what}, and write {name} beside its numbers"))
        if stated is not None and stated.kind == meant:
            units[meant] = stated
        elif meant:
            units.setdefault(meant, units_of(meant)[0])
    return units


def day_at(text: str, place: Place, problems: list[Problem]) -> date | None:
    """A date as ISO 8601 writes it; nothing, and a problem more, where it is none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        problems.append(Problem(f"{text!r} is not a date such as 2026-05-02", place))
        return None


@lru_cache(maxsize=4096)
def last_digit(text: str, unit: Unit) -> float:
    """One step of the last digit of the first number in a text, in SI; zero for a fraction or a number word."""
    match = _NUMBER.search(text)
    if match is None or _FRACTION.search(text):
        return 0.0
    return float(abs(unit.factor) * 10.0 ** (int(match["exponent"] or 0) - len(match["decimals"] or "")))


class _Entry(NamedTuple):
    """A record being understood; what is wrong with it is added to the problems."""

    document: Document
    layout: Layout
    defaults: Mapping[str, Unit]
    instruments: Mapping[str, Instrument]
    day_of_record: str
    problems: list[Problem]
    gaps: frozenset[str] = frozenset()
    """The series of the assembly of which one in a list was not measured."""

    def readings(self, note: Note, item: CompiledCharacteristic) -> Iterator[Reading]:
        instrument, taken, temperature = self.instrument(note, item), self.taken(note), self.temperature(note)
        default = bare_unit(item.unit, self.defaults.get(item.unit.kind)) if item.unit else None
        count = self.layout.count(item.characteristic.per)
        gap = (_GAP,) if item.name in self.gaps or (item.characteristic.series and _has_gap(note)) else ()
        for value in values_in(note, item, default, count, self.problems):
            slipped = [words for words in value.remarks if words.endswith(SLIPPED)]
            remarks = (*(words for words in value.remarks if words not in slipped), *gap)
            for station in self.stations(note, value, item, count):
                yield Reading(
                    characteristic=item.name,
                    station=station,
                    low=value.low,
                    high=value.high,
                    written=value.written,
                    unit=value.unit,
                    place=note.place,
                    instrument=instrument,
                    taken=taken,
                    temperature=temperature,
                    for_all=note.stands_for_all,
                    is_fact=note.is_fact and instrument is None,  # what a gauge has read was measured
                    read_with=item.characteristic.with_,
                    remarks=remarks,
                    suspicions=tuple(map(Suspicion, slipped)),
                    beside_a_gap=bool(gap),
                )

    def stations(self, note: Note, value: Value, item: CompiledCharacteristic, count: int) -> Iterator[int]:
        """The stations, counted from 0, that a value was written for; there are `count` of them."""
        per = item.characteristic.per
        named = value.station or note.station
        if value.station and note.station not in (ASSEMBLY, value.station):
            self.refuse(f"{value.written!r} names station {value.station} but stands under {note.station}", note)
        elif per is None:
            if value.station or not (note.station in (ASSEMBLY, ALL) or note.form == "listed"):
                self.refuse(f"{item.name} has one value for the assembly, not one for each station", note)
            else:
                yield 0
        elif named == ALL or (named == ASSEMBLY and (count == 1 or item.unit is None)):
            yield from range(count)
        elif named == ASSEMBLY:
            hint = "write one value a station, or all: for one value that stands for every one"
            self.refuse(f"{item.name} is measured at each {per}", note, hint)
        elif (number := station_number(named)) is not None and number <= count:
            yield number - 1
        else:
            self.refuse(f"no {per} {named}: there are {count}", note)

    def instrument(self, note: Note, item: CompiledCharacteristic) -> str | None:
        name = note.circumstances.get("with")
        if name is None:
            return None
        if name not in self.instruments:
            near, message = nearest(name, self.instruments), f"no instrument {name!r}"
            if near or all(problem.message != message for problem in self.problems):  # not to list it is one mistake
                self.problems.append(
                    Problem(message, self.stated_at(note, "with"), near or "list it under instruments")
                )
        elif item.unit is not None and not self.instruments[name].suits(item.unit.kind):
            kinds = " and ".join(sorted(self.instruments[name].kinds))
            message = f"the uncertainty of {name} is in units of {kinds}, and {item.name} in those of {item.unit.kind}"
            self.problems.append(Problem(message, self.stated_at(note, "with")))
        return name

    def taken(self, note: Note) -> date | None:
        text = note.circumstances.get("taken")
        if text is None:
            return None
        # What is wrong with the day of the record is told where that stands.
        return day_at(text, self.stated_at(note, "taken"), [] if text == self.day_of_record else self.problems)

    def temperature(self, note: Note) -> float | None:
        text = note.circumstances.get("temperature")
        if text is None:
            return None
        place = self.stated_at(note, "temperature")
        return temperature_at(text, self.defaults.get("temperature"), place, self.problems)

    def stated_at(self, note: Note, key: str) -> Place:
        """Where what goes with a value is written: once for all values of its characteristic, or beside it."""
        path = (FACTS if note.is_fact else "readings", note.characteristic)
        whole = self.document.data.get(path[0], {}).get(path[1])
        is_for_all = isinstance(whole, Mapping) and str(whole.get(key)) == note.circumstances.get(key)
        return self.document.place(*path, key) if is_for_all else note.place

    def refuse(self, message: str, note: Note, hint: str = "") -> None:
        self.problems.append(Problem(message, note.place, hint))


def _contradictions(
    readings: list[Reading], characteristics: Mapping[str, CompiledCharacteristic]
) -> Iterator[Problem]:
    """A value for all stations contradicts one for a single station, and one choice another at the same station."""
    first: dict[tuple[str, int], Reading] = {}
    for reading in readings:
        other = first.setdefault((reading.characteristic, reading.station), reading)
        if characteristics[reading.characteristic].unit is None and other.written != reading.written:
            yield Problem(
                f"{reading.characteristic} cannot be both {other.written} and {reading.written}", reading.place
            )
    single = {reading.characteristic for reading in readings if not reading.for_all}
    for reading in readings:
        if reading.for_all and reading.characteristic in single:
            yield Problem("one value for all stations beside values for single ones", reading.place)
