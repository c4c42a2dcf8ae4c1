"""What a rule sees: its value and the limits that count for an application, as arrays of shape (records, stations)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array, Truths
from checker.judging.block import Block
from checker.judging.precedence import left_unclear, stricter, with_sheet
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import ABSENT, DEMANDS, INWARD, IS_LOW, POSITIONS, STATED, Bound, Candidate, LimitSet
from checker.packs.limits import PHYSICS
from checker.records.part_sheet import PartLimit

# By position: which way is inward, and what stands for a limit that is not there.
_INWARD = np.array(INWARD).reshape(4, 1, 1)
_ABSENT = np.array(ABSENT).reshape(4, 1, 1)
_ALWAYS, _NEVER = np.full((1, 1), TRUE), np.full((1, 1), FALSE)
_NOTHING_DEMANDED = np.full((1, 1), np.inf)
_MUSTS = [(band, side) for band, side in STATED if band != "should"]
# What a demand must score, see _score.
_LEVELS = (1.0, 2.0)


@dataclass(frozen=True, eq=False)
class Measures:
    """What one rule sees: arrays of shape (records, stations); limits and margins by position as well.

    Limits that are alike for all records stand in one row.
    An unknown limit is NaN; where there is none it is infinite (-inf below, +inf above); where the table it comes
    from has ended it is infinite the other way. `asks_must`: the rule has a must for the application, though perhaps
    under conditions that do not hold here.
    """

    value: Array
    limits: Array
    applies: Array
    asks_must: bool = False

    @cached_property
    def margins(self) -> Array:
        """How far inside each limit the value lies; in the order of POSITIONS."""
        with np.errstate(invalid="ignore"):
            found = np.asarray((self.value - self.limits) * _INWARD)
        found.flags.writeable = False
        return found

    @property
    def counted(self) -> Array:
        """The margins that count: infinite where there is no limit, missing where the table it comes from has ended."""
        # What no table gives cannot be told; the other limits still count.
        found = np.where(self.is_absent, np.inf, np.where(self.has_ended, np.nan, self.margins))
        found.flags.writeable = False
        return found

    @property
    def is_absent(self) -> Truths:
        """Where there is no limit, by position."""
        found = np.asarray(self.limits == _ABSENT)
        found.flags.writeable = False
        return found

    @property
    def has_ended(self) -> Truths:
        """Where the table has ended that a limit, or the value, comes from; by position."""
        found = np.asarray((self.limits == -_ABSENT) | np.isinf(self.value))
        found.flags.writeable = False
        return found

    def rows(self, wanted: slice | list[int] | npt.NDArray[np.integer[Any]]) -> Measures:
        """Some of the rows."""
        limits = self.limits[:, wanted] if self.limits.shape[1] == len(self.value) else self.limits
        return Measures(self.value[wanted], limits, self.applies[wanted], self.asks_must)

    def of_rows(self, rows: int) -> Measures:
        """The same for so many rows, limits too, where it was alike for all of them."""
        shape = (rows, self.value.shape[-1])
        return Measures(
            np.broadcast_to(self.value, shape),
            np.broadcast_to(self.limits, (len(self.limits), *shape)),
            np.broadcast_to(self.applies, shape),
            self.asks_must,
        )


class Bounds(NamedTuple):
    """A rule's value and its edges by position, as they were calculated: one that is alike everywhere is a number."""

    value: Array
    edges: Sequence[Array | float]
    applies: Array
    asks_must: bool

    @property
    def rows_of_limits(self) -> int:
        """In how many rows its edges differ."""
        return max((len(edge) for edge in self.edges if isinstance(edge, np.ndarray)), default=1)

    @property
    def rows(self) -> int:
        """In how many rows anything differs."""
        return max(self.rows_of_limits, len(self.value), len(self.applies))

    def measures(self, stations: int) -> Measures:
        """The same laid out by position, at so many stations."""
        shape = (self.rows, stations)
        laid = np.empty((len(POSITIONS), stations, self.rows_of_limits)).transpose(0, 2, 1)
        for position, edge in enumerate(self.edges):
            laid[position] = edge
        return Measures(spread(self.value, shape), laid, spread(self.applies, shape), self.asks_must)


def measure(
    rule: CompiledRule,
    block: Block,
    chain: tuple[str, ...],
    part: PartLimit | None = None,
    limits: LimitSet | None = None,
) -> Measures:
    """Evaluate what a rule judges and the limits that count for an application.

    `chain` is the application and those it is like; `limits` stands in for the rule's own. A rule that is not meant for
    the application never applies.
    """
    return bounds(rule, block, chain, part, limits).measures(block.layout.count(rule.stations))


