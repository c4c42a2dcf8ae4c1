"""What a rule sees of a record whose readings may lie anywhere in boxes of their doubt; see measures.py."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from typing import NamedTuple

import numpy as np

from checker.expressions import enclosures
from checker.expressions.boxes import Enclosure
from checker.expressions.truth import FALSE, TRUE, Array, Truths
from checker.judging.enclosed import EnclosedBlock
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import DEMANDS, POSITIONS, Bound, Candidate
from checker.packs.limits import PHYSICS
from checker.records.part_sheet import PartLimit

_IN_LINE = 1e-3
"""How much a cause counts that moves a margin along a straight line, beside those that make its bounds loose."""

_NO_LIMIT = np.full((1, 1), np.inf)


class EnclosedMeasures(NamedTuple):
    """The least margin by position, box and station, and the bounds of whether the rule applies, by box and station."""

    margins: Array
    least_applies: Array
    most_applies: Array


def see(rule: CompiledRule, chain: tuple[str, ...], part: PartLimit | None, block: EnclosedBlock) -> EnclosedMeasures:
    """What a rule sees for an application and those it is like."""
    with np.errstate(all="ignore"):
        low, high = _applies(rule, block)
        if rule.is_demand:
            margins = _demanded(rule, chain, block)
        else:
            is_unclear = None if part is None else part.speaks & ~np.isfinite(high - low)
            if is_unclear is not None:
                low, high = np.where(is_unclear, TRUE, low), np.where(is_unclear, TRUE, high)
            margins = _limited(rule, chain, part, block, is_unclear)
        # Filling an array takes a fraction of what broadcasting small ones does.
        whole = np.empty((len(margins) + 2, block.boxes.count, block.layout.count(rule.stations)))
        for position, part_of_all in enumerate((*margins, low, high)):
            whole[position] = part_of_all
    return EnclosedMeasures(whole[:-2], whole[-2], whole[-1])


def _applies(rule: CompiledRule, block: EnclosedBlock) -> tuple[Array, Array]:
    low = high = np.full((1, 1), TRUE)
    if rule.when is not None:
        found = block.evaluate(rule.when, rule.stations)
        low, high = np.minimum(low, found.low), np.minimum(high, found.high)
    if rule.unless is not None:
        found = block.evaluate(rule.unless, rule.stations)
        low, high = np.minimum(low, TRUE - found.high), np.minimum(high, TRUE - found.low)
    return low, high


def _limited(
    rule: CompiledRule, chain: tuple[str, ...], part: PartLimit | None, block: EnclosedBlock, is_unclear: Truths | None
) -> list[Array]:
    """The margins by position; of packs that may not speak at all, where a part sheet does, nothing is shown."""

    def left(margin: Array) -> Array:
        return margin if is_unclear is None else np.where(is_unclear & (margin != np.inf), -np.inf, margin)

    found = []
    for band, side in POSITIONS:
        margin = left(_to_practice(rule, chain, (band, side), part, block))
        found.append(margin if part is None else _to_sheet(margin, rule, band, side, part, block))
    low, high = map(left, _to_physics(rule, chain, block))
    return [np.minimum(found[0], low), *found[1:3], np.minimum(found[3], high)]


def _to_sheet(margin: Array, rule: CompiledRule, band: str, side: str, part: PartLimit, block: EnclosedBlock) -> Array:
    """The margin that counts at a position where a part sheet speaks too; see precedence.py."""
    end = part.low if side == "low" else part.high
    own = np.where(np.isinf(end), np.inf, _margin(block.evaluate(rule.judges), enclosures.exact(end), side, block))
    if part.is_beside:
        return np.minimum(margin, own) if band == "must" else margin
    return np.where(np.isinf(end), margin, own if band == "must" else np.inf)


def limits_cross(rule: CompiledRule, chain: tuple[str, ...], block: EnclosedBlock) -> Truths:
    """In which boxes two limits of which the stricter counts may change places: those of physics, and of practice."""
    crossed = np.zeros(block.boxes.count, dtype=np.bool_)
    for side in ("low", "high"):
        physics = rule.limits.candidates(chain, PHYSICS, side)
        every = (*physics, *rule.limits.candidates(chain, "must", side)) if physics else ()
        size = block.evaluate(rule.per_unit_of, rule.stations) if rule.per_unit_of and every else None
        limits = [_amount(candidate.bound, size, block, rule.stations) for candidate in every]
        for number, one in enumerate(limits[: len(physics)]):
            for other in limits[number + 1 :]:
                meet = (one.low <= other.high) & (other.low <= one.high) & ~(one.is_exact & other.is_exact)
                crossed |= meet.any(axis=-1)
    return crossed


def _to_practice(
    rule: CompiledRule, chain: tuple[str, ...], position: tuple[str, str], part: PartLimit | None, block: EnclosedBlock
) -> Array:
    """The margin to what general practice asks for; a limit counts only where it leaves room beside a part sheet."""
    band, side = position
    least = _NO_LIMIT
    for candidate in reversed(rule.limits.candidates(chain, band, side)):
        limit, own = _to_candidate(rule, candidate, side, block)
        if part is not None and not part.is_beside:
            is_beyond = limit.low > part.high if side == "low" else limit.high < part.low
            own = np.where(is_beyond & np.isfinite(limit.middle), np.inf, own)
        least = _chosen(candidate, own, least, block, rule.stations)
    return least


def _to_physics(rule: CompiledRule, chain: tuple[str, ...], block: EnclosedBlock) -> list[Array]:
    """The margins to the strictest that physics asks for, below and above."""
    found = []
    for side in ("low", "high"):
        each = (
            _chosen(candidate, _to_candidate(rule, candidate, side, block)[1], _NO_LIMIT, block, rule.stations)
            for candidate in rule.limits.candidates(chain, PHYSICS, side)
        )
        found.append(reduce(np.minimum, each, _NO_LIMIT))
    return found


def _to_candidate(rule: CompiledRule, candidate: Candidate, side: str, block: EnclosedBlock) -> tuple[Enclosure, Array]:
    """A limit, and the margin to it."""
    at = rule.stations
    size = block.evaluate(rule.per_unit_of, at) if rule.per_unit_of else None
    limit = _amount(candidate.bound, size, block, at)
    return limit, _margin(block.evaluate(rule.judges), limit, side, block)


def _amount(bound: Bound, size: Enclosure | None, block: EnclosedBlock, at: str | None) -> Enclosure:
    if bound.expression is not None:
        return enclosures.scaled(block.evaluate(bound.expression, at), bound.factor)
    constant = np.nan if bound.constant is None else bound.constant * bound.factor
    if not bound.is_ratio or size is None:
        return enclosures.constant(constant)
    return enclosures.scaled(size, constant)


def _margin(value: Enclosure, limit: Enclosure, side: str, block: EnclosedBlock) -> Array:
    """How far inside its limit a value lies at the least; nothing is shown of one that is missing or not covered."""
    inner, outer = (value, limit) if side == "low" else (limit, value)
    found = enclosures.subtract(block.boxes, inner, outer)
    if len(block.boxes.middles):
        block.boxes.blames(np.where(found.low < 0, _IN_LINE, 0.0), found)
    if value.is_bounded and limit.is_bounded:
        return found.low
    return np.where(np.isfinite(value.middle) & np.isfinite(limit.middle) & ~np.isnan(found.low), found.low, -np.inf)


def _chosen(candidate: Candidate, this: Array, otherwise: Array, block: EnclosedBlock, at: str | None) -> Array:
    """The margin that counts; the lesser of both where the condition may come out either way."""
    if candidate.when is None:
        return this
    condition = block.evaluate(candidate.when, at)
    is_told = (condition.low >= FALSE) & (condition.high <= TRUE)
    either = np.where(is_told, np.minimum(this, otherwise), -np.inf)
    return np.where(condition.low >= TRUE, this, np.where(condition.high <= FALSE, otherwise, either))


def _demanded(rule: CompiledRule, chain: tuple[str, ...], block: EnclosedBlock) -> list[Array]:
    """Nought where what is demanded holds, less where it may not."""

    def held(candidates: Sequence[Candidate]) -> Array:
        least = _NO_LIMIT
        for candidate in reversed(candidates):
            expression = candidate.bound.expression
            if expression is not None:
                own = np.where(block.evaluate(expression, rule.stations).low >= TRUE, 0.0, -1.0)
                least = _chosen(candidate, own, least, block, rule.stations)
        return least

    must, should = (held(rule.limits.candidates(chain, *position)) for position in DEMANDS)
    physics = (held([candidate]) for candidate in rule.limits.candidates(chain, PHYSICS, "broken"))
    must = reduce(np.minimum, physics, must)
    return [must, np.minimum(must, should), _NO_LIMIT, _NO_LIMIT]
