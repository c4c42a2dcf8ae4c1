"""Proof: what is said of a rule must be shown to hold wherever its readings may lie.

Readings moved one by one, or to the ends of intervals, show where a rule fails; that it holds in between they do not
show. So the rule is enclosed on all that its readings may be: each interval from end to end, and what is uncertain in
the ball in which the squares of the moves, as shares of the expanded uncertainties, add up to one at most. Where the
bounds are too loose to tell, the boxes are halved across what makes them so; what is not told in the end stays open.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from checker.expressions.enclose import can_turn, is_straight
from checker.expressions.enclosures import Boxes
from checker.expressions.expression import Expression
from checker.expressions.truth import ABSOLUTE_TOLERANCE, FALSE, TRUE, Array, Truths, slack
from checker.graph import Inputs
from checker.judging.block import Block, Shift
from checker.judging.conformity import Decision, Doubt, conforms
from checker.judging.corners import End, part_of
from checker.judging.enclosed import Cause, EnclosedBlock, Seen, see
from checker.judging.inputs import expressions_of
from checker.judging.judge import Measures
from checker.packs.compiled import CompiledRule
from checker.records.instruments import COVERAGE
from checker.records.part_sheet import PartLimit

See: TypeAlias = Callable[[EnclosedBlock], Seen]

MOST_BOXES = 512
MOST_ROUNDS = 24


class Claims(NamedTuple):
    """What is to be shown: margins that hold wherever the rule applies, by position and station; and at which stations
    it applies everywhere or nowhere.
    """

    holds: Truths
    applies: Truths

    def but(self, holds: Any, applies: Any) -> Claims:
        """Those that are left without others."""
        return Claims(self.holds & ~holds, self.applies & ~applies)


class Asked(NamedTuple):
    """A rule for an application and those it is like, on one record, with its part sheet and all it rests on."""

    rule: CompiledRule
    chain: tuple[str, ...]
    part: PartLimit | None
    inputs: Inputs
    measured: Block

    def enclosed(self, causes: Sequence[Cause]) -> EnclosedBlock:
        """The record wherever these causes may move it, as one box."""
        return EnclosedBlock(self.measured, causes, whole(causes))

    def see(self, block: EnclosedBlock) -> Seen:
        """What the rule sees, by box."""
        return see(self.rule, self.chain, self.part, block)

    def may_turn(self, block: EnclosedBlock) -> bool:
        """Whether a condition or a step that hangs on what is in doubt may come out either way."""
        with np.errstate(all="ignore"):
            return any(can_turn(expression) and block.may_turn(expression) for expression in self._expressions())

    def may_bend(self, block: EnclosedBlock) -> bool:
        """Whether what is in doubt may bear on anything that is no straight line."""
        if self.part is not None:
            return True  # of two limits the stricter counts
        return any(not is_straight(expression) and block.bears_on(expression) for expression in self._expressions())

    def _expressions(self) -> Iterator[Expression]:
        yield from expressions_of(self.rule, self.chain)
        items = self.measured.characteristics
        yield from filter(None, (items[name].derived for name in sorted(self.inputs.names)))


def proven(
    asked: Asked,
    uncertain: Sequence[Sequence[Shift]],
    ends: Sequence[End],
    measures: Measures,
    doubt: Doubt,
    decision: Decision,
    apart: EnclosedBlock,
) -> Doubt:
    """The doubt about a rule, its margins left open where they are not shown to hold.

    `uncertain` are the moves up by one expanded uncertainty, by cause, `measures` what the rule sees as measured, and
    `apart` the record with each value anywhere between its own ends.
    """
    limits, applies = measures.limits[:, :1], measures.applies[:1]
    tolerance = np.where(np.isfinite(limits), slack(limits), ABSOLUTE_TOLERANCE)
    met = conforms(measures.counted[:, :1], doubt, decision, tolerance) == TRUE
    claims = Claims(
        (met & (applies == TRUE) | (applies == FALSE))[:, 0], np.asarray((applies == TRUE) & ~met.all(axis=0))[0]
    )
    told = claims
    if not _are_plain(claims, asked.see(apart), tolerance[:, 0]):
        share = decision.guard() / COVERAGE
        # A condition is no margin whose probability could be told: it must not turn within all of the uncertainty.
        widest = max(share, 1.0)
        block = asked.enclosed(list(causes_of(uncertain, ends, widest)))
        if share < widest and not (share > 0 and asked.may_turn(block)):
            block = asked.enclosed(list(causes_of(uncertain, ends, share)))
        told = shown(claims, asked.see, block, tolerance[:, 0])
    everywhere = np.asarray(told.holds.all(axis=0))[np.newaxis]
    unclear = (applies == FALSE) & ~everywhere | (applies == TRUE) & (claims.applies & ~told.applies)[np.newaxis]
    return doubt._replace(
        shown=told.holds[:, np.newaxis] | ~met,
        applies=doubt.applies & ~everywhere,
        applies_at_all=doubt.applies_at_all & ~everywhere | unclear,
    )


def causes_of(uncertain: Iterable[Sequence[Shift]], ends: Iterable[End], part: float) -> Iterator[Cause]:
    """Causes of doubt, from the moves up of what is uncertain, to a part of its expanded uncertainty, and intervals."""
    for shifts in uncertain if part else ():
        yield Cause([(part_of(shift, part), part_of(shift, -part)) for shift in shifts], is_round=True)
    for up, down in ends:
        # The mean of several readings and the least of them are not held to each other.
        for view in up.sizes:
            one, other = (end._replace(sizes={view: end.sizes[view]}) for end in (up, down))
            yield Cause([(one, other)], is_round=False)


def whole(causes: Sequence[Cause]) -> Boxes:
    """All that is in doubt as one box."""
    middles = np.zeros((len(causes), 1))
    return Boxes(middles, np.ones_like(middles), np.array([cause.is_round for cause in causes], dtype=np.bool_))


def _are_plain(claims: Claims, seen: Seen, tolerance: Array) -> bool:
    """Whether a look at one box shows all of the claims."""
    never = seen.most_applies <= FALSE
    holds = (seen.margins >= -tolerance[:, np.newaxis]) | never
    is_told = (seen.least_applies >= TRUE) | never
    return bool((holds | ~claims.holds[:, np.newaxis]).all() and (is_told | ~claims.applies).all())


def shown(claims: Claims, see: See, block: EnclosedBlock, tolerance: Array) -> Claims:
    """What of the claims can be shown, from all that is in doubt on; `tolerance` is that at each limit."""
    left = claims
    ever = np.zeros((2, *claims.applies.shape), dtype=np.bool_)
    for _ in range(MOST_ROUNDS):
        seen, boxes = see(block), block.boxes
        holds = (seen.margins >= -tolerance[:, np.newaxis]) | (seen.most_applies <= FALSE)
        yes, no = seen.least_applies >= TRUE, seen.most_applies <= FALSE
        ever |= yes.any(axis=0), no.any(axis=0)
        is_point = (boxes.halves == 0).all(axis=0)
        left = left.but((~holds & yes)[:, is_point].any(axis=1), ever.all(axis=0))
        loose_holds, loose_applies = ~holds & left.holds[:, np.newaxis], ~(yes | no) & left.applies
        loose = (loose_holds.any(axis=(0, 2)) | loose_applies.any(axis=1)) & ~is_point
        if not loose.any():
            return left
        if 4 * loose.sum() > MOST_BOXES:
            break
        block = block.within(_halved(boxes, loose))
    return left.but(loose_holds.any(axis=1), loose_applies.any(axis=0))


def _halved(boxes: Boxes, loose: Truths) -> Boxes:
    """Each loose box in two, across what is to blame, and a point of each; without what lies outside the ball."""
    middles, halves, is_round = boxes.middles[:, loose], boxes.halves[:, loose], boxes.is_round[:, np.newaxis]
    across, each = np.argmax(boxes.blame[:, loose] * halves, axis=0), np.arange(middles.shape[1])
    smaller, step = halves.copy(), np.zeros_like(halves)
    smaller[across, each] /= 2
    step[across, each] = smaller[across, each]
    parts, sizes = np.concatenate([middles - step, middles + step], axis=1), np.concatenate([smaller, smaller], axis=1)
    nearest = np.where(is_round, np.clip(0.0, parts - sizes, parts + sizes), 0.0)
    inside = np.sqrt((nearest**2).sum(axis=0)) <= 1.0
    parts, sizes, nearest = parts[:, inside], sizes[:, inside], nearest[:, inside]
    is_out = np.sqrt((np.where(is_round, parts, 0.0) ** 2).sum(axis=0)) > 1.0
    points = np.concatenate([np.where(is_round & is_out, nearest, parts), *boxes.worst], axis=1)[:, :MOST_BOXES]
    return Boxes(
        np.concatenate([parts, points], axis=1),
        np.concatenate([sizes, np.zeros_like(points)], axis=1),
        boxes.is_round,
    )
