"""Proof: what is said of a rule must be shown to hold wherever its readings may lie.

Readings moved one by one, or to the ends of intervals, show where a rule fails; that it holds in between they do not
show. So the rule is enclosed on all that its readings may be: each interval from end to end, and what is uncertain in
the ball in which the squares of the moves, as shares of the expanded uncertainties, add up to one at most. Where the
bounds are too loose to tell, the boxes are halved across what makes them so; what is not told in the end stays open.
All rows of a table are enclosed at once, and only those are halved that are still open.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from checker.expressions.boxes import Boxes, Indices
from checker.expressions.truth import ABSOLUTE_TOLERANCE, FALSE, TRUE, Array, Truths, slack
from checker.judging.block import Block
from checker.judging.conformity import Decision, Doubt, conforms
from checker.judging.enclosed import Cause, EnclosedBlock
from checker.judging.enclosed_rule import EnclosedMeasures, limits_cross, see
from checker.judging.measures import Measures, measure
from checker.packs.compiled import CompiledRule, Inputs
from checker.records.instruments import COVERAGE
from checker.records.part_sheet import PartLimit

MOST_BOXES = 512
"""So many boxes of a row are looked at in one round."""
MOST_ROUNDS = 24
AT_ONCE = 50_000
"""So many slopes at one station are worked out together: more would only need more memory."""


class Claims(NamedTuple):
    """What is to be shown: by position, row and station, margins that hold wherever the rule applies; by row and
    station that it applies everywhere or nowhere.
    """

    holds: Truths
    applies: Truths

    def but(self, holds: Any, applies: Any) -> Claims:
        """Those that are left without others."""
        return Claims(self.holds & ~holds, self.applies & ~applies)


class Asked(NamedTuple):
    """A rule for an application and those it is like, on records, with its part sheet and all it rests on."""

    rule: CompiledRule
    chain: tuple[str, ...]
    part: PartLimit | None
    inputs: Inputs
    measured: Block

    def enclosed(self, causes: Sequence[Cause], part: float, rows: Indices) -> EnclosedBlock:
        """Some of the rows wherever these causes may move them, to a part of uncertainties, each as one box."""
        counting = [cause for cause in causes if part or not cause.is_round]
        return EnclosedBlock(self.measured, counting, part, whole(counting, rows))

    def measures(self, block: Block) -> Measures:
        """What the rule sees of a block."""
        return measure(self.rule, block, self.chain, self.part)

    def see(self, block: EnclosedBlock) -> EnclosedMeasures:
        """The same by box."""
        return see(self.rule, self.chain, self.part, block)

    def look(self, block: EnclosedBlock) -> tuple[Truths, Truths]:
        """In which boxes a condition or step in doubt may come out either way, and in which the rule may bend."""
        turned, bent = np.zeros((2, block.boxes.count), dtype=np.bool_)
        with np.errstate(all="ignore"):
            if self.inputs.bends:
                names = sorted(self.inputs.names & self.inputs.computed)
                derived = filter(None, (self.measured.characteristics[name].derived for name in names))
                turned, bent = block.look_at(tuple(self.rule.expressions(self.chain)), tuple(derived))
            # Of two limits the stricter counts, which bends where they change places.
            return turned, bent | limits_cross(self.rule, self.chain, block) | (self.part is not None)

    def may_not_apply(self, block: EnclosedBlock) -> bool:
        """Whether what is in doubt bears on whether the rule applies."""
        return any(block.bears_on(condition) for condition in filter(None, (self.rule.when, self.rule.unless)))


def apart_of(measured: Block, causes: Sequence[Cause], decision: Decision, rows: int) -> EnclosedBlock:
    """All that is in doubt about so many records, each value by itself between its own ends."""
    return EnclosedBlock(measured, causes, max(1.0, decision.guard() / COVERAGE), whole((), np.arange(rows)))


def proven(
    asked: Asked,
    causes: Callable[[], Sequence[Cause]],
    has_ends: bool,
    measures: Measures,
    doubt: Doubt,
    decision: Decision,
    apart: EnclosedBlock,
) -> Doubt:
    """The doubt about a rule, its margins left open where they are not shown to hold.

    That is asked between the ends of a reading, where a rule bends, and where a condition in doubt may turn. `causes`
    are worked out where anything is asked, `measures` is what the rule sees as measured, by row, and `apart` the same
    rows with each value anywhere between its own ends.
    """
    rows = apart.boxes.count
    wanted = _to_be_proven(asked, has_ends, decision, apart)
    if not asked.may_not_apply(apart):
        wanted &= (measures.applies != FALSE).any(axis=-1)
    if not wanted.any():
        return doubt
    measures = measures.of_rows(rows)
    limits, applies = measures.limits, measures.applies
    tolerance = np.where(np.isfinite(limits), slack(limits), ABSOLUTE_TOLERANCE)
    met = conforms(measures.value, limits, doubt, decision) == TRUE
    claims = Claims(met & (applies == TRUE) | (applies == FALSE), (applies == TRUE) & ~met.all(axis=0))
    proof = claims
    left = np.flatnonzero(wanted & ~_are_plain(claims, asked.see(apart), tolerance))
    if left.size:
        proof = _shown_in(left, claims, asked, causes(), decision, tolerance)
    is_asked = wanted[:, np.newaxis]
    everywhere = proof.holds.all(axis=0) & is_asked
    unclear = (applies == FALSE) & ~everywhere | (applies == TRUE) & claims.applies & ~proof.applies
    return doubt._replace(
        shown=proof.holds | ~met | ~is_asked,
        applies=doubt.applies & ~everywhere,
        applies_at_all=doubt.applies_at_all & ~everywhere | unclear & is_asked,
    )


def _to_be_proven(asked: Asked, has_ends: bool, decision: Decision, apart: EnclosedBlock) -> Truths:
    """In which rows first order does not show all there is to show."""
    if has_ends or decision.guard() == 0:
        return np.full(apart.boxes.count, has_ends)
    turned, bent = asked.look(apart)
    return turned | bent


def _shown_in(
    rows: Indices, claims: Claims, asked: Asked, causes: Sequence[Cause], decision: Decision, tolerance: Array
) -> Claims:
    """What of the claims can be shown in some of the rows; the others stay as they are."""
    share = decision.guard() / COVERAGE
    # A condition is no margin whose probability could be told: it must not turn within all of the uncertainty.
    widest = max(share, 1.0)
    parts = [asked.enclosed(causes, widest, rows)]
    if share < widest:
        turns = asked.look(parts[0])[0] & (share > 0)
        parts = [
            asked.enclosed(causes, part, rows[some]) for part, some in ((widest, turns), (share, ~turns)) if some.any()
        ]
    for block in parts:
        claims = shown(claims, asked, block, tolerance)
    return claims


def whole(causes: Sequence[Cause], rows: Indices) -> Boxes:
    """All that is in doubt about each of the rows as one box."""
    middles = np.zeros((len(causes), len(rows)))
    is_round = np.array([cause.is_round for cause in causes], dtype=np.bool_)
    return Boxes(middles, np.ones_like(middles), is_round, rows, is_whole=True)


def _are_plain(claims: Claims, seen: EnclosedMeasures, tolerance: Array) -> Truths:
    """In which rows a look at one box shows all of the claims."""
    never = seen.most_applies <= FALSE
    holds = (seen.margins >= -tolerance) | never
    is_told = (seen.least_applies >= TRUE) | never
    return np.asarray((holds | ~claims.holds).all(axis=(0, 2)) & (is_told | ~claims.applies).all(axis=1))


def shown(claims: Claims, asked: Asked, block: EnclosedBlock, tolerance: Array) -> Claims:
    """What of the claims can be shown, from all that is in doubt on; `tolerance` is that at each limit."""
    left, ever = claims, np.zeros((2, *claims.applies.shape), dtype=np.bool_)
    waiting = [(MOST_ROUNDS, boxes) for boxes in _in_parts(block.boxes)]
    while waiting:
        rounds, boxes = waiting.pop()
        block, rows, count = block.within(boxes), boxes.rows, len(claims.applies)
        seen = asked.see(block)
        holds = (seen.margins >= -tolerance[:, rows]) | (seen.most_applies <= FALSE)
        yes, no = seen.least_applies >= TRUE, seen.most_applies <= FALSE
        ever |= _any_of(np.stack([yes, no]), rows, count)
        is_point = (boxes.halves == 0).all(axis=0)
        left = left.but(_any_of((~holds & yes)[:, is_point], rows[is_point], count), ever.all(axis=0))
        loose_holds, loose_applies = ~holds & left.holds[:, rows], ~(yes | no) & left.applies[rows]
        loose = (loose_holds.any(axis=(0, 2)) | loose_applies.any(axis=1)) & ~is_point
        is_over = (4 * np.bincount(rows[loose], minlength=count) > MOST_BOXES) | (loose.any() and rounds == 1)
        given_up = is_over[rows]
        open_holds = _any_of(loose_holds & given_up[:, np.newaxis], rows, count)
        left = left.but(open_holds, _any_of((loose_applies & given_up[:, np.newaxis])[np.newaxis], rows, count)[0])
        loose &= ~given_up
        if loose.any():
            waiting += [(rounds - 1, part) for part in _in_parts(_halved(boxes, loose))]
    return left


def _any_of(truths: Truths, rows: Indices, count: int) -> Truths:
    """By position, row and station whether something is so in any box of the row."""
    found = np.zeros((len(truths), count, truths.shape[-1]), dtype=np.bool_)
    at, boxes, stations = np.nonzero(truths)
    found[at, rows[boxes], stations] = True
    return found


def _in_parts(boxes: Boxes) -> Iterator[Boxes]:
    """Boxes of some rows each, as many as are looked at together."""
    most = max(MOST_BOXES, AT_ONCE // max(1, len(boxes.middles)))
    middle = np.median(boxes.rows) if boxes.count > most else 0
    if boxes.count <= most or boxes.rows.min() == boxes.rows.max():
        yield boxes
        return
    below = boxes.rows <= middle if (boxes.rows > middle).any() else boxes.rows < middle
    for some in (below, ~below):
        yield from _in_parts(boxes.some(some))


def _halved(boxes: Boxes, loose: Truths) -> Boxes:
    """Each loose box in two, across what is to blame, and a point of each; without what lies outside the ball."""
    middles, halves, is_round = boxes.middles[:, loose], boxes.halves[:, loose], boxes.is_round[:, np.newaxis]
    with np.errstate(all="ignore"):
        blame, worst = boxes.blamed()
    across, each = np.argmax(blame[:, loose] * halves, axis=0), np.arange(middles.shape[1])
    smaller, step = halves.copy(), np.zeros_like(halves)
    smaller[across, each] /= 2
    step[across, each] = smaller[across, each]
    parts, sizes = np.concatenate([middles - step, middles + step], axis=1), np.concatenate([smaller, smaller], axis=1)
    rows = np.tile(boxes.rows[loose], 2)
    nearest = np.where(is_round, np.clip(0.0, parts - sizes, parts + sizes), 0.0)
    inside = np.sqrt((nearest**2).sum(axis=0)) <= 1.0
    parts, sizes, nearest, rows = parts[:, inside], sizes[:, inside], nearest[:, inside], rows[inside]
    is_out = np.sqrt((np.where(is_round, parts, 0.0) ** 2).sum(axis=0)) > 1.0
    points = [np.where(is_round & is_out, nearest, parts), *(furthest for furthest, _ in worst)]
    of_points = np.concatenate([rows, *(own for _, own in worst)])
    kept = np.isin(of_points, rows) & (_rank(of_points) < MOST_BOXES)
    exact = np.concatenate(points, axis=1)[:, kept]
    return Boxes(
        np.concatenate([parts, exact], axis=1),
        np.concatenate([sizes, np.zeros_like(exact)], axis=1),
        boxes.is_round,
        np.concatenate([rows, of_points[kept]]),
    )


def _rank(rows: Indices) -> Indices:
    """The how manyeth of its row each is."""
    order = np.argsort(rows, kind="stable")
    found = np.empty_like(rows)
    found[order] = np.arange(len(rows)) - np.searchsorted(rows[order], rows[order])
    return found
