"""The assemblies of a table: what is alike for all of them stands in a record, the rest in arrays, a row for each.

What a cell says is read as a record is read. Arrays hold what one plain number says at one place; a row in which
anything else stands (several readings, ends, what cannot be read or is not possible) is judged as a record of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from datetime import date
from functools import cached_property

import numpy as np

from checker.checking.book import Book
from checker.errors import InputError, Problem, UsageError
from checker.errors import Place as Spot
from checker.expressions.truth import Array, Truths
from checker.frozen import FrozenMapping
from checker.judging.evidence import Evidence, evidence_of
from checker.notation.read import NotationError, read_quantity
from checker.records.entry import Reading, default_units
from checker.records.instruments import COVERAGE, NO_INSTRUMENT, NOTHING, Instrument, instruments_of
from checker.records.layout import station_number
from checker.records.notes import NOT_MEASURED, Note
from checker.records.record import Record
from checker.records.temperature import Surroundings, at_reference, surroundings_of
from checker.tables.columns import Wanted, columns_of
from checker.tables.places import Laid, Place
from checker.tables.sensitivities import Sizes
from checker.units.units import Unit, bare_unit

OF_ONE = ("parts", "earlier", "concessions", "seen")
"""What a record says of one assembly alone."""
_MOST = float(np.finfo(np.float64).max)
_NONE: Truths = np.zeros(1, dtype=np.bool_)
"""No row is odd."""
_LOOKED_AT_TWICE = {"thou": 1.0, "tenths": np.inf}
"""Units of whose numbers those smaller than this are looked at for a slip, as texts."""


class Assemblies:
    """The rows of a table, and what is alike for all of them.

    Raises UsageError for columns that cannot be read, InputError for what is wrong with the record.
    """

    def __init__(self, book: Book, base: Record, laid: Laid, instruments: Mapping[str, str], day: date) -> None:
        one_only = [key for key in OF_ONE if getattr(base, key)]
        if one_only:
            message = f"the record that is alike for a whole table states {', '.join(one_only)}"
            raise UsageError(Problem(message, hint="what is said of one assembly goes into a record of its own"))
        self.base = base
        self.rows = len(laid.assemblies)
        self._instruments = instruments
        self._items = book.characteristics
        self._places = laid.places
        self.found: Evidence = evidence_of(book.compiled, book.blank, self._record(self._telling(), None), day)
        held = columns_of(laid, self._items, self.found.layout, self._defaults, instruments)
        self.wanted, self._places, self._faults = held.wanted, held.places, held.faults
        default = self._defaults.get("temperature")
        around = surroundings_of(base, self._items, book.materials, self.found.readings, default, [])
        gauges = instruments_of(base, self._defaults, book.materials, [])
        self._gauges: Mapping[str, Instrument] = gauges
        self._by_station: dict[str, list[list[Wanted]]] = {}
        for name in dict.fromkeys(wanted.item.name for wanted in self.wanted):
            per = self._items[name].characteristic.per
            self._by_station[name] = [[] for _ in range(self.found.layout.count(per))]
        for wanted in self.wanted:
            self._by_station[wanted.item.name][wanted.station].append(wanted)
        at_20 = {name: self._at_reference(name, around) for name in self._by_station}
        self._scales = {name: reading.low for name, reading in at_20.items()}
        self._warm = {name for name, reading in at_20.items() if self._may_be_off(reading)}
        self._room: Array = np.empty((0, 0))
        self._plain = {name: self._as_numbers(name) for name in self._by_station}
        both = self._by_station.keys() & self.found.columns.gathered.keys()
        stations = ((name, station) for name in both for station in self._alike(name))
        twice = {(name, station) for name, station in stations if self._by_station[name][station]}
        if twice:
            told = [f"{name}, station {station + 1}" for name, station in sorted(twice)]
            raise UsageError(Problem(f"both the table and the record have values of {'; '.join(told)}"))

    @property
    def told(self) -> Set[str]:
        """The characteristics of which the table tells."""
        return self._by_station.keys()

    @property
    def cells(self) -> int:
        """How many values there may be in a row."""
        return sum(map(len, self._by_station.values()))

    @cached_property
    def _defaults(self) -> Mapping[str, Unit]:
        return default_units(self.base, [])

    def record(self, row: int) -> Record:
        """One row as the record that says the same; raises InputError where a line of it cannot be read."""
        if row in self._faults:
            raise InputError(self._faults[row])
        return self._record(self._places, row)

    def doubtful(self, needs_instruments: bool) -> frozenset[str]:
        """The characteristics about whose values there is doubt: not all is said by one number."""
        given = self.found.columns.gathered
        in_base = {name for name, item in given.items() if item.shared or any(item.moves(needs_instruments))}
        in_table = {name for name in self._by_station if self._is_doubtful(name, needs_instruments)}
        return frozenset(in_base | in_table | self._warm)

    def unproven(self, needs_instruments: bool) -> frozenset[str]:
        """The characteristics whose doubt takes more than first order: known from ends, scattering, warm, or not known.

        If instruments are needed, nothing is known of a value behind which none is named.
        """
        given = self.found.columns.gathered.items()
        found = {name for name, item in given if item.least or item.scatter.any() or item.warmth} | self._warm
        if needs_instruments:
            found |= {name for name, item in given if item.unstated.any()}
            table = {name for name in self._by_station if self._items[name].unit is not None}
            found |= table - self._instruments.keys()
        return frozenset(found)

    def sizes(self, measured: Mapping[str, Array]) -> Sizes:
        """The expanded uncertainties of these values, and of those that are alike for all rows."""
        own: dict[str, Array] = {}
        shared: dict[str, dict[str, Array]] = {}
        for name, item in self.found.columns.gathered.items():
            if item.own.any():
                own[name] = item.own
            for gauge, move in item.shared.items():
                shared.setdefault(gauge, {})[name] = move
        for name, values in measured.items():
            unit = self._items[name].unit
            known = self._gauges.get(self._instruments.get(name, ""))
            if unit is None or known is None:
                continue
            # A size that is alike in all rows stands in one; of what is missing it says nothing.
            is_own = ~np.isin(np.arange(values.shape[1]), self._alike(name))
            size = 1.0 if unit.name == "%" else values
            if known.own != NOTHING:
                share = known.own.share * size if known.own.share else 0.0
                made = np.where(is_own, COVERAGE * np.hypot(known.own.fixed, share), own.get(name, 0.0))
                own[name] = np.atleast_2d(made)
            if known.shared != NOTHING:
                share = known.shared.share * size if known.shared.share else 0.0
                of_gauge = shared.setdefault(known.name, {})
                made = np.where(is_own, COVERAGE * (known.shared.fixed + share), of_gauge.get(name, 0.0))
                of_gauge[name] = np.atleast_2d(made)
        return Sizes(own, shared)

    def _alike(self, name: str) -> list[int]:
        """The stations of a characteristic that have the same value in every row."""
        gathered = self.found.columns.gathered.get(name)
        return [] if gathered is None else np.flatnonzero(~np.isnan(gathered.value[0])).tolist()

    def values(self, rows: slice) -> tuple[dict[str, Array], Truths]:
        """Values in SI by characteristic, shape (rows, stations), and which rows arrays cannot tell.

        They stand where those stood that were asked for before: new memory would cost more than to read them.
        """
        count = len(range(*rows.indices(self.rows)))
        if self._room.shape[1] < count:
            self._room = np.empty((self.cells, count))
        room = self._room.ravel()
        end = 0
        odd = np.zeros(count, dtype=np.bool_)
        odd[[row - rows.start for row in self._faults if rows.start <= row < rows.stop]] = True
        measured: dict[str, Array] = {}
        for name, stations in self._by_station.items():
            start, end = end, end + len(stations) * count
            at_stations = room[start:end].reshape(len(stations), count)  # a station after the other in memory
            plain = self._plain[name]
            for own, (numbers, factor) in zip(at_stations, plain, strict=False):
                np.multiply(numbers[rows], factor, own)
            for own, columns in zip(at_stations, stations, strict=True) if not plain else ():
                odd |= self._read_all(columns, rows, own)
            values, item = at_stations.T, self._items[name]
            if item.unit is not None:
                low, high = max(item.low, -_MOST), min(item.high, _MOST)
                # Of all at once the least and the greatest are found in half the time.
                if (
                    np.fmin.reduce(at_stations, None, initial=np.inf) < low
                    or np.fmax.reduce(at_stations, None, initial=-np.inf) > high
                ):
                    odd |= ((values < low) | (values > high)).any(axis=1)
            if item.characteristic.series:
                odd[:] = True
            if name in self.found.columns.gathered:
                values = np.where(np.isnan(values), self.found.columns.gathered[name].value, values)
            measured[name] = values
        return measured, odd

    def _as_numbers(self, name: str) -> list[tuple[Array, float]]:
        """The numbers of each station and by what they are in SI, if no more is to be done at any of them."""
        item, found = self._items[name], []
        for columns in self._by_station[name]:
            numbers, unit = (columns[0].place.cells.numbers, columns[0].unit) if len(columns) == 1 else (None, None)
            is_more = unit is None or unit.offset or unit.name in _LOOKED_AT_TWICE or item.characteristic.counted
            if numbers is None or unit is None or is_more or item.unit is None or self._scales[name] != 1:
                return []
            found.append((numbers, unit.factor))
        return found

    def _read_all(self, columns: Sequence[Wanted], rows: slice, own: Array) -> Truths:
        """Fill in the values of one station from its columns; which rows are odd, among them those that have two."""
        if not columns:
            own.fill(np.nan)
            return _NONE
        odd = self._read(columns[0], rows, own)
        for one in columns[1:]:
            more = np.empty_like(own)
            odd = odd | self._read(one, rows, more) | ~(np.isnan(own) | np.isnan(more))
            np.copyto(own, more, where=np.isnan(own))
        return odd

    def _telling(self) -> Sequence[Place]:
        """The places that say something unread: with what something is measured, or how many stations there are."""
        last: dict[str | None, tuple[int, Place]] = {}
        named = {place.characteristic: id(place) for place in self._places if place.characteristic in self._instruments}
        for place in self._places:
            per, number = self._items[place.characteristic].characteristic.per, station_number(place.station) or 0
            if per not in last or last[per][0] < number:
                last[per] = number, place
        telling = {*named.values(), *(id(place) for _, place in last.values())}
        return [place for place in self._places if id(place) in telling]

    def _record(self, places: Sequence[Place], row: int | None) -> Record:
        """The record with the cells of one row, or with places alone that nothing was measured at."""
        grouped: dict[tuple[str, str], list[Place]] = {}
        for place in places:
            grouped.setdefault((place.characteristic, place.station), []).append(place)
        where = "the table" if row is None else f"row {row}"
        facts, readings = list(self.base.facts), list(self.base.readings)
        for (name, station), own in grouped.items():
            if row is not None:
                own.sort(key=lambda place: 0 if place.lines is None else int(place.lines[row]))
            told = (place for place in own if row is None or place.lines is None or place.lines[row] >= 0)
            texts = tuple(self._text(place, row) for place in told)
            if not self._items[name].characteristic.series or not any(texts):
                texts = tuple(filter(None, texts)) or ("",)  # of a series it counts that one is lacking
            gauge = self._instruments.get(name)
            note = Note(
                name,
                station,
                texts,
                Spot(where, key=own[0].column),
                "value" if len(texts) == 1 else "readings",
                FrozenMapping({"with": gauge} if gauge else {}),
                self._items[name].unit is None,
            )
            (facts if note.is_fact else readings).append(note)
        return self.base._replace(facts=tuple(facts), readings=tuple(readings))

    def _text(self, place: Place, row: int | None) -> str:
        is_word = self._items[place.characteristic].unit is None
        text = "" if row is None else place.cells.text(row, is_word)
        return f"{text} {place.unit}" if text and place.unit and place.cells.numbers is not None else text

    def _is_doubtful(self, name: str, needs_instruments: bool) -> bool:
        if self._items[name].unit is None:
            return False
        named = self._instruments.get(name)
        gauge = self._gauges.get(named or "", NO_INSTRUMENT)
        return gauge != NO_INSTRUMENT if named else needs_instruments

    def _may_be_off(self, brought: Reading) -> bool:
        """Whether warmth leaves a value open, or may in some rows: each may say by itself what its parts are of.

        Where no instrument is named, a value is brought to 20 degrees by no less than its own digits tell.
        """
        made_of = self._items[brought.characteristic].characteristic.made_of
        by_its_digits = bool(brought.correction) and brought.instrument is None
        if brought.warmth is None or not brought.warmth.shares:
            return by_its_digits
        return brought.warmth.counts or not self._by_station.keys().isdisjoint(made_of)

    def _at_reference(self, name: str, around: Surroundings) -> Reading:
        """A value of one, of which no last digit is known, brought to the reference temperature."""
        probe = Reading(name, 0, 1.0, 1.0, "", self._items[name].unit, Spot(""), self._instruments.get(name))
        return next(iter(at_reference([probe], around, self._gauges)))

    def _read(self, wanted: Wanted, rows: slice, own: Array) -> Truths:
        """Fill in the values of a column in SI; which cells are to be read in their row."""
        cells, item = wanted.place.cells, wanted.item
        if cells.numbers is None or item.unit is None or wanted.unit is None:
            own[:], odd = self._read_texts(wanted, rows)
            return odd
        numbers = cells.numbers[rows]
        np.multiply(numbers, wanted.unit.factor, out=own)
        if wanted.unit.offset:
            own += wanted.unit.offset
        if self._scales[item.name] != 1:
            own *= self._scales[item.name]
        odd = _NONE
        if wanted.unit.name in _LOOKED_AT_TWICE:
            odd = odd | (np.abs(numbers) < _LOOKED_AT_TWICE[wanted.unit.name]) & (numbers != 0)
        if item.characteristic.counted:
            odd = odd | (numbers < 0)
        if odd is not _NONE:
            own[odd] = np.nan
        return odd

    def _read_texts(self, wanted: Wanted, rows: slice) -> tuple[Array, Truths]:
        cells = wanted.place.cells
        if cells.numbers is not None:
            is_word = wanted.item.unit is None
            said = [self._understood(wanted, cells.text(row, is_word)) for row in range(*rows.indices(self.rows))]
            return np.array([value for value, _ in said]), np.array([is_odd for _, is_odd in said], dtype=np.bool_)
        known = [self._understood(wanted, text) for text in (*cells.texts, "")]
        codes = np.zeros(0, dtype=np.int64) if cells.codes is None else cells.codes[rows]
        values, odd = np.array([value for value, _ in known]), np.array([is_odd for _, is_odd in known])
        return values[codes], odd[codes].astype(np.bool_)

    def _understood(self, wanted: Wanted, text: str) -> tuple[float, bool]:
        """One plain value in SI, or that it takes more to say what a text means."""
        item = wanted.item
        if text.strip().lower() in NOT_MEASURED:
            return np.nan, False
        if item.unit is None:
            choices = item.characteristic.choices
            return (float(choices.index(text)), False) if text in choices else (np.nan, True)
        default = wanted.unit if wanted.place.unit else bare_unit(item.unit, self._defaults.get(item.unit.kind))
        try:
            written = read_quantity(text, item.unit, default, item.characteristic.counted, item.notation)
        except NotationError:
            return np.nan, True
        if not written.is_one_value or written.meaning or written.station:
            return np.nan, True
        return written.spans[0].low * self._scales[item.name], False
