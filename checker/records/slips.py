"""Slips of the pen and of the gauge: values that are impossible, or readable but suspicious.

What is impossible is set aside; what is suspicious counts as written and is to be looked at again. Nothing is ever
corrected or dropped. The thresholds are such that honest scatter seldom looks like a slip: of sets of five stations
about one in a hundred, of larger sets fewer (tests/records/test_slips.py counts them).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import fmean, median
from typing import NamedTuple, TypeAlias

from checker.expressions.truth import RELATIVE_TOLERANCE, greatest_equal, least_equal
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading, Slip
from checker.records.instruments import Instrument
from checker.records.slip_guesses import slips_of
from checker.units.units import UNITS, Unit

FLOOR_DIGITS = 6.0
"""Stations that differ by this many of the last digits written are alike: machining and reading scatter that much."""
FLOOR_DOUBTS = 2.5
"""So are those that differ by so many expanded uncertainties of their gauge: by one blade of a feeler, say."""
FINEST_LENGTH = UNITS["in"].factor * 1e-4
"""A length scatters by tenths of a thousandth, also where it is written to the thousandth of a millimetre."""
FAR, FAR_IF_FEW = 6.0, 24.0
"""How many scales from the median is far; the second is shared out among the others, for few show their scale badly."""
NORMAL = 1.4826
"""The median distance from the median, in standard deviations of a normal distribution."""
FEWEST_OTHERS = 4
"""With fewer other stations their scatter says little: then a slip that can be named is told, or a gross one."""
RATIO, ALIKE = 4.0, 2.0
"""A value this many times its neighbours, or a part as small, is told when the neighbours agree within ALIKE."""
CLEAR = 10.0
"""Two characteristics are told apart whose medians lie this many times as far apart as stations that are alike."""
PRECISE = 1000.0
"""A value of so many of its last digits is like no other by chance; clearances of few digits are."""
FEW_SHARE = 1 / 100
"""Beside few others, a precise length is told without a guess if it is off by such a share, and CLEAR of scatter."""
TWOFOLD, NEARLY_ALIKE = (1.8, 2.2), 1.25
"""So many times the others, which are nearly alike, a clearance may be that of one side, or of both."""
FEWEST_ALIKE = 4
UNREAD_SHARE = 1 / 20
"""A last digit this fine beside the usual uncertainty is not read alike at every station."""
FINE_LENGTH, FINE_SHARE = 1e-5, 1 / 500
"""Written to 0.01 mm, or to a 500th of itself, real parts differ. Coarser figures are alike in honest work too."""


def is_impossible(reading: Reading, item: CompiledCharacteristic) -> bool:
    """Whether a reading, or the middle of one known by its ends, lies outside its plausible range."""
    middle = reading.middle
    return item.unit is not None and not (item.low <= middle <= item.high or lies_within(middle, item))


def lies_within(value: float, item: CompiledCharacteristic) -> bool:
    """Whether a value lies in the plausible range."""
    return bool(least_equal(item.low) <= value <= greatest_equal(item.high))


def looked_over(
    readings: Sequence[Reading],
    characteristics: Mapping[str, CompiledCharacteristic],
    instruments: Mapping[str, Instrument],
    differing: Container[str | None] = frozenset(),
) -> tuple[Reading, ...]:
    """The readings in their order, impossible ones set aside, suspicious ones marked.

    Stations of a kind that is `differing` by nature are not held against each other.
    """
    possible: dict[str, list[Reading]] = defaultdict(list)
    impossible = []
    for reading in readings:
        item = characteristics[reading.characteristic]
        if item.unit is None or reading.set_aside:
            continue
        if is_impossible(reading, item):
            impossible.append(reading)
        else:
            possible[item.name].append(reading)
    derived = (item.inputs.names for item in characteristics.values() if item.derived)
    fitting = frozenset(names for names in derived if len(names) == 2)
    sets = {
        name: Set(
            characteristics[name],
            tuple(values),
            instruments,
            characteristics[name].characteristic.per in differing,
            fitting,
        )
        for name, values in possible.items()
    }
    marked = {id(reading): _refused(reading, characteristics, sets) for reading in impossible}
    in_order = [sets[name] for name in sorted(sets)]  # what is said must not hang on the order of writing
    for own in sets.values():
        for reading, words, slips in own.suspicions(in_order):
            marked[id(reading)] = marked.get(id(reading), reading).suspected(words, slips)
    return tuple(marked.get(id(reading), reading) for reading in readings)


_Suspected: TypeAlias = tuple[Reading, str, Sequence[Slip]]
"""A reading, why to look at it again, and the slips that would explain it."""


class Rest(NamedTuple):
    """What other stations say: their median, scale and ends, and how far apart is still alike."""

    stations: int
    middle: float
    scale: float
    low: float
    high: float
    floor: float

    def is_far(self, value: float) -> bool:
        """Whether a value lies further off than scatter explains."""
        away = abs(value - self.middle)
        return away > max((FAR + FAR_IF_FEW / self.stations) * self.scale, self.floor)

    def is_many_times(self, value: float) -> bool:
        """Whether a value is several times the others, which are alike, or a fraction of them."""
        alike = is_within(self.low, self.middle, ALIKE) and is_within(self.high, self.middle, ALIKE)
        return alike and not is_within(value, self.middle, RATIO) and abs(value - self.middle) > self.floor

    def is_twofold(self, value: float) -> bool:
        """Whether a value is half or double the others, which are nearly alike."""
        if not is_within(self.low, self.high, NEARLY_ALIKE) or value * self.middle <= 0:
            return False
        times = max(value / self.middle, self.middle / value)
        return TWOFOLD[0] <= times <= TWOFOLD[1] and abs(value - self.middle) > self.floor

    def likely(self, slips: Iterable[Slip]) -> list[Slip]:
        """The slips that make a value one of the others, the nearest to them first."""
        fitting = [slip for slip in slips if self.holds(slip.value)]
        return sorted(fitting, key=lambda slip: abs(slip.value - self.middle))

    def is_clear_of(self, other: Rest) -> bool:
        """Whether two sets of values cannot be taken for one."""
        return abs(self.middle - other.middle) > CLEAR * max(self.floor, other.floor)

    def holds(self, value: float) -> bool:
        """Whether a value is one of them."""
        return self.low - self.floor / 2 <= value <= self.high + self.floor / 2


@dataclass(frozen=True)
class Set:
    """The possible readings of one characteristic."""

    item: CompiledCharacteristic
    readings: tuple[Reading, ...]
    instruments: Mapping[str, Instrument]
    differs: bool
    fitting: frozenset[frozenset[str]] = frozenset()
    """Pairs of which something is worked out, as play is of a bush and its shaft."""

    def suspicions(self, sets: Iterable[Set]) -> Iterator[_Suspected]:
        """Each suspicious reading, why, and what it may have been."""
        count = len({reading.station for reading in self.readings})
        if self.item.characteristic.series:
            return
        if count > 1 and self.readings[0].for_all:
            if not (self.item.characteristic.with_ or self.item.characteristic.derived):
                return  # a card's value, or what was ordered or looked at, is one by nature
            for reading in self.readings:
                yield reading, "one value given for every station; judged as if each had been measured", ()
        elif count >= FEWEST_ALIKE and self._all_alike():
            for reading in self.readings:
                yield reading, "the same value everywhere: was each one measured?", ()
        elif not self.differs and sorted(self._means.values()) != list(range(1, count + 1)):
            yield from self._odd(sets)

    def _odd(self, sets: Iterable[Set]) -> Iterator[_Suspected]:
        """Only the least or the greatest can lie far from the others; places in an order, 1 to 8, never do."""
        ends = (min(self._means.values()), max(self._means.values()))
        if max(self._middles) - min(self._middles) <= self._floor:
            return
        for key, reading in zip(self._keys, self.readings, strict=True):
            if self._means[key] not in ends:
                continue
            rest = self.rest_of(key)
            if rest is not None and self._is_odd_beside(rest, reading.middle):
                is_gross = self._is_gross(reading, rest)
                few = rest.stations < FEWEST_OTHERS
                slips = rest.likely(slips_of(reading, self.item, few and not is_gross))
                other = "" if slips else self._mistaken_for(reading, rest, sets)
                if slips or other or ((is_gross or not few) and not self._is_matched(key, sets)):
                    near = write_quantity(rest.middle, reading.unit or self._unit)
                    others = "others, near" if rest.stations > 1 else "other,"
                    yield reading, f"far from the {others} {near}; judged as written{other}", slips

    def _is_odd_beside(self, rest: Rest, value: float) -> bool:
        is_twofold = self.item.agrees_within is not None and rest.is_twofold(value)
        return rest.is_far(value) or rest.is_many_times(value) or is_twofold

    def _is_gross(self, reading: Reading, rest: Rest) -> bool:
        """Whether it is told beside few others too, though no slip explains it."""
        if rest.stations > 1 and rest.is_many_times(reading.middle):
            return True
        scatter = max(rest.floor, rest.high - rest.low)
        # Parts made alike have sizes alike; speeds, pressures and the like may be meant to differ.
        is_precise = self._unit.kind == "length" and 0 < reading.last_digit * PRECISE <= abs(reading.middle)
        away = abs(reading.middle - rest.middle)
        return is_precise and away > max(CLEAR * scatter, FEW_SHARE * abs(rest.middle))

    def _mistaken_for(self, reading: Reading, rest: Rest, sets: Iterable[Set]) -> str:
        """Of which other characteristic it may be a value, in words."""
        if reading.last_digit * PRECISE > abs(reading.middle):
            return ""
        for other in sets:
            theirs = other.rest_of(None) if self._may_be_mistaken_for(other) else None
            if theirs is not None and theirs.holds(reading.middle) and theirs.is_clear_of(rest):
                return f": a value of {other.item.characteristic.title}?"
        return ""

    def _is_matched(self, key: int, sets: Iterable[Set]) -> bool:
        """Whether what it fits stands off as far at the same station: then the part is another, and no reading odd."""
        mine = self._off(key)
        mates = (other for other in sets if frozenset((self.item.name, other.item.name)) in self.fitting)
        return any(self._is_as_far(other, key, mine) for other in mates)

    def _is_as_far(self, other: Set, key: int, mine: float) -> bool:
        return key in other._means and abs(mine - other._off(key)) <= self._floor + other._floor

    def _off(self, key: int) -> float:
        rest = self.rest_of(key)
        return self._means[key] - rest.middle if rest else math.inf

    def _may_be_mistaken_for(self, other: Set) -> bool:
        mine, theirs = self.item.characteristic, other.item.characteristic
        return mine.name != theirs.name and mine.per == theirs.per and other._unit.kind == self._unit.kind

    def rest_of(self, key: int | None) -> Rest | None:
        """What all stations but one say; nothing where there is none."""
        values = [mean for other, mean in self._means.items() if other != key]
        if not values:
            return None
        middle, low, high = median(values), min(values), max(values)
        scale = max(NORMAL * median(abs(value - middle) for value in values), (high - low) / 3)
        return Rest(len(values), middle, scale, low, high, self._floor)

    @cached_property
    def _means(self) -> dict[int, float]:
        values: dict[int, list[float]] = defaultdict(list)
        for key, middle in zip(self._keys, self._middles, strict=True):
            values[key].append(middle)
        return {key: several[0] if len(several) == 1 else fmean(several) for key, several in values.items()}

    @cached_property
    def _middles(self) -> tuple[float, ...]:
        return tuple([reading.middle for reading in self.readings])

    @cached_property
    def _keys(self) -> tuple[int, ...]:
        """What tells the readings apart: their stations, or at a single one their places in the list."""
        stations = tuple(reading.station for reading in self.readings)
        return stations if len(set(stations)) > 1 else tuple(range(len(stations)))

    @cached_property
    def _floor(self) -> float:
        digits = median(reading.last_digit for reading in self.readings)
        size = median(self._means.values())
        gauges = {reading.instrument for reading in self.readings if reading.instrument}
        usual = self.item.usual_uncertainty
        doubt = max((self.instruments[gauge].expanded(size) for gauge in gauges), default=usual)
        finest = FINEST_LENGTH if self._unit.kind == "length" else 0.0
        return max(FLOOR_DIGITS * max(digits, finest) if digits else abs(size) / 100, FLOOR_DOUBTS * doubt)

    @property
    def _unit(self) -> Unit:
        if self.item.unit is None:
            raise TypeError(f"{self.item.name} is not a quantity")
        return self.item.unit

    def _all_alike(self) -> bool:
        first = self.readings[0]
        if any((reading.low, reading.high) != (first.low, first.high) for reading in self.readings):
            return False
        fine = FINE_LENGTH if self._unit.kind == "length" else abs(first.middle) * FINE_SHARE
        if self.item.usual_uncertainty:
            # What is no finer than the gauge tells is alike in honest work.
            fine = min(fine, self.item.usual_uncertainty * UNREAD_SHARE)
        if 0 < abs(first.middle) < 9.5 * first.last_digit:
            return False  # of one digit there is little to differ by
        return all(0 < reading.last_digit <= fine * (1 + RELATIVE_TOLERANCE) for reading in self.readings)


def _refused(
    reading: Reading, characteristics: Mapping[str, CompiledCharacteristic], sets: Mapping[str, Set]
) -> Reading:
    item = characteristics[reading.characteristic]
    unit = reading.unit or item.unit
    rest = sets[item.name].rest_of(reading.station) if item.name in sets else None
    possible = [slip for slip in slips_of(reading, item, few=rest is None) if lies_within(slip.value, item)]
    guesses = [*map(str, rest.likely(possible)[:1])] if rest else _in_words(possible, unit)
    likely = f": {' or '.join(guesses)}?" if guesses else ""
    ends = " to ".join(write_quantity(end, unit) for end in (item.low, item.high)) if unit else ""
    reaches = "reaches " if reading.high >= item.low and reading.low <= item.high else ""
    return reading._replace(is_possible=False, set_aside=f"{reaches}outside what is possible, {ends}{likely}")


def _in_words(possible: Sequence[Slip], written: Unit | None) -> list[str]:
    """The likeliest slip; where that is another unit than the one written, also the likeliest within that one."""
    first = possible[:1]
    others = [slip for slip in possible if slip.unit == written != first[0].unit][:1]
    return [str(slip) for slip in (*first, *others)]


def is_within(value: float, other: float, ratio: float) -> bool:
    """Whether two values of one sign are alike within a ratio."""
    return value == other or (value * other > 0 and 1 / ratio <= value / other <= ratio)
