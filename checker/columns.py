"""From readings to columns: one record becomes a table of one row, with the doubt about each value."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from itertools import pairwise
from statistics import fmean, stdev

import numpy as np

from checker.compiled import CompiledCharacteristic
from checker.entry import Reading
from checker.instruments import NO_INSTRUMENT, Instrument
from checker.layout import Layout
from checker.names import Column
from checker.truth import FALSE, TRUE, Array


def _spread(values: Sequence[float]) -> float:
    """How far apart readings are; one by itself says nothing of that."""
    return max(values) - min(values) if len(values) > 1 else math.nan


def _is_permutation(values: Sequence[float]) -> float:
    return TRUE if sorted(values) == list(range(1, len(values) + 1)) else FALSE


def _rises(values: Sequence[float]) -> float:
    if len(values) < 2:
        return math.nan
    return TRUE if all(sooner < later for sooner, later in pairwise(values)) else FALSE


VIEWS: Mapping[str, Callable[[Sequence[float]], float]] = {
    "least_reading": min,
    "greatest_reading": max,
    "spread_of_readings": _spread,
    "count_of_readings": len,
    "is_permutation": _is_permutation,
    "rises": _rises,
}
"""What is made of the readings at one station besides their mean."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """One characteristic of one record; every array has the shape (1, stations).

    `own` is the standard uncertainty of each value by itself, `shared` that which one instrument gives to all its
    values alike, `low` and `high` how far the value may lie below and above at the most.
    """

    value: Array
    views: Mapping[str, Array]
    own: Array
    low: Array
    high: Array
    shared: Mapping[str, Array] = field(default_factory=dict)


class Reach(Enum):
    """How many stations a source of doubt moves at once."""

    ONE = "a single station, for rules that compare stations"
    EACH = "every station by itself, for rules that look at one station at a time"
    ALL = "whatever one instrument has measured, all alike"


@dataclass(frozen=True, slots=True)
class Source:
    """One independent cause of doubt: how far it moves which columns up, and how far down.

    A hard source may move a value to anywhere between; otherwise the moves are one standard uncertainty. A spread of
    readings, being the difference of two, moves by another multiple.
    """

    reach: Reach
    up: Mapping[str, Array]
    down: Mapping[str, Array]
    is_hard: bool = False
    of_spreads: float = math.sqrt(2)


@dataclass(frozen=True, slots=True)
class Columns:
    """The values of one record by characteristic."""

    gathered: Mapping[str, Gathered]

    @property
    def measured(self) -> dict[str, Array]:
        return {name: item.value for name, item in self.gathered.items()}

    @property
    def views(self) -> dict[Column, Array]:
        return {
            Column(name, view): values for name, item in self.gathered.items() for view, values in item.views.items()
        }

    def sources(self) -> Iterator[Source]:
        """The causes of doubt about all values."""
        together: dict[str, dict[str, Array]] = defaultdict(dict)
        for name, item in self.gathered.items():
            if item.own.any() or item.low.any() or item.high.any():
                for reach, mask in _masks(item.value.shape):
                    yield from _own_sources(name, item, reach, mask)
            for instrument, moves in item.shared.items():
                together[instrument][name] = moves
        for moved in together.values():
            yield Source(Reach.ALL, moved, {name: -moves for name, moves in moved.items()}, of_spreads=0.0)


def _own_sources(name: str, item: Gathered, reach: Reach, mask: Array) -> Iterator[Source]:
    own = item.own * mask
    if own.any():
        yield Source(reach, {name: own}, {name: -own})
    low, high = np.where(mask, item.low, 0.0), np.where(mask, item.high, 0.0)
    if low.any() or high.any():
        yield Source(reach, {name: high}, {name: low}, is_hard=True, of_spreads=2.0)


def _masks(shape: tuple[int, ...]) -> Iterator[tuple[Reach, Array]]:
    yield Reach.EACH, np.ones(shape)
    for station in np.eye(shape[1]):
        yield Reach.ONE, station[np.newaxis]


def columns_of(
    readings: Iterable[Reading],
    characteristics: Mapping[str, CompiledCharacteristic],
    layout: Layout,
    instruments: Mapping[str, Instrument],
) -> Columns:
    """Gather readings into columns: several at one station give their mean and their scatter."""
    by_place: dict[str, dict[int, list[Reading]]] = defaultdict(lambda: defaultdict(list))
    for reading in readings:
        by_place[reading.characteristic][reading.station].append(reading)
    return Columns(
        {
            name: _gather(stations, layout.count(characteristics[name].characteristic.per), instruments)
            for name, stations in by_place.items()
        }
    )


def _gather(stations: Mapping[int, Sequence[Reading]], count: int, instruments: Mapping[str, Instrument]) -> Gathered:
    value, own, low, high = (np.full((1, count), blank) for blank in (np.nan, 0.0, 0.0, 0.0))
    views = {view: np.full((1, count), np.nan) for view in VIEWS}
    shared: dict[str, Array] = {}
    for station, found in stations.items():
        middles = [reading.middle for reading in found]
        mean = fmean(middles)
        value[0, station] = mean
        for view, calculate in VIEWS.items():
            views[view][0, station] = calculate(middles)
        low[0, station] = min(reading.low - reading.middle for reading in found)
        high[0, station] = max(reading.high - reading.middle for reading in found)
        instrument = instruments.get(found[0].instrument or "", NO_INSTRUMENT)
        own[0, station] = math.hypot(instrument.own.at(mean), _scatter_of_mean(middles, instrument))
        if instrument.shared.at(mean):
            shared.setdefault(instrument.name, np.zeros((1, count)))[0, station] = instrument.shared.at(mean)
    return Gathered(value, views, own, low, high, shared)


def _scatter_of_mean(values: Sequence[float], instrument: Instrument) -> float:
    """Type A standard uncertainty of a mean (JCGM 100:2008, 4.2.3), where the instrument's doubt is stated."""
    if len(values) < 2 or not instrument.name:
        return 0.0
    return stdev(values) / math.sqrt(len(values))
