"""What packs allow of a characteristic at one station: for the use that allows most, by physics, and at all."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple, Protocol

import numpy as np

from checker.expressions.truth import FALSE, TRUE, Array
from checker.judging.block import Block
from checker.judging.measures import amount_at, applies_at
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.layers import Layered
from checker.packs.limit_set import Candidate
from checker.packs.limits import PHYSICS
from checker.packs.titles import lowered

NEARLY = 1.25
"""So much do makers differ by: what a slip explains may lie so far beyond what is required all the same."""


class Book(Protocol):
    """What telling it needs of a rulebook."""

    @property
    def layered(self) -> Layered: ...
    @property
    def characteristics(self) -> Mapping[str, CompiledCharacteristic]: ...
    @property
    def rules(self) -> Mapping[str, CompiledRule]: ...


class Room(NamedTuple):
    """From where to where something may lie, in SI."""

    low: float
    high: float

    def is_apart(self, other: Room) -> bool:
        """Whether no value lies in both."""
        return self.low > other.high or other.low > self.high

    def is_well_off(self, other: Room) -> bool:
        """Whether it lies apart from another, and by more than makers differ by."""
        return self.is_apart(other) and min(other.times_off(end) for end in self) > NEARLY

    def holds(self, other: Room) -> bool:
        """Whether all of another lies in it."""
        return self.low <= other.low and other.high <= self.high

    def nearly_holds(self, other: Room) -> bool:
        """The same, but for what makers differ by."""
        return self.low <= other.low * NEARLY and other.high <= self.high * NEARLY

    def times_off(self, value: float) -> float:
        """How many times a value lies beyond the nearer end; 1 for one inside."""
        end = self.low if value < self.low else self.high if value > self.high else value
        if value == end:
            return 1.0
        return math.inf if end * value <= 0 else max(value / end, end / value)


class Allowed(NamedTuple):
    """What the packs leave of a characteristic at one station: by physics, by all uses together, and at all.

    `usual` is what is required, on a side where nothing is what is recommended; `is_stated` says of both its ends
    whether a pack states them. `sizes` are what limits count per, by their titles; `forbids` is what physics says.
    """

    by_physics: Room
    required: Room
    usual: Room
    is_stated: tuple[bool, bool]
    at_all: Room
    sizes: Mapping[str, float]
    forbids: str


def allowed_of(item: CompiledCharacteristic, book: Book, block: Block, station: int) -> Allowed:
    """What the packs allow of a characteristic at one station, for the use that allows most of it."""
    named = [book.rules[name] for name, rule in book.layered.rules.items() if item.name in rule.judges]
    rules = [rule for rule in named if not rule.is_demand and rule.judges.characteristic == item.name]
    rules = [rule for rule in rules if _at(applies_at(rule, block), station) != FALSE]
    uses = list(book.layered.chains.values())

    def reach(band: str) -> Room:
        return Room(*(_reach(rules, uses, band, side, block, station) for side in ("low", "high")))

    must, should, physics = reach("must"), reach("should"), reach(PHYSICS)
    low, high = (one if math.isfinite(one) else other for one, other in zip(must, should, strict=True))
    sized = {}
    for per in (rule.per_unit_of for rule in rules if rule.per_unit_of is not None):
        size = _at(block.evaluate(per), 0 if per.stations is None else station)
        if math.isfinite(size):
            known = book.characteristics.get(per.characteristic or "")
            sized[lowered(known.characteristic.title) if known else per.text] = size
    stated = (
        limit for rule in rules for entry in rule.limits.entries for limit in (bound.limit for bound in entry.bounds)
    )
    notes = (limit.basis.note for limit in stated if limit.band == PHYSICS and limit.basis)
    return Allowed(
        by_physics=physics,
        required=must,
        usual=Room(max(low, physics.low, item.low), min(high, physics.high, item.high)),
        is_stated=(math.isfinite(low), math.isfinite(high)),
        at_all=Room(item.low, item.high),
        sizes=sized,
        forbids=next(notes, ""),
    )


def _reach(
    rules: Iterable[CompiledRule],
    uses: Iterable[tuple[str, ...]],
    band: str,
    side: str,
    block: Block,
    station: int,
) -> float:
    """The loosest limit on one side that any use may have, of the rules that state one for some use."""
    found = []
    for rule in rules:
        each = [_loosest(rule, chain, band, side, block, station) for chain in uses if not rule.rule.why_not_for(chain)]
        if any(math.isfinite(end) for end in each):
            found.append(_looser(each, side))
    return _looser(found, side)


def _loosest(rule: CompiledRule, chain: tuple[str, ...], band: str, side: str, block: Block, station: int) -> float:
    """The loosest limit on one side that a rule may have for a use, whatever is not known; infinite for none."""
    found = []
    for candidate in rule.limits.candidates(chain, band, side):
        truth = TRUE if candidate.when is None else _at(block.evaluate(candidate.when, rule.stations), station)
        if truth == FALSE:
            continue
        found.append(_amount(rule, candidate, side, block, station))
        if truth == TRUE and band != PHYSICS:
            break
    return _looser(found, side)


def _looser(limits: Sequence[float], side: str) -> float:
    """The loosest of some limits; infinite where there is none."""
    return min(limits, default=-math.inf) if side == "low" else max(limits, default=math.inf)


def _amount(rule: CompiledRule, candidate: Candidate, side: str, block: Block, station: int) -> float:
    """A limit, or as loose as it can be where something that it rests on is not known."""
    size = block.evaluate(rule.per_unit_of, rule.stations) if rule.per_unit_of is not None else None
    known = _at(np.asarray(amount_at(candidate.bound, side, block, size, rule.stations)), station)
    least, most = candidate.bound.reach(rule.per_unit_of)
    return known if math.isfinite(known) else least if side == "low" else most


def _at(values: Array, station: int) -> float:
    """The value of the record at one station, or that of the assembly."""
    whole = np.atleast_2d(values)
    return float(whole[0, min(station, whole.shape[1] - 1)])
