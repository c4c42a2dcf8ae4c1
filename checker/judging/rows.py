"""Judging many rows of many rules, in doubt or not.

Most verdicts are told by comparing with two numbers; of the others, those of all rules side by side, it is asked what
all is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import reduce
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import FALSE, TRUE, Array, Truths
from checker.judging.block import Block
from checker.judging.conformity import Decision, Doubt, Reach, no_doubt
from checker.judging.judge import Codes, Judged, Seen, Verdict, judge_together, judged_of, verdicts
from checker.judging.measures import Bounds, Measures, bounds, spread
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import ABSENT, INWARD
from checker.records.part_sheet import PartLimit

Places = npt.NDArray[np.intp]

_NOWHERE, _NO_VALUE, _NO_EDGES = np.zeros(0, dtype=np.intp), np.zeros((1, 0)), np.zeros((1 + len(ABSENT), 0))
_MOST = np.finfo(np.float64).max


class Zone(NamedTuple):
    """The zone in which a value keeps every limit there is, and where none is asked of it; a row each, or one for all.

    No value is between ends of which one is missing: what is said there is not told by comparing.
    """

    least: Array | float
    greatest: Array | float
    idle: Truths | None


class Doubtful(NamedTuple):
    """Between what the doubt about a rule lies in all rows, and what there is to know about some of them alone."""

    reach: Reach
    about: Callable[[Places], tuple[Measures, Doubt]]


class Ruled(NamedTuple):
    """A rule with what it sees, and between which ends its limits are kept whatever is in doubt.

    `alike` is where it applies and its edges at each station, as far as these are alike in all rows.
    """

    rule: CompiledRule
    bounds: Bounds
    zone: Zone
    alike: Array
    doubtful: Doubtful | None = None

    @classmethod
    def of(cls, rule: CompiledRule, block: Block, chain: tuple[str, ...], part: PartLimit | None = None) -> Ruled:
        """A rule with what it sees of a block."""
        seen = bounds(rule, block, chain, part)
        alike = np.empty((1 + len(seen.edges), block.layout.count(rule.stations)))
        for own, array in zip(alike, (seen.applies, *seen.edges), strict=True):
            own[...] = array[0] if isinstance(array, np.ndarray) else array
        return cls(rule, seen, _zone(seen), alike)

    def seeing(self, block: Block) -> Ruled:
        """What it sees of records that have nothing to do with its limits, or with where it applies."""
        _, edges, applies, asks_must = self.bounds
        bounds = Bounds(block.calculated(self.rule.judges), edges, applies, asks_must)
        return Ruled(self.rule, bounds, self.zone, self.alike)  # several times as fast as to replace

    def doubted(self, doubtful: Doubtful) -> Ruled:
        """The same in doubt: what is further inside its limits than the guard band may be wide keeps them."""
        band = doubtful.reach.band
        if len(band) > 1:
            return self._replace(zone=_zone(self.bounds, band), doubtful=doubtful)
        least, greatest, _ = self.zone
        own = _alike(band[0])
        return self._replace(zone=self.zone._replace(least=least + own, greatest=greatest - own), doubtful=doubtful)

    def seen(self) -> Seen:
        """The same laid out by position."""
        return Seen(self.rule, self.bounds.measures(self.alike.shape[1]), None)


class Compared(NamedTuple):
    """What comparing tells of so many rows of several rules, all stations of a rule below those of the one before.

    Where a rule is `idle` it does not apply, and what is `doubtful` about it is known of all rows. At the `places`,
    counted a station after the other, it is not told what rules say of what they have `seen` there; those of a rule
    begin where `starts` says. Elsewhere all is within.
    """

    rules: tuple[CompiledRule, ...]
    bounds: tuple[int, ...]
    idle: tuple[Truths | None, ...]
    doubtful: tuple[Doubtful | None, ...]
    rows: int
    places: Places
    starts: tuple[int, ...]
    seen: Measures
    asks_must: Truths

    def verdicts(self, decision: Decision) -> tuple[Codes, Truths]:
        """The verdicts at the places that comparing does not tell, and where a must is not shown to hold.

        Where something is in doubt they are told if the least and the most doubt there may be come to the same.
        """
        least, *most = (
            tuple(found[0] for found in verdicts(self.seen, self.asks_must, decision, doubt))
            for doubt in self._doubts()
        )
        codes, must_open = least
        for other_codes, other_open in most:
            is_left = (codes != other_codes) | (must_open != other_open)
            for doubtful, bound, (start, end) in zip(self.doubtful, self.bounds, pairwise(self.starts), strict=False):
                left = is_left[start:end].nonzero()[0] + start
                if doubtful is not None and left.size:
                    stations, at = np.divmod(self.places[left] - bound * self.rows, self.rows)
                    rows, own = np.unique(at, return_inverse=True)
                    measures, doubt = doubtful.about(rows)
                    each = verdicts(measures, measures.asks_must, decision, doubt)
                    codes[left], must_open[left] = (found[own, stations] for found in each)
        return codes, must_open

    def _doubts(self) -> Iterator[Doubt | None]:
        """The least and the most doubt there may be at each place; one where they are the same."""
        if not any(self.doubtful):
            yield None
            return
        ends = np.zeros((2, len(ABSENT), 1, self.bounds[-1]))
        for one, (start, end) in zip(self.doubtful, pairwise(self.bounds), strict=True):
            if one is not None:
                ends[..., start:end] = one.reach.least, one.reach.most
        stations = self.places // max(self.rows, 1)
        for standard in ends if (ends[0] < ends[1]).any() else ends[1:]:
            yield no_doubt(len(ABSENT), 1)._replace(standard=standard[..., stations])


def compared(asked: Iterable[Ruled], rows: int) -> Compared:
    """Compare what rules see, the one after the other: of what each has seen no more is kept than is not told."""
    every = list[Ruled]()
    places, values, by_row = list[Places](), list[Array](), list[tuple[int, int, Array]]()
    for number, one in enumerate(asked):
        (value, edges, applies, _), zone = one.bounds, one.zone
        # All arrays of many rows have a station after the other.
        value = spread(value, (rows, one.alike.shape[1]))
        holds = value >= zone.least
        holds &= value <= zone.greatest
        if zone.idle is not None:
            holds |= zone.idle
        here = (~holds.ravel("F")).nonzero()[0]
        places.append(here)
        values.append(value.ravel("F").take(here))
        for at, array in enumerate((applies, *edges)):
            if isinstance(array, np.ndarray) and len(array) > 1:
                by_row.append((number, at, _at(array, here)))
        every.append(one._replace(bounds=one.bounds._replace(value=_NO_VALUE)))
    starts = list(accumulate(map(len, places), initial=0))
    bounds = list(accumulate((one.alike.shape[1] for one in every), initial=0))
    where = np.concatenate([_NOWHERE, *(own + bound * rows for own, bound in zip(places, bounds, strict=False))])
    stations = where // max(rows, 1)
    seen = np.concatenate([_NO_EDGES, *(one.alike for one in every)], axis=1).take(stations, axis=1)
    for number, at, own in by_row:
        seen[at, starts[number] : starts[number + 1]] = own
    asks_must = np.repeat(np.array([one.bounds.asks_must for one in every], dtype=np.bool_), np.diff(starts))
    measures = Measures(np.concatenate([_NO_VALUE[0], *values])[np.newaxis], seen[1:, np.newaxis], seen[:1])
    rules, idle = tuple(one.rule for one in every), tuple(one.zone.idle for one in every)
    doubtful = tuple(one.doubtful for one in every)
    return Compared(rules, tuple(bounds), idle, doubtful, rows, where, tuple(starts), measures, asks_must)


def _at(array: Array, places: Places) -> Array:
    """What stands at some places of many rows, counted a station after the other."""
    return array.ravel("F").take(places) if array.shape[1] > 1 else array[:, 0].take(places % len(array))


def judge_rows(asked: Iterable[Ruled], rows: int, decision: Decision) -> Iterator[Judged]:
    """The verdicts of rules on so many rows, with all that each of them sees; where it sees the same in all, on one."""
    alike, differing = list[Ruled](), list[Ruled]()
    for one in asked:
        (alike if one.bounds.rows == 1 and one.doubtful is None else differing).append(one)
    yield from judge_together([one.seen() for one in alike], decision)
    found = compared(differing, rows)
    codes = np.full((found.bounds[-1], rows), np.int8(Verdict.WITHIN))
    must_open = np.zeros(codes.shape, dtype=np.bool_)
    places = list(pairwise(found.bounds))
    for is_idle, (start, end) in zip(found.idle, places, strict=True):
        if is_idle is not None:
            codes[start:end][np.broadcast_to(is_idle.T, (end - start, rows))] = Verdict.NOT_APPLICABLE
    codes.ravel()[found.places], must_open.ravel()[found.places] = found.verdicts(decision)
    for one, (start, end) in zip(differing, places, strict=True):
        seen = one.seen()
        if one.bounds.rows < rows:
            seen = seen._replace(measures=seen.measures.of_rows(rows))
        yield judged_of(seen, codes[start:end].T, must_open[start:end].T)


def _zone(bounds: Bounds, band: Array | None = None) -> Zone:
    """Between which ends all limits are kept, further inside than a guard band; what equals one of them lies beyond."""
    there = [edge != absent for edge, absent in zip(bounds.edges, ABSENT, strict=True)]
    edges = bounds.edges
    if band is not None:
        with np.errstate(invalid="ignore"):
            edges = [edge + own * inward for edge, own, inward in zip(edges, band, INWARD, strict=True)]
    low, high = (
        reduce(stricter, (edges[at] for at in own if there[at] is not False))
        if any(there[at] is not False for at in own)
        else beyond
        for own, stricter, beyond in (((0, 1), np.maximum, -_MOST), ((2, 3), np.minimum, _MOST))
    )
    is_limited = reduce(np.logical_or, there)
    if not np.all(is_limited):
        low = np.where(np.atleast_2d(is_limited), low, np.nan)
    if not all(map(np.all, (each for each in there if each is not False))):
        low, high = np.maximum(low, -_MOST), np.minimum(high, _MOST)
    applies = bounds.applies
    if applies.size == 1 and applies[0, 0] == TRUE:
        return Zone(_alike(low), _alike(high), None)
    idle = applies == FALSE
    low = np.where(applies == TRUE, low, np.nan)
    return Zone(_alike(low), _alike(high), idle if idle.any() else None)


def _alike(ends: Array | float) -> Array | float:
    """A number in place of ends that are alike at all stations, which is compared many times as fast."""
    if not isinstance(ends, np.ndarray) or len(ends) > 1:
        return ends
    first = ends.flat[0]
    return float(first) if (ends == first).all() else ends
