"""The columns of one record, a table of one row: values by characteristic, and how far each may be off."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np

from checker.expressions.names import VALUE, Column
from checker.expressions.truth import FALSE, TRUE, Array
from checker.frozen import FrozenMapping
from checker.on_demand import OnDemand
from checker.packs.compiled import CompiledCharacteristic


def spread(values: Sequence[float]) -> float:
    """How far apart readings are; one by itself says nothing of that."""
    return max(values) - min(values) if len(values) > 1 else math.nan


def _is_permutation(values: Sequence[float]) -> float:
    return TRUE if sorted(values) == list(range(1, len(values) + 1)) else FALSE


def _rises(values: Sequence[float]) -> float:
    if len(values) < 2:
        return math.nan
    return TRUE if all(sooner < later for sooner, later in pairwise(values)) else FALSE


def _may_hold(view: str, values: Sequence[float]) -> bool:
    """Whether a series of which one is lacking may still be in order, or hold each number once."""
    if view == IN_ORDER:
        return _rises(values) != FALSE
    return len(set(values)) == len(values)


Calculations: TypeAlias = Mapping[str, Callable[[Sequence[float]], float]]

LEAST, GREATEST, SPREAD = "least_reading", "greatest_reading", "spread_of_readings"
IN_ORDER, IS_PERMUTATION = "rises", "is_permutation"
VIEWS: Calculations = {
    LEAST: min,
    GREATEST: max,
    SPREAD: spread,
    "count_of_readings": len,
    IS_PERMUTATION: _is_permutation,
    IN_ORDER: _rises,
}
"""What is made of the readings at one station besides their mean; of a single one no spread and no order."""


class Move(NamedTuple):
    """One cause of doubt about a characteristic: how far it moves its views up and down at each station.

    A hard move may be to anywhere between; otherwise it is one expanded uncertainty. All that is moved by one thing, as
    a move is `of` it, goes the same part of its way.
    """

    up: Mapping[str, Array]
    down: Mapping[str, Array]
    is_hard: bool = False
    of: str = ""


class Gathered(NamedTuple):
    """One characteristic of one record; every array has the shape (1, stations).

    `middles` are the readings by station, from which its views are made. `own` is the expanded uncertainty of one
    reading by itself, `scatter` that of the mean of several readings, and `shared` what one instrument gives to all
    its values alike. `least` and `most` say by view how far a value known from its ends only may move down and up.
    `unstated` is 1 where something was measured with an instrument that nobody named. Of `vague` stations a reading
    is known from its ends only, so that its order among others cannot be told, and at those with `gaps` one of a
    series is lacking. `warmth` is what growth unknown may have done to all of them. `is_usual` says that the
    uncertainty of some reading is only what is usual for it.
    """

    value: Array
    middles: dict[int, Sequence[float]]
    own: Array
    scatter: Array
    shared: dict[str, Array]
    least: dict[str, Array]
    most: dict[str, Array]
    unstated: Array
    vague: set[int]
    warmth: tuple[Move, ...] = ()
    is_usual: bool = False
    gaps: frozenset[int] = frozenset()

    def moves(self, needs_instruments: bool) -> Iterator[Move]:
        """What may move each of its values by itself; if instruments are needed, to anywhere where none is named."""
        if needs_instruments and self.unstated.any():
            views = (VALUE, LEAST, GREATEST, SPREAD, IN_ORDER, IS_PERMUTATION)
            anywhere = dict.fromkeys(views, np.where(self.unstated, np.nan, 0.0))
            yield Move(anywhere, anywhere)
        if self.own.any():
            up = {VALUE: self.own, LEAST: self.own, GREATEST: self.own, SPREAD: math.sqrt(2) * self.own}
            if any(len(middles) > 1 for middles in self.middles.values()):
                up |= dict.fromkeys((IN_ORDER, IS_PERMUTATION), self._disorder())
            yield Move(up, {view: -move for view, move in up.items()})
        if self.scatter.any():
            yield Move({VALUE: self.scatter}, {VALUE: -self.scatter})
        if self.least:
            yield Move(self.most, self.least, is_hard=True)
        yield from self.warmth

    def as_usual(self, usual: float) -> Gathered:
        """With this expanded uncertainty where no instrument is named; none is usual where it is zero."""
        if not usual or not self.unstated.any():
            return self
        return self._replace(own=np.where(self.unstated, np.maximum(self.own, usual), self.own), is_usual=True)

    def _disorder(self) -> Array:
        """Missing where two readings of a station are no further apart than their instrument can tell."""
        found = np.zeros_like(self.value)
        for station, middles in self.middles.items():
            apart = min((larger - smaller for smaller, larger in pairwise(sorted(middles))), default=math.inf)
            if apart <= math.sqrt(2) * self.own[0, station]:
                found[0, station] = math.nan
        return found


class Columns(NamedTuple):
    """The values of one record by characteristic."""

    gathered: Mapping[str, Gathered]

    @property
    def measured(self) -> Mapping[str, Array]:
        """What was measured, by name."""
        for item in self.gathered.values():
            item.value.flags.writeable = False
        return FrozenMapping({name: item.value for name, item in self.gathered.items()})

    @property
    def views(self) -> Mapping[Column, Array]:
        """What is made of the readings at each station besides their mean."""
        return OnDemand(lambda: (Column(name, view) for name in self.gathered for view in VIEWS), self._view)

    def _view(self, column: Column) -> Array:
        item, calculate = self.gathered[column.name], VIEWS[column.view]
        found = np.full_like(item.value, np.nan)
        of_order = column.view in (IN_ORDER, IS_PERMUTATION)
        for station, middles in item.middles.items():
            if of_order and station in item.vague:
                continue
            if of_order and station in item.gaps:
                found[0, station] = math.nan if _may_hold(column.view, middles) else FALSE
            else:
                found[0, station] = calculate(middles)
        found.flags.writeable = False
        return found

    def as_usual(self, characteristics: Mapping[str, CompiledCharacteristic]) -> Columns:
        """The same, a reading that names no instrument with the uncertainty that is usual for its characteristic."""
        return Columns(
            {
                name: item.as_usual(_usual(characteristics[name], characteristics))
                for name, item in self.gathered.items()
            }
        )


def _usual(item: CompiledCharacteristic, characteristics: Mapping[str, CompiledCharacteristic]) -> float:
    """The usual uncertainty; what may be measured or worked out is known no better than the worst of what is behind."""
    if item.usual_uncertainty or item.agrees_within is None or item.derived is None or item.unit is None:
        return item.usual_uncertainty
    behind = (characteristics[column.name] for column in item.derived.columns)
    alike = (part for part in behind if part.unit is not None and part.unit.kind == item.unit.kind)
    return max((_usual(part, characteristics) for part in alike), default=0.0)