def bounds(
    rule: CompiledRule,
    block: Block,
    chain: tuple[str, ...],
    part: PartLimit | None = None,
    limits: LimitSet | None = None,
) -> Bounds:
    """The same, not yet laid out."""
    found, at = limits or rule.limits, rule.stations
    applies = applies_at(rule, block)
    edges: Sequence[Array | float]
    if rule.is_demand:
        demands = [_demand_holds(found.candidates(chain, band, side), block, at) for band, side in DEMANDS]
        demands[0] = np.minimum(demands[0], _all_hold(found.candidates(chain, PHYSICS, "broken"), block, at))
        value = _score(*demands)
        levels = (np.where(np.isinf(holds), -np.inf, level) for holds, level in zip(demands, _LEVELS, strict=True))
        edges = (*levels, np.inf, np.inf)
    else:
        value = block.evaluate(rule.judges)
        size = block.evaluate(rule.per_unit_of, at) if rule.per_unit_of else None
        edges = [_edge(found.candidates(chain, band, side), side, block, size, at) for band, side in POSITIONS]
        low, high = (
            _together(found.candidates(chain, PHYSICS, side), side, value, block, size, at) for side in ("low", "high")
        )
        if part is not None:
            is_unclear = part.speaks & (applies == CANNOT_TELL)
            applies = np.where(is_unclear, TRUE, applies)
            edges = [left_unclear(edge, is_low, is_unclear) for edge, is_low in zip(edges, IS_LOW, strict=True)]
            edges = with_sheet(edges, part)
            low, high = left_unclear(low, True, is_unclear), left_unclear(high, False, is_unclear)
        must_low, should_low, should_high, must_high = edges
        edges = (stricter(must_low, low, value, True), should_low, should_high, stricter(must_high, high, value, False))
    if rule.rule.why_not_for(chain):
        applies = _NEVER
    asks_must = part is not None or any(found.candidates(chain, band, side) for band, side in _MUSTS)
    return Bounds(value, edges, applies, asks_must)


def spread(array: Array, shape: tuple[int, int]) -> Array:
    """An array of this shape; many rows a station after the other in memory, and what is alike for all of them once."""
    if array.shape == shape:
        return array if shape[0] == 1 else np.asfortranarray(array)
    if shape[0] > 1 and array.size == 1:
        return np.broadcast_to(array, shape)
    # Many times as fast on small arrays as broadcast_to.
    whole = np.empty(shape, order="F")
    whole[...] = array
    return whole


def applies_at(rule: CompiledRule, block: Block) -> Array:
    """Whether a rule applies, with three values."""
    applies: Array = _ALWAYS
    if rule.when is not None:
        applies = block.evaluate(rule.when, rule.stations)
    if rule.unless is not None:
        applies = np.minimum(applies, TRUE - block.evaluate(rule.unless, rule.stations))
    return applies


def _edge(
    candidates: Sequence[Candidate], side: str, block: Block, size: Array | None, at: str | None
) -> Array | float:
    """The limit on one side: the first candidate whose condition holds; infinite where there is none."""
    edge: Array | float = -np.inf if side == "low" else np.inf
    for candidate in reversed(candidates):
        edge = _chosen(candidate, amount_at(candidate.bound, side, block, size, at), edge, block, at)
    return edge


def _together(
    candidates: Sequence[Candidate], side: str, value: Array, block: Block, size: Array | None, at: str | None
) -> Array | float:
    """The strictest of all candidates whose conditions hold; infinite where there is none."""
    absent = -np.inf if side == "low" else np.inf
    edge: Array | float = absent
    for candidate in candidates:
        own = _chosen(candidate, amount_at(candidate.bound, side, block, size, at), absent, block, at)
        edge = stricter(edge, own, value, side == "low")
    return edge


def amount_at(bound: Bound, side: str, block: Block, size: Array | None, at: str | None) -> Array | float:
    """One limit of a rule that judges at some stations, in SI; infinite the other way where its table has ended."""
    if bound.expression is not None:
        found = block.evaluate(bound.expression, at)
        found = found if bound.factor == 1.0 else found * bound.factor
        if not bound.expression.ends:
            return found
        return np.where(np.isinf(found), np.inf if side == "low" else -np.inf, found)
    constant = np.nan if bound.constant is None else bound.constant * bound.factor
    return constant if not bound.is_ratio or size is None else size * constant


def _chosen(
    candidate: Candidate, this: Array | float, otherwise: Array | float, block: Block, at: str | None
) -> Array | float:
    if candidate.when is None:
        return this
    condition = block.evaluate(candidate.when, at)
    return np.where(condition == TRUE, this, np.where(condition == FALSE, otherwise, np.nan))


def _score(must: Array, should: Array) -> Array:
    """Demands as a number: 0 breaks a must, 1 a should, 2 neither."""
    score = np.where(must == FALSE, 0.0, np.where(should == FALSE, 1.0, 2.0))
    undecided = (must == CANNOT_TELL) | ((should == CANNOT_TELL) & (must != FALSE))
    return np.where(undecided, np.nan, score)


def _demand_holds(candidates: Sequence[Candidate], block: Block, at: str | None) -> Array:
    """Whether what is demanded holds; infinite where nothing is."""
    holds: Array = _NOTHING_DEMANDED
    for candidate in reversed(candidates):
        expression = candidate.bound.expression
        if expression is not None:
            truth = _chosen(candidate, block.evaluate(expression, at), holds, block, at)
            holds = np.where(np.isnan(truth), CANNOT_TELL, truth)
    return holds


def _all_hold(candidates: Sequence[Candidate], block: Block, at: str | None) -> Array:
    """Whether all holds that is demanded; infinite where nothing is."""
    return np.asarray(reduce(np.minimum, (_demand_holds([one], block, at) for one in candidates), _NOTHING_DEMANDED))
