"""Judging many rows of many rules of which nothing is in doubt.

Most verdicts are told by comparing with two numbers; of the others, those of all rules side by side, it is asked what
all is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import reduce
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import FALSE, TRUE, Array, Truths
from checker.judging.block import Block
from checker.judging.conformity import Decision, Doubt, Reach
from checker.judging.judge import Codes, Judged, Seen, Verdict, judge_together, judged_of, verdicts
from checker.judging.measures import Bounds, Measures, bounds_for, spread
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import ABSENT

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


class Ruled(NamedTuple):
    """A rule with what it sees, and between which ends its limits are kept.

    `alike` is where it applies and its edges at each station, as far as these are alike in all rows.
    """

    rule: CompiledRule
    bounds: Bounds
    zone: Zone
    alike: Array

    @classmethod
    def of(cls, rule: CompiledRule, block: Block, chain: tuple[str, ...]) -> Ruled:
        """A rule with what it sees of a block."""
        bounds, stations = bounds_for(rule, block, chain), block.layout.count(rule.stations)
        alike = np.empty((1 + len(bounds.edges), stations))
        for own, array in zip(alike, (bounds.applies, *bounds.edges), strict=True):
            own[...] = array[0] if isinstance(array, np.ndarray) else array
        return cls(rule, bounds, _zone(bounds), alike)

    def seeing(self, block: Block) -> Ruled:
        """What it sees of records that have nothing to do with its limits, or with where it applies."""
        return self._replace(bounds=self.bounds._replace(value=block.calculated(self.rule.judges)))

    def seen(self) -> Seen:
        """The same laid out by position."""
        return Seen(self.rule, self.bounds.measures(self.alike.shape[1]), None)


class Compared(NamedTuple):
    """What comparing tells of so many rows of several rules, all stations of a rule below those of the one before.

    Where a rule is `idle` it does not apply. At the `places`, counted a station after the other, it is not told what
    rules say of what they have `seen` there; those of a rule begin where `starts` says. Elsewhere all is within.
    """

    rules: tuple[CompiledRule, ...]
    bounds: tuple[int, ...]
    idle: tuple[Truths | None, ...]
    places: Places
    starts: tuple[int, ...]
    seen: Measures
    asks_must: Truths

    def verdicts(self, decision: Decision) -> tuple[Codes, Truths]:
        """The verdicts at the places that comparing does not tell, and where a must is not shown to hold."""
        codes, must_open = verdicts(self.seen, self.asks_must, decision, None)
        return codes[0], must_open[0]


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
    return Compared(rules, tuple(bounds), idle, where, tuple(starts), measures, asks_must)


def _at(array: Array, places: Places) -> Array:
    """What stands at some places of many rows, counted a station after the other."""
    return array.ravel("F").take(places) if array.shape[1] > 1 else array[:, 0].take(places % len(array))


def judge_rows(asked: Sequence[Ruled], decision: Decision) -> Iterator[Judged]:
    """The verdicts of rules on many rows, with all that each of them sees; where it sees the same in all, on one."""
    by_rows: dict[int, list[Ruled]] = {}
    for one in asked:
        by_rows.setdefault(one.bounds.rows, []).append(one)
    yield from judge_together([one.seen() for one in by_rows.pop(1, ())], decision)
    for rows, some in by_rows.items():
        found = compared(some, rows)
        codes = np.full((found.bounds[-1], rows), np.int8(Verdict.WITHIN))
        must_open = np.zeros(codes.shape, dtype=np.bool_)
        places = list(pairwise(found.bounds))
        for is_idle, (start, end) in zip(found.idle, places, strict=True):
            if is_idle is not None:
                codes[start:end][np.broadcast_to(is_idle.T, (end - start, rows))] = Verdict.NOT_APPLICABLE
        codes.ravel()[found.places], must_open.ravel()[found.places] = found.verdicts(decision)
        for one, (start, end) in zip(some, places, strict=True):
            yield judged_of(one.seen(), codes[start:end].T, must_open[start:end].T)


def judge_within(
    ruled: Ruled, decision: Decision, reach: Reach, about: Callable[[Places], tuple[Measures, Doubt]]
) -> Judged:
    """The verdicts of a rule on many rows whose doubt is known within bounds.

    What is further inside its limits than the guard band may be wide is within. All else is told if the least and the
    most doubt there may be come to the same. It is asked what there is to know `about` each row that is left.
    """
    seen = ruled.seen()
    measures, zone, band = seen.measures, ruled.zone, reach.band(decision)
    with np.errstate(invalid="ignore"):
        edges = [edge - side * own for edge, side, own in zip(measures.limits, (-1, -1, 1, 1), band, strict=True)]
    holds = measures.value >= reduce(np.maximum, edges[:2], zone.least)
    holds &= measures.value <= reduce(np.minimum, edges[2:], zone.greatest)
    codes: Codes = np.full(holds.shape, np.int8(Verdict.WITHIN), order="F")
    must_open = np.zeros(holds.shape, dtype=np.bool_, order="F")
    if zone.idle is not None:
        holds |= zone.idle
        codes[np.broadcast_to(zone.idle, codes.shape)] = Verdict.NOT_APPLICABLE
    stations, rows = np.divmod((~holds.ravel("F")).nonzero()[0], len(codes))
    if rows.size:
        near = measures.at(rows, stations)
        found = [verdicts(near, measures.asks_must, decision, doubt) for doubt in reach.doubts(stations)]
        (codes[rows, stations], must_open[rows, stations]), (most_codes, most_open) = found[0], found[-1]
        left = np.unique(rows[(found[0][0] != most_codes)[0] | (found[0][1] != most_open)[0]])
        if left.size:
            own, doubt = about(left)
            codes[left], must_open[left] = verdicts(own, own.asks_must, decision, doubt)
    return judged_of(seen, codes, must_open)


def _zone(bounds: Bounds) -> Zone:
    """Between which ends all limits are kept; what equals one within the comparison tolerance lies beyond."""
    there = [edge != absent for edge, absent in zip(bounds.edges, ABSENT, strict=True)]
    low, high = (
        reduce(stricter, (bounds.edges[at] for at in own if there[at] is not False))
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
