"""What was seen of the values that rules judged, over many assemblies: gathered piece by piece in little memory."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from checker.expressions.truth import Array, Truths
from checker.fleet.judging import Told
from checker.judging.judge import Verdict

SAMPLE = 1000
"""Of so many assemblies, evenly spaced, the values themselves are kept, to be drawn and tested."""
BANDS = ("must", "should")
_UNJUDGED = (Verdict.NOT_MEASURED, Verdict.NOT_COVERED)


class Moments(NamedTuple):
    """Number, means, and sums of squares and products about the means, of values and of when they came.

    Put together as Chan, Golub and LeVeque do (Algorithms for computing the sample variance, 1983), which loses no
    digits where the spread is small beside the values.
    """

    n: int = 0
    when: float = 0.0
    mean: float = 0.0
    of_when: float = 0.0
    of_values: float = 0.0
    of_both: float = 0.0

    def plus(self, other: Moments) -> Moments:
        """Those of all values together."""
        n = self.n + other.n
        if not self.n or not other.n:
            return self if self.n else other
        later, more = other.when - self.when, other.mean - self.mean
        share = self.n * other.n / n
        return Moments(
            n,
            self.when + later * other.n / n,
            self.mean + more * other.n / n,
            self.of_when + other.of_when + later * later * share,
            self.of_values + other.of_values + more * more * share,
            self.of_both + other.of_both + later * more * share,
        )

    @property
    def deviation(self) -> float:
        """The standard deviation of a sample."""
        return float(np.sqrt(self.of_values / (self.n - 1))) if self.n > 1 else 0.0


def moments_of(when: Array, values: Array) -> Moments:
    """Of some values that came at these times."""
    if not values.size:
        return Moments()
    mean, middle = float(values.mean()), float(when.mean())
    apart, earlier = values - mean, when - middle
    # What the rounding of the mean leaves over is taken off, as in the corrected two-pass algorithm of the same paper.
    left = float(apart.sum())
    of_values = float(apart @ apart) - left * left / values.size
    mean += left / values.size
    return Moments(values.size, middle, mean, float(earlier @ earlier), of_values, float(earlier @ apart))


class Values(NamedTuple):
    """Values with when they came and their limits, infinite where there is none on that side."""

    when: Array
    value: Array
    low: Array
    high: Array

    def joined(self, other: Values) -> Values:
        """These and others."""
        return Values(*(np.concatenate(pair) for pair in zip(self, other, strict=True)))

    @property
    def place(self) -> Array:
        """Where each lies on its band: 0 at the lower limit, 1 at the upper; with one limit, how far above it."""
        with np.errstate(invalid="ignore"):
            both = (self.value - self.low) / (self.high - self.low)
        limit = np.where(np.isfinite(self.low), self.low, np.where(np.isfinite(self.high), self.high, 0.0))
        return np.where(np.isfinite(self.low) & np.isfinite(self.high), both, self.value - limit)


class Seen(NamedTuple):
    """What was seen of a rule at one station, or at all: its values, and where they lie on their bands."""

    values: Moments
    places: Moments
    outside: int
    undecided: int
    unjudged: int
    """Values that were measured and not judged: something else is not known."""
    kinds: frozenset[tuple[str, bool, bool]]
    """Which limits counted: must or should, and whether there was a lower and an upper one."""
    low: tuple[float, float]
    high: tuple[float, float]
    """The least and the greatest of the limits."""
    sample: Values
    lacking: int = 0
    """Places without a value that counts: nothing was measured, or what was written is not possible."""

    def plus(self, other: Seen) -> Seen:
        """What was seen of both."""
        return Seen(
            self.values.plus(other.values),
            self.places.plus(other.places),
            self.outside + other.outside,
            self.undecided + other.undecided,
            self.unjudged + other.unjudged,
            self.kinds | other.kinds,
            (min(self.low[0], other.low[0]), max(self.low[1], other.low[1])),
            (min(self.high[0], other.high[0]), max(self.high[1], other.high[1])),
            self.sample.joined(other.sample),
            self.lacking + other.lacking,
        )


class OfRule(NamedTuple):
    """What was seen of a rule: by station from 1, 0 for the assembly; and the mean of each assembly over the order."""

    title: str
    unit: str
    stations: dict[int, Seen]
    assemblies: Moments

    @property
    def has_values(self) -> bool:
        """Whether a value that counts was seen anywhere."""
        return any(seen.values.n for seen in self.stations.values())

    def plus(self, other: OfRule) -> OfRule:
        """What was seen of both."""
        both = dict(self.stations)
        for station, seen in other.stations.items():
            both[station] = both[station].plus(seen) if station in both else seen
        return self._replace(stations=dict(sorted(both.items())), assemblies=self.assemblies.plus(other.assemblies))


def seen_in(told: Told, before: int, stride: int) -> Iterator[tuple[str, OfRule]]:
    """What was seen of each rule in some findings, whose rows come after so many; every so many are a sample."""
    table = told.findings
    values = _column(table, "value")
    known = np.isfinite(values)
    rules, names = _coded(table, "rule")
    verdicts, words = _coded(table, "verdict")
    is_lacking = ~known & np.isin(verdicts, [words.index(w) for w in words if w == str(Verdict.NOT_MEASURED)])
    stations = table["station"].fill_null(0).to_numpy()
    for code in np.unique(rules[known | is_lacking]).tolist():
        is_own = rules == code
        at = np.flatnonzero(known & is_own)
        line = table.take(np.flatnonzero(is_own)[:1]).to_pylist()[0]
        counts = zip(*np.unique(stations[is_lacking & is_own], return_counts=True), strict=True)
        lacking = {int(station): int(count) for station, count in counts}
        seen = _of_rule(table.take(at), values[at], before, stride, line["title"], line["unit"], lacking)
        yield names[code], seen


def _of_rule(
    table: Any, values: Array, before: int, stride: int, title: str, unit: str, lacking: Mapping[int, int]
) -> OfRule:
    when = table["row"].to_numpy().astype(np.float64) + before
    stations = table["station"].fill_null(0).to_numpy()
    verdicts, words = _coded(table, "verdict")
    limits = {band: [_column(table, f"{band}_{side}") for side in ("low", "high")] for band in BANDS}
    is_must: Truths = np.isfinite(limits["must"][0]) | np.isfinite(limits["must"][1])
    low, high = (np.where(is_must, *(limits[band][side] for band in BANDS)) for side in (0, 1))
    all_values = Values(when, values, np.where(np.isnan(low), -np.inf, low), np.where(np.isnan(high), np.inf, high))
    assemblies, back = np.unique(when, return_inverse=True)
    _, window = np.unique(assemblies // stride, return_index=True)
    is_sample = np.isin(when, assemblies[window])
    is_outside, is_advisory, is_undecided, is_unjudged = (
        np.isin(verdicts, [words.index(word) for word in map(str, some) if word in words])
        for some in ((Verdict.OUTSIDE,), (Verdict.ADVISORY,), (Verdict.UNDECIDED,), _UNJUDGED)
    )
    is_outside |= is_advisory & ~is_must  # beyond what is recommended, where nothing is required
    by_station = {}
    for station in sorted({*np.unique(stations).tolist(), *lacking}):
        here = stations == station
        is_judged = here & ~is_unjudged
        own = Values(*(column[is_judged] for column in all_values))
        kinds = set(zip(is_must[is_judged].tolist(), *(np.isfinite(side).tolist() for side in own[2:]), strict=True))
        by_station[station] = Seen(
            moments_of(when[here], values[here]),
            moments_of(own.when, own.place),
            int((here & is_outside).sum()),
            int((here & is_undecided).sum()),
            int((here & is_unjudged).sum()),
            frozenset((BANDS[not must], is_low, is_high) for must, is_low, is_high in kinds),
            (float(own.low.min(initial=np.inf)), float(own.low.max(initial=-np.inf))),
            (float(own.high.min(initial=np.inf)), float(own.high.max(initial=-np.inf))),
            Values(*(column[is_judged & is_sample] for column in all_values)),
            lacking.get(station, 0),
        )
    means = np.bincount(back, values) / np.bincount(back)
    return OfRule(title, unit, by_station, moments_of(assemblies, means))


def _column(table: Any, name: str) -> Array:
    """A column of numbers, what is missing NaN."""
    return np.asarray(table[name].to_numpy(), dtype=np.float64)


def _coded(table: Any, name: str) -> tuple[Any, Sequence[str]]:
    """A column of words as their numbers, and the words."""
    column = table[name].combine_chunks()
    return column.indices.to_numpy(), column.dictionary.to_pylist()
