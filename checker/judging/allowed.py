"""What packs allow of a characteristic at one station: for the use that allows most, by physics, and at all."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import reduce
from typing import NamedTuple

import numpy as np

from checker.expressions.truth import FALSE, TRUE, Array, Truths
from checker.judging.block import Block
from checker.judging.measures import amount_at, applies_at
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.compiled_packs import CompiledPacks
from checker.packs.limit_set import Candidate
from checker.packs.limits import PHYSICS
from checker.packs.titles import lowered

NEARLY = 1.25
"""So much do makers differ by: what a slip explains may lie so far beyond what is required all the same."""


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


class Reached(NamedTuple):
    """The loosest limits that any use may have of a characteristic at one station, by row and side; infinite for none.

    `usual` are those that are required, on a side where nothing is those recommended, as far as physics and what is
    possible at all leave them; `is_stated` says of both sides whether a pack states one of these.
    """

    physics: tuple[Array, Array]
    required: tuple[Array, Array]
    usual: tuple[Array, Array]
    is_stated: tuple[Truths, Truths]


def reached(item: CompiledCharacteristic, packs: CompiledPacks, block: Block, station: int) -> Reached:
    """What the packs leave of a characteristic at one station, for the use that allows most of it."""
    rules = [(rule, _at(applies_at(rule, block), station) != FALSE) for rule in _judging(item, packs)]
    uses = list(packs.layered.chains.values())

    def reach(band: str) -> tuple[Array, Array]:
        low, high = (_reach(rules, uses, band, side, block, station) for side in ("low", "high"))
        return low, high

    must, should, physics = reach("must"), reach("should"), reach(PHYSICS)
    low, high = (np.where(np.isfinite(one), one, other) for one, other in zip(must, should, strict=True))
    return Reached(
        physics=physics,
        required=must,
        usual=(
            np.maximum.reduce(np.broadcast_arrays(low, physics[0], item.low)),
            np.minimum.reduce(np.broadcast_arrays(high, physics[1], item.high)),
        ),
        is_stated=(np.isfinite(low), np.isfinite(high)),
    )


def allowed_of(item: CompiledCharacteristic, packs: CompiledPacks, block: Block, station: int) -> Allowed:
    """The same of one record, with what there is to say of it."""
    found = reached(item, packs, block, station)
    rules = [rule for rule in _judging(item, packs) if _at(applies_at(rule, block), station)[0] != FALSE]
    sized = {}
    for per in (rule.per_unit_of for rule in rules if rule.per_unit_of is not None):
        size = float(_at(block.evaluate(per), 0 if per.stations is None else station)[0])
        if math.isfinite(size):
            known = packs.characteristics.get(per.characteristic or "")
            sized[lowered(known.characteristic.title) if known else per.text] = size
    stated = (
        limit for rule in rules for entry in rule.limits.entries for limit in (bound.limit for bound in entry.bounds)
    )
    notes = (limit.basis.note for limit in stated if limit.band == PHYSICS and limit.basis)
    by_physics, required, usual = (Room(*(float(end[0]) for end in ends)) for ends in found[:3])
    low, high = (bool(is_stated[0]) for is_stated in found.is_stated)
    at_all = Room(item.low, item.high)
    return Allowed(by_physics, required, usual, (low, high), at_all, sized, next(notes, ""))


def _judging(item: CompiledCharacteristic, packs: CompiledPacks) -> list[CompiledRule]:
    """The rules that judge a characteristic as it is."""
    named = [packs.rules[name] for name, rule in packs.layered.rules.items() if item.name in rule.judges]
    return [rule for rule in named if not rule.is_demand and rule.judges.characteristic == item.name]


def _reach(
    rules: Iterable[tuple[CompiledRule, Truths]],
    uses: Iterable[tuple[str, ...]],
    band: str,
    side: str,
    block: Block,
    station: int,
) -> Array:
    """By row the loosest limit on one side that any use may have, of the rules that state one for some use."""
    looser, none = _looser(side)
    loosest = np.full(1, -none)
    for rule, may_apply in rules:
        meant = (chain for chain in uses if not rule.rule.why_not_for(chain))
        # Uses for which the same limits speak ask for the same.
        apart = {rule.limits.speaking(chain): chain for chain in meant}.values()
        if each := [_loosest(rule, chain, band, side, block, station) for chain in apart]:
            states = may_apply & reduce(np.logical_or, map(np.isfinite, each))
            loosest = np.where(states, looser(loosest, reduce(looser, each)), loosest)
    return np.where(loosest == -none, none, loosest)


def _loosest(rule: CompiledRule, chain: tuple[str, ...], band: str, side: str, block: Block, station: int) -> Array:
    """By row the loosest limit on one side that a rule may have for a use, whatever is not known; infinite for none."""
    looser, none = _looser(side)
    loosest, is_left = np.full(1, -none), np.ones(1, dtype=np.bool_)
    for candidate in rule.limits.candidates(chain, band, side):
        truth = (
            np.full(1, TRUE) if candidate.when is None else _at(block.evaluate(candidate.when, rule.stations), station)
        )
        may_count = is_left & (truth != FALSE)
        if may_count.any():
            amount = _amount(rule, candidate, side, block, station)
            loosest = np.where(may_count, looser(loosest, amount), loosest)
        if band != PHYSICS:
            is_left = is_left & (truth != TRUE)
    return np.where(loosest == -none, none, loosest)


def _looser(side: str) -> tuple[np.ufunc, float]:
    """What tells the looser of two limits, and what stands for none."""
    return (np.minimum, -math.inf) if side == "low" else (np.maximum, math.inf)


def _amount(rule: CompiledRule, candidate: Candidate, side: str, block: Block, station: int) -> Array:
    """A limit, or as loose as it can be where something that it rests on is not known."""
    size = block.evaluate(rule.per_unit_of, rule.stations) if rule.per_unit_of is not None else None
    known = _at(np.asarray(amount_at(candidate.bound, side, block, size, rule.stations)), station)
    least, most = candidate.bound.reach(rule.per_unit_of)
    return np.where(np.isfinite(known), known, least if side == "low" else most)


def _at(values: Array, station: int) -> Array:
    """The values of records at one station, or those of the assemblies, by row."""
    whole = np.atleast_2d(values)
    return whole[:, min(station, whole.shape[1] - 1)]
