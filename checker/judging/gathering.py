"""From readings to columns: gathered by characteristic, with the doubt about each value."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from statistics import fmean, stdev

import numpy as np

from checker.expressions.names import VALUE
from checker.expressions.truth import Array
from checker.judging.columns import GREATEST, LEAST, SPREAD, Calculations, Columns, Gathered, Move, spread
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading
from checker.records.instruments import COVERAGE, NOTHING, Instrument
from checker.records.layout import Layout


def columns_of(
    readings: Iterable[Reading],
    characteristics: Mapping[str, CompiledCharacteristic],
    layout: Layout,
    instruments: Mapping[str, Instrument],
) -> Columns:
    """Gather readings into columns: several at one station give their mean and their scatter.

    Stale readings are left out. One that is not possible stands alone at its station, where the range of what is
    possible refuses it: neither the readings beside it nor what could be computed take its place.
    """
    by_place: dict[str, dict[int, list[Reading]]] = defaultdict(lambda: defaultdict(list))
    for reading in readings:
        if not reading.set_aside or not reading.is_possible:
            by_place[reading.characteristic][reading.station].append(reading)
    return Columns(
        {
            name: _gathered(
                characteristics[name],
                stations,
                layout.count(characteristics[name].characteristic.per),
                instruments,
            )
            for name, stations in by_place.items()
        }
    )


_NOTHING = np.zeros((1, 0))


def _gathered(
    item: CompiledCharacteristic,
    stations: Mapping[int, Sequence[Reading]],
    count: int,
    instruments: Mapping[str, Instrument],
) -> Gathered:
    def noughts() -> Array:
        return np.zeros((1, count))

    # Single values are set many times as fast in lists as in arrays.
    values, own, unstated = [math.nan] * count, [0.0] * count, [0.0] * count
    made = Gathered(
        value=_NOTHING,
        middles={},
        own=_NOTHING,
        scatter=noughts(),
        shared=defaultdict(noughts),
        least=defaultdict(noughts),
        most=defaultdict(noughts),
        unstated=_NOTHING,
        vague=set(),
    )
    is_share = item.unit is not None and item.unit.name == "%"
    for station, found in stations.items():
        if refused := [reading.middle for reading in found if not reading.is_possible]:
            values[station] = refused[0]
            continue
        middles = made.middles[station] = [reading.middle for reading in found]
        mean = values[station] = middles[0] if len(middles) == 1 else fmean(middles)
        if item.unit is not None:
            unstated[station] = float(any(reading.uncertainty_is_unstated for reading in found))
            gauges = [gauge for reading in found if (gauge := instruments.get(reading.instrument or ""))]
            # A percentage of a percentage is in points: the larger of the two meanings.
            own[station] = _doubt(made, station, found, gauges, 1.0 if is_share else mean)
            if len(found) > 1 or found[0].low != found[0].high:
                _scatter(made, station, item, found, middles, gauges)
    return made._replace(
        value=np.array([values]),
        own=np.array([own]),
        unstated=np.array([unstated]),
        warmth=tuple(_warmth(stations, count)),
        gaps=frozenset(_beside_gaps(stations) if item.characteristic.series else ()),
    )


def _beside_gaps(stations: Mapping[int, Sequence[Reading]]) -> Iterator[int]:
    """The stations at which one of a series is lacking."""
    return (at for at, found in stations.items() if any(reading.beside_a_gap for reading in found))


_OF_ONE_OR_MORE: Calculations = {VALUE: fmean, LEAST: min, GREATEST: max}
_GROWING: Calculations = {**_OF_ONE_OR_MORE, SPREAD: lambda sizes: max(sizes) - min(sizes)}


def _warmth(stations: Mapping[int, Sequence[Reading]], count: int) -> Iterator[Move]:
    """What each growth that is not known may have done: one material grows alike, so that all readings move together.

    Those that are not equally warm do so in proportion, which holds to a millionth of a metal part. Of a reading known
    from its ends the middle moves so; what the rest of it may grow is its own, see _ends.
    """
    possible = {station: found for station, found in stations.items() if all(one.is_possible for one in found)}
    if not any(reading.warmth and reading.warmth.counts for found in possible.values() for reading in found):
        return
    moves: dict[str, Move] = {}
    for station, found in possible.items():
        sizes = [reading.middle for reading in found]
        for of, least, most in found[0].warmth.shares if found[0].warmth else ():  # those of a station are taken alike
            up, down = ({view: np.zeros((1, count)) for view in _GROWING} for _ in range(2))
            move = moves.setdefault(of, Move(up, down, is_hard=True, of=of))
            for view, calculate in _GROWING.items():
                size = calculate(sizes)
                move.up[view][0, station], move.down[view][0, station] = most * size, least * size
    yield from moves.values()


def _doubt(
    made: Gathered, station: int, readings: Sequence[Reading], gauges: Sequence[Instrument], size: float
) -> float:
    """What the instruments leave open: of several the poorest, and of what is alike in all readings each its part.

    A share is taken of the `size`, and of a reading known from its ends of the furthest that it may be.
    """
    for gauge in gauges:
        if gauge.shared != NOTHING:
            made.shared[gauge.name][0, station] += COVERAGE * gauge.shared.move(size) / len(readings)
    ends = [abs(end) for reading in readings if reading.low != reading.high for end in (reading.low, reading.high)]
    furthest = max([abs(size), *filter(math.isfinite, ends)])
    return COVERAGE * max([gauge.own.at(furthest) for gauge in gauges]) if gauges else 0.0


def _scatter(
    made: Gathered,
    station: int,
    item: CompiledCharacteristic,
    readings: Sequence[Reading],
    middles: Sequence[float],
    gauges: Sequence[Instrument],
) -> None:
    """What the readings themselves leave open: how they scatter, and from where to where each of them reaches."""
    if len(readings) > 1 and not item.characteristic.series:
        # Type A (JCGM 100:2008, 4.2.3); the instrument's own part is not divided by the number of readings.
        made.scatter[0, station] = COVERAGE * stdev(middles) / math.sqrt(len(readings))
    if any(reading.low != reading.high for reading in readings):
        made.vague.add(station)
        for view, down, up in _ends(item, readings, middles, _alike(readings[0], gauges)):
            made.least[view][0, station], made.most[view][0, station] = down, up


def _ends(
    item: CompiledCharacteristic, readings: Sequence[Reading], middles: Sequence[float], alike: float
) -> Iterator[tuple[str, float, float]]:
    """How far each view may move down and up; an open end reaches as far as is possible at all.

    By a share `alike` readings are off together, as far as their middles are; the rest of each is off by as much more.
    """
    lows = [min(item.low, reading.high) if math.isinf(reading.low) else reading.low for reading in readings]
    highs = [max(item.high, reading.low) if math.isinf(reading.high) else reading.high for reading in readings]
    if alike > 0:
        rest = [
            alike * max(high - middle, middle - low) for low, middle, high in zip(lows, middles, highs, strict=True)
        ]
        lows = [low - more for low, more in zip(lows, rest, strict=True)]
        highs = [high + more for high, more in zip(highs, rest, strict=True)]
    for view, calculate in _OF_ONE_OR_MORE.items():
        yield view, calculate(lows) - calculate(middles), calculate(highs) - calculate(middles)
    if len(readings) > 1:
        apart = spread(middles)
        yield SPREAD, max(0.0, max(lows) - min(highs)) - apart, max(highs) - min(lows) - apart


def _alike(reading: Reading, gauges: Sequence[Instrument]) -> float:
    """By which share of themselves readings may be off together at the most, for their warmth and for their gauges."""
    shares = reading.warmth.shares if reading.warmth and reading.warmth.counts else ()
    grown = sum(max(abs(least), abs(most)) for _, least, most in shares)
    return grown + COVERAGE * max([gauge.shared.share for gauge in gauges], default=0.0)
