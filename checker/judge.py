"""Judging: arrays of values against arrays of limits, giving arrays of verdicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from checker.block import Block
from checker.compiled import DEMANDS, POSITIONS, Bound, Candidate, CompiledRule, LimitSet
from checker.conformity import Decision, Doubt, conforms
from checker.truth import ABSOLUTE_TOLERANCE, CANNOT_TELL, FALSE, RELATIVE_TOLERANCE, TRUE, Array

Codes = npt.NDArray[np.int8]

_ABSENT = (-np.inf, -np.inf, np.inf, np.inf)


class Verdict(IntEnum):
    """What a rule says of one station; the higher, the worse."""

    NOT_APPLICABLE = 0
    WITHIN = 1
    NOT_COVERED = 2
    ADVISORY = 3
    NOT_MEASURED = 4
    UNDECIDED = 5
    OUTSIDE = 6

    def __str__(self) -> str:
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True, slots=True)
class PartLimit:
    """Limits from a part maker's sheet in SI; infinite where the sheet is silent."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Measures:
    """What one rule sees: arrays of shape (records, stations).

    An unknown limit is NaN; where there is none it is infinite (-inf below, +inf above); where the table it comes
    from has ended it is infinite the other way.
    """

    value: Array
    limits: tuple[Array, Array, Array, Array]
    applies: Array

    @property
    def margins(self) -> tuple[Array, Array, Array, Array]:
        """How far inside each limit the value lies; in the order of POSITIONS."""
        low, high = self.limits[:2], self.limits[2:]
        with np.errstate(invalid="ignore"):
            return (self.value - low[0], self.value - low[1], high[0] - self.value, high[1] - self.value)


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdicts of one rule: codes, and where its must band is not shown to hold."""

    rule: CompiledRule
    measures: Measures
    codes: Codes
    must_open: npt.NDArray[np.bool_]
    doubts: tuple[Doubt | None, ...]


def measure(
    rule: CompiledRule,
    block: Block,
    chain: Sequence[str],
    limits: LimitSet | None = None,
    part: PartLimit | None = None,
) -> Measures:
    """Evaluate what a rule judges and the limits that count for an application.

    `chain` is the application and those it is like; `limits` stands in for the rule's own.
    """
    found = limits or rule.limits
    if rule.is_demand:
        value = _score(found, block, chain, rule.stations)
        bounds = [_demanded(found, chain, band, level) for band, level in (("must", 1.0), ("should", 2.0))]
        none = np.full((1, 1), np.inf)
        edges = (bounds[0], bounds[1], none, none)
    else:
        value = block.evaluate(rule.judges)
        size = block.evaluate(rule.per_unit_of, rule.stations) if rule.per_unit_of else None
        low_must, low_should, high_should, high_must = (
            _edge(found.candidates(chain, band, side), side, block, size, rule.stations) for band, side in POSITIONS
        )
        if part is not None:
            low_must, high_must = np.fmax(low_must, part.low), np.fmin(high_must, part.high)
        edges = (low_must, low_should, high_should, high_must)
    arrays = (value, *edges, _applies(rule, block))
    shape = np.broadcast_shapes(*(array.shape for array in arrays), (1, block.layout.count(rule.stations)))
    spread = [np.broadcast_to(array, shape) for array in arrays]
    return Measures(spread[0], (spread[1], spread[2], spread[3], spread[4]), spread[5])


def judge(
    rule: CompiledRule, measures: Measures, decision: Decision, doubts: tuple[Doubt | None, ...] = (None,) * 4
) -> Judged:
    """Turn margins into verdicts, in positive form: only what is shown to hold is within."""
    none = [edge == absent for edge, absent in zip(measures.limits, _ABSENT, strict=True)]
    ended = [edge == -absent for edge, absent in zip(measures.limits, _ABSENT, strict=True)]
    off_table = np.isinf(measures.value) | ended[0] | ended[1] | ended[2] | ended[3]
    holds = [
        np.where(is_none, TRUE, np.where(off_table, CANNOT_TELL, conforms(margin, doubt, decision, _slack(edge))))
        for margin, edge, is_none, doubt in zip(measures.margins, measures.limits, none, doubts, strict=True)
    ]
    must, should = np.minimum(holds[0], holds[3]), np.minimum(holds[1], holds[2])
    covered = ~((none[0] & none[1] & none[2] & none[3]) | off_table)
    unknown = np.isnan(measures.value) | _any_unknown(measures.limits)
    codes = np.select(
        [
            measures.applies == FALSE,
            (measures.applies == CANNOT_TELL) & covered,
            must == FALSE,
            ~covered,
            (must == CANNOT_TELL) & unknown,
            must == CANNOT_TELL,
            should == FALSE,
            (should == CANNOT_TELL) & unknown,
            should == CANNOT_TELL,
        ],
        [
            Verdict.NOT_APPLICABLE,
            Verdict.NOT_MEASURED,
            Verdict.OUTSIDE,
            Verdict.NOT_COVERED,
            Verdict.NOT_MEASURED,
            Verdict.UNDECIDED,
            Verdict.ADVISORY,
            Verdict.NOT_MEASURED,
            Verdict.UNDECIDED,
        ],
        Verdict.WITHIN,
    ).astype(np.int8)
    has_must = ~(none[0] & none[3])
    must_open = has_must & (measures.applies != FALSE) & ((must == CANNOT_TELL) | (measures.applies == CANNOT_TELL))
    return Judged(rule, measures, codes, must_open, doubts)


def _applies(rule: CompiledRule, block: Block) -> Array:
    applies: Array = np.full((1, 1), TRUE)
    if rule.when is not None:
        applies = block.evaluate(rule.when, rule.stations)
    if rule.unless is not None:
        applies = np.minimum(applies, TRUE - block.evaluate(rule.unless, rule.stations))
    return applies


def _edge(candidates: Sequence[Candidate], side: str, block: Block, size: Array | None, at: str | None) -> Array:
    """The limit on one side: the first candidate whose condition holds; infinite where there is none."""
    edge: Array = np.full((1, 1), -np.inf if side == "low" else np.inf)
    for candidate in reversed(candidates):
        edge = _chosen(candidate, _amount(candidate.bound, side, block, size, at), edge, block, at)
    return edge


def _amount(bound: Bound, side: str, block: Block, size: Array | None, at: str | None) -> Array:
    if bound.expression is not None:
        found = block.evaluate(bound.expression, at) * bound.factor
        return np.where(np.isinf(found), np.inf if side == "low" else -np.inf, found)
    constant: Array = np.full((1, 1), bound.constant) * bound.factor
    return constant if not bound.is_ratio or size is None else size * constant


def _chosen(candidate: Candidate, this: Array, otherwise: Array, block: Block, at: str | None) -> Array:
    if candidate.when is None:
        return this
    condition = block.evaluate(candidate.when, at)
    return np.where(condition == TRUE, this, np.where(condition == FALSE, otherwise, np.nan))


def _score(limits: LimitSet, block: Block, chain: Sequence[str], at: str | None) -> Array:
    """Demands as a number: 0 breaks a must, 1 a should, 2 neither."""
    must, should = (_demand_holds(limits.candidates(chain, band, side), block, at) for band, side in DEMANDS)
    score = np.where(must == FALSE, 0.0, np.where(should == FALSE, 1.0, 2.0))
    undecided = (must == CANNOT_TELL) | ((should == CANNOT_TELL) & (must != FALSE))
    return np.where(undecided, np.nan, score)


def _demand_holds(candidates: Sequence[Candidate], block: Block, at: str | None) -> Array:
    holds: Array = np.full((1, 1), TRUE)
    for candidate in reversed(candidates):
        expression = candidate.bound.expression
        if expression is not None:
            truth = _chosen(candidate, block.evaluate(expression, at), holds, block, at)
            holds = np.where(np.isnan(truth), CANNOT_TELL, truth)
    return holds


def _demanded(limits: LimitSet, chain: Sequence[str], band: str, level: float) -> Array:
    return np.full((1, 1), level if limits.candidates(chain, band, "broken") else -np.inf)


def _any_unknown(limits: Sequence[Array]) -> npt.NDArray[np.bool_]:
    return np.isnan(limits[0]) | np.isnan(limits[1]) | np.isnan(limits[2]) | np.isnan(limits[3])


def _slack(edge: Array) -> Array:
    with np.errstate(invalid="ignore"):
        return np.where(np.isfinite(edge), np.abs(edge) * RELATIVE_TOLERANCE + ABSOLUTE_TOLERANCE, 0.0)


def stated_parts(limits: Mapping[str, PartLimit], rule: CompiledRule) -> PartLimit | None:
    """The part-sheet limits for what a rule judges, when it judges a plain characteristic."""
    column = rule.judges.column
    return limits.get(column.name) if column is not None and not rule.is_demand else None
