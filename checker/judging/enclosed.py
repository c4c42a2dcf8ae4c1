"""Where the values of a record lie whose readings may lie anywhere in boxes of their doubt."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from checker.expressions import enclosures
from checker.expressions.boxes import Boxes, Enclosure
from checker.expressions.enclose import enclose
from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import COMPUTED, MEASURED, VALUE, Column
from checker.expressions.truth import FALSE, TRUE, Array, Truths
from checker.judging.block import Block, Shift
from checker.packs.compiled import CompiledCharacteristic


class Cause(NamedTuple):
    """What moves readings up and down, each between two ends; one that is `round` is uncertain, alike both ways."""

    shifts: Sequence[tuple[Shift, Shift]]
    is_round: bool


def uncertain(shifts: Sequence[Shift]) -> Cause:
    """What moves readings together by their expanded uncertainties; the shifts are those up."""
    return Cause([(shift, shift) for shift in shifts], is_round=True)


class EnclosedBlock:
    """Where the values of records lie, by box of what is in doubt; what is not in doubt is what was measured.

    Each box is of one row of the block as measured; uncertain readings are off by a part of their expanded uncertainty
    at the most. With boxes of no causes, each value lies anywhere between its own ends: wider, and the same for every
    rule.
    """

    def __init__(self, measured: Block, causes: Sequence[Cause], part: float, boxes: Boxes) -> None:
        self.boxes = boxes
        self.layout = measured.layout
        self._measured = measured
        self._causes = causes
        self._part = part
        self._moves: Mapping[str, list[tuple[int, Cause, Shift, Shift]]] = defaultdict(list)
        for number, cause in enumerate(causes):
            for one, other in cause.shifts:
                self._moves[one.name].append((number, cause, one, other))
        self._noted: dict[Expression, tuple[Truths, Truths]] = {}
        self._known: dict[Column, Enclosure] = {}
        self._evaluated: dict[Expression, Enclosure] = {}

    def within(self, boxes: Boxes) -> EnclosedBlock:
        """The same records in other boxes of the same causes."""
        return EnclosedBlock(self._measured, self._causes, self._part, boxes)

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
            turned |= any(map(self._may_give_nothing, expression.columns))
            if (noted := self._noted.get(expression)) is not None:
                turned |= noted[0]
                bent |= noted[1]
        return turned, bent

    def evaluate(self, expression: Expression, at: str | None = None) -> Enclosure:
        """Where an expression lies at every station it speaks of, or lifted to stations that belong to those."""
        found = self._evaluated.get(expression)
        if found is None:
            if expression.column is not None:
                found = self.fetch(expression.column)
            elif self.bears_on(expression):
                found = self._enclosed(expression)
            else:
                found = _exact_of(expression, self._of_rows(self._measured.evaluate(expression)))
            self._evaluated[expression] = found
        if at is None or expression.stations in (None, at):
            return found
        return found.at(self.layout.children(at, expression.stations))

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
            found = self._known[column] = self._made(column)
        return found

    def _of_rows(self, values: Array) -> Array:
        """Values as measured, by box; in one row where they are alike in all."""
        return values if len(values) == 1 else values[self.boxes.rows]

    def _is_doubtful(self, name: str) -> bool:
        return self._measured.rests_on(name, self._moves.keys())

    def _may_give_nothing(self, column: Column) -> bool:
        """Whether that something is known hangs on a function that states no range and may be silent elsewhere."""
        derived = self._measured.characteristics[column.name].derived
        if derived is None or not column.view.startswith(KNOWN) or not self._is_doubtful(column.name):
            return False
        return any(function.bounds is None for function in derived.added)

    def _made(self, column: Column) -> Enclosure:
        item = self._measured.characteristics[column.name]
        if column.view.startswith(KNOWN) or not self._is_doubtful(column.name):
            as_measured = self._of_rows(self._measured.fetch(column))
            if self._may_give_nothing(column):
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
        return enclosures.chosen(is_open & np.isfinite(values), enclosures.anything(), found)

    def _ends(self, cause: Cause, one: Shift, other: Shift, view: str) -> tuple[Array, Array]:
        """How far a cause moves a view, both ways."""
        up = self._of_rows(one.sizes[view]) * one.stations
        if cause.is_round:
            return up * self._part, up * -self._part
        return up, self._of_rows(other.sizes[view]) * other.stations


def _exact_of(expression: Expression, values: Array) -> Enclosure:
    """What nothing in doubt bears on, as measured."""
    if expression.nature != "truth":
        return enclosures.exact(values)
    return enclosures.truths(values == TRUE, values == FALSE, (values != TRUE) & (values != FALSE))
