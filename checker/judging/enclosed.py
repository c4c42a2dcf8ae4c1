"""What a rule sees of a record whose readings may lie anywhere in boxes of their doubt."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence, Set
from functools import reduce
from typing import NamedTuple

import numpy as np

from checker.expressions import enclosures
from checker.expressions.enclose import enclose
from checker.expressions.enclosures import Boxes, Enclosure
from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import COMPUTED, MEASURED, VALUE, Column
from checker.expressions.truth import FALSE, TRUE, Array, Truths
from checker.judging.block import Block, Shift
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.limit_set import DEMANDS, POSITIONS, Bound, Candidate
from checker.packs.limits import PHYSICS
from checker.records.part_sheet import PartLimit

_IN_LINE = 1e-3
"""How much a cause counts that moves a margin along a straight line, beside those that make its bounds loose."""

_NO_LIMIT = np.full((1, 1), np.inf)


class Cause(NamedTuple):
    """What moves readings, each to parts of two moves; one that is `round` is uncertain, not an interval."""

    shifts: Sequence[tuple[Shift, Shift]]
    parts: tuple[float, float]
    is_round: bool


class Seen(NamedTuple):
    """The least margin by position, box and station, and the bounds of whether the rule applies, by box and station."""

    margins: Array
    least_applies: Array
    most_applies: Array


class EnclosedBlock:
    """Where the values of records lie, by box of what is in doubt; what is not in doubt is what was measured.

    Each box is of one row of the block as measured. With boxes of no causes, each value lies anywhere between its own
    ends: wider, and the same for every rule. The one `beside`, of the same boxes, differs only in what rests on some
    names.
    """

    def __init__(
        self,
        measured: Block,
        causes: Sequence[Cause],
        boxes: Boxes,
        beside: tuple[EnclosedBlock, Set[str]] | None = None,
    ) -> None:
        self.boxes = boxes
        self.layout = measured.layout
        self._measured = measured
        self._causes = causes
        self._beside = beside
        self._moves: Mapping[str, list[tuple[int, Cause, Shift, Shift]]] = defaultdict(list)
        for number, cause in enumerate(causes):
            for one, other in cause.shifts:
                self._moves[one.name].append((number, cause, one, other))
        self._noted: dict[Expression, tuple[Truths, Truths]] = {}
        self._known: dict[Column, Enclosure] = {}
        self._evaluated: dict[Expression, Enclosure] = {}
        self._lifted: dict[tuple[Expression, str], Enclosure] = {}

    def within(self, boxes: Boxes) -> EnclosedBlock:
        """The same records in other boxes of the same causes."""
        return EnclosedBlock(self._measured, self._causes, boxes)

    def bears_on(self, expression: Expression) -> bool:
        """Whether anything in doubt bears on an expression."""
        return any(self._is_doubtful(column.name) for column in expression.columns)

    def look_at(self, own: Collection[Expression], derived: Collection[Expression]) -> tuple[Truths, Truths]:
        """In which boxes a comparison or a step may come out either way, and in which values may bend.

        That is asked of some expressions, and of what is derived as far as it counts in them.
        """
        turned, bent = (np.zeros(self.boxes.count, dtype=np.bool_) for _ in range(2))
        for expression in own:
            if self.bears_on(expression):
                self.evaluate(expression)
        for expression in (*own, *derived):
            if (noted := self._told_of(expression)) is not None:
                turned |= noted[0]
                bent |= noted[1]
        return turned, bent

    def _told_of(self, expression: Expression) -> tuple[Truths, Truths] | None:
        noted = self._noted.get(expression)
        return noted if noted is not None or self._beside is None else self._beside[0]._told_of(expression)

    def _alike(self, columns: Iterable[Column]) -> EnclosedBlock | None:
        """The one beside where it says the same of all columns."""
        if self._beside is None:
            return None
        other, names = self._beside
        return None if any(self._measured.rests_on(column.name, names) for column in columns) else other

    def evaluate(self, expression: Expression, at: str | None = None) -> Enclosure:
        """Where an expression lies at every station it speaks of, or lifted to stations that belong to those."""
        found = self._evaluated.get(expression)
        if found is None:
            if expression.column is not None:
                found = self.fetch(expression.column)
            elif (other := self._alike(expression.columns)) is not None:
                found = other.evaluate(expression)
            elif self.bears_on(expression):
                found = self._enclosed(expression)
            else:
                found = _exact_of(expression, self._of_rows(self._measured.evaluate(expression)))
            self._evaluated[expression] = found
        if at is None or expression.stations in (None, at):
            return found
        lifted = self._lifted.get((expression, at))
        if lifted is None:
            lifted = self._lifted[expression, at] = found.at(self.layout.children(at, expression.stations))
        return lifted

    def _enclosed(self, expression: Expression) -> Enclosure:
        """Where an expression lies, noting where it turns and where it bends."""
        boxes, before = self.boxes, (self.boxes.turned, self.boxes.bent)
        boxes.turned, boxes.bent = (np.zeros_like(noted) for noted in before)
        found = enclose(expression, self.fetch, self.layout, boxes)
        self._noted[expression] = boxes.turned, boxes.bent
        boxes.turned, boxes.bent = before[0] | boxes.turned, before[1] | boxes.bent
        return found

    def fetch(self, column: Column) -> Enclosure:
        """Where a column lies, lifted to the stations it is wanted at."""
        found = self._known.get(column)
        if found is None:
            other = self._alike([column])
            found = self._known[column] = self._made(column) if other is None else other.fetch(column)
        return found

    def _of_rows(self, values: Array) -> Array:
        """Values as measured, by box; in one row where they are alike in all."""
        return values if len(values) == 1 else values[self.boxes.rows]

    def _is_doubtful(self, name: str) -> bool:
        behind = self._measured.characteristics[name].inputs.names
        return name in self._moves or not self._moves.keys().isdisjoint(behind)

    def _may_give_nothing(self, item: CompiledCharacteristic) -> bool:
        """Whether a function that states no range may be silent elsewhere, though not of what was measured."""
        added = () if item.derived is None else item.derived.added
        return any(function.bounds is None for function in added) and self._is_doubtful(item.name)

    def _made(self, column: Column) -> Enclosure:
        item = self._measured.characteristics[column.name]
        if column.view.startswith(KNOWN) or not self._is_doubtful(column.name):
            as_measured = self._of_rows(self._measured.fetch(column))
            if column.view.startswith(KNOWN) and self._may_give_nothing(item):
                self.boxes.turns(np.ones((self.boxes.count, 1), dtype=np.bool_))
                nowhere = np.zeros(as_measured.shape, dtype=np.bool_)
                return enclosures.truths(nowhere, nowhere, ~nowhere)
            return enclosures.exact(as_measured)
        own = item.characteristic.per
        if column.at is not None and column.at != own and own is not None:
            return self.fetch(column._replace(at=own)).at(self.layout.children(column.at, own))
        as_measured = self._of_rows(self._measured.fetch(column))
        if column.view not in (VALUE, COMPUTED):
            return self._moved(column, VALUE if column.view == MEASURED else column.view, as_measured)
        found = self._moved(column, VALUE, as_measured) if column.view == VALUE else None
        if item.derived is not None:
            direct = self._of_rows(self._measured.measured.get(item.name, np.full_like(as_measured[:1], np.nan)))
            lacks = np.isnan(direct)
            if found is None:
                found = self._computed(item, item.derived)
            elif lacks.any():
                found = enclosures.chosen(lacks, self._computed(item, item.derived), found)
        # What is impossible or not covered as measured counts for nothing, wherever it may lie.
        lost = ~np.isfinite(as_measured)
        whole = enclosures.exact(as_measured) if found is None else found
        return enclosures.chosen(lost, enclosures.exact(as_measured), whole) if lost.any() else whole

    def _computed(self, item: CompiledCharacteristic, derived: Expression) -> Enclosure:
        found = self.evaluate(derived, item.characteristic.per)
        count = self.layout.count(item.characteristic.per)
        return found if found.middle.shape[-1] == count else found.at(np.zeros(count, dtype=np.intp))

    def _moved(self, column: Column, view: str, values: Array) -> Enclosure:
        """Values as measured, and how each cause moves them."""
        moves = [
            (number, *self._ends(cause, one, other, view))
            for number, cause, one, other in self._moves.get(column.name, ())
            if view in one.sizes
        ]
        if not moves:
            return enclosures.exact(values)
        if not len(self.boxes.middles):
            low, high = (
                values + sum(reach(one, other) for _, one, other in moves) for reach in (np.minimum, np.maximum)
            )
            found = enclosures.between(low, high)
            if found.is_bounded:
                return found
            values = np.broadcast_to(values, low.shape)
            is_open = np.isnan(np.asarray(high - low)) & np.isfinite(values)
            return enclosures.between(np.where(is_open, -np.inf, low), np.where(is_open, np.inf, high))
        shape = np.broadcast_shapes(values.shape, *(one.shape for _, one, _ in moves))
        values = np.broadcast_to(values, shape)
        slopes = np.zeros((len(self.boxes.middles), *shape))
        offset, is_open = np.zeros(shape), np.zeros(shape, dtype=np.bool_)
        for number, one, other in moves:
            half, middle = (one - other) / 2, (one + other) / 2
            known = np.isfinite(half)
            if not known.all():
                lost = ~known
                is_open |= lost
                half, middle = np.where(lost, 0.0, half), np.where(np.isfinite(middle), middle, 0.0)
            slopes[number] += half
            offset += middle
        middle = values + offset
        if not self.boxes.is_whole:
            middle = middle + np.add.reduce(slopes * self.boxes.middles[:, :, np.newaxis])
        found = self.boxes.enclosure(middle, slopes, np.zeros(shape), -np.inf, np.inf)
        if found.is_bounded and not is_open.any():
            return found
        found = enclosures.settled(found, np.positive, found)
        anything = enclosures.between(np.full_like(values, -np.inf), np.full_like(values, np.inf))
        return enclosures.chosen(is_open & np.isfinite(values), anything, found)

    def _ends(self, cause: Cause, one: Shift, other: Shift, view: str) -> tuple[Array, Array]:
        """How far a cause moves a view, both ways."""
        up = self._of_rows(one.sizes[view]) * one.stations
        down = up if other is one else self._of_rows(other.sizes[view]) * other.stations
        return up * cause.parts[0], down * cause.parts[1]


def _exact_of(expression: Expression, values: Array) -> Enclosure:
    """What nothing in doubt bears on, as measured."""
    if expression.nature != "truth":
        return enclosures.exact(values)
    return enclosures.truths(values == TRUE, values == FALSE, (values != TRUE) & (values != FALSE))


def see(rule: CompiledRule, chain: tuple[str, ...], part: PartLimit | None, block: EnclosedBlock) -> Seen:
    """What a rule sees for an application and those it is like; see judge.measure."""
    with np.errstate(all="ignore"):
        low, high = _applies(rule, block)
        if rule.is_demand:
            margins = _demanded(rule, chain, block)
        elif part is None:
            margins = _limited(rule, chain, block)
        else:
            is_unclear = part.speaks & ~np.isfinite(high - low)
            low, high = np.where(is_unclear, TRUE, low), np.where(is_unclear, TRUE, high)
            margins = _limited_by_sheet(rule, chain, part, block, is_unclear)
        # Filling an array takes a fraction of what broadcasting small ones does.
        whole = np.empty((len(margins) + 2, block.boxes.count, block.layout.count(rule.stations)))
        for position, part_of_all in enumerate((*margins, low, high)):
            whole[position] = part_of_all
    return Seen(whole[:-2], whole[-2], whole[-1])


def _applies(rule: CompiledRule, block: EnclosedBlock) -> tuple[Array, Array]:
    low = high = np.full((1, 1), TRUE)
    if rule.when is not None:
        found = block.evaluate(rule.when, rule.stations)
        low, high = np.minimum(low, found.low), np.minimum(high, found.high)
    if rule.unless is not None:
        found = block.evaluate(rule.unless, rule.stations)
        low, high = np.minimum(low, TRUE - found.high), np.minimum(high, TRUE - found.low)
    return low, high


def _limited(rule: CompiledRule, chain: tuple[str, ...], block: EnclosedBlock) -> list[Array]:
    found = [_to_practice(rule, chain, position, None, block) for position in POSITIONS]
    return _beside_physics(found, _to_physics(rule, chain, block))


def _limited_by_sheet(
    rule: CompiledRule, chain: tuple[str, ...], part: PartLimit, block: EnclosedBlock, is_unclear: Truths
) -> list[Array]:
    """The same where a part sheet speaks; of packs that may not speak there at all nothing is shown."""

    def left(margin: Array) -> Array:
        return np.where(is_unclear & (margin != np.inf), -np.inf, margin)

    value, found = block.evaluate(rule.judges), []
    for (band, side), end in zip(POSITIONS, (part.low, part.low, part.high, part.high), strict=True):
        margin = left(_to_practice(rule, chain, (band, side), part, block))
        own = np.where(np.isinf(end), np.inf, _margin(value, enclosures.exact(end), side, block))
        if part.is_beside:
            found.append(np.minimum(margin, own) if band == "must" else margin)
        else:
            found.append(np.where(np.isinf(end), margin, own if band == "must" else np.inf))
    return _beside_physics(found, [left(margin) for margin in _to_physics(rule, chain, block)])


def _beside_physics(limits: list[Array], physics: Sequence[Array]) -> list[Array]:
    return [np.minimum(limits[0], physics[0]), *limits[1:3], np.minimum(limits[3], physics[1])]


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
