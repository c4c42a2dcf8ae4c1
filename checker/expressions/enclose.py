"""Evaluating checked expressions on enclosures: what evaluate.py does for values, for the bounds of values.

A function of a plugin that fails tells nothing of what is in doubt, and is noted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, TypeAlias

import numpy as np

from checker.expressions import enclosures, mathematics, truth
from checker.expressions.boxes import Boxes, Enclosure
from checker.expressions.enclosed_curves import curve
from checker.expressions.enclosed_reductions import over_stations
from checker.expressions.expression import Expression
from checker.expressions.faults import note
from checker.expressions.functions import FUNCTIONS, Function, FunctionError
from checker.expressions.names import Column
from checker.expressions.stations import (
    Grouping,
    Layout,
    by_parent,
    grouping,
    has_neighbour,
    lifted,
    neighbour,
    neighbours,
)
from checker.expressions.steps import Group
from checker.expressions.subsets import of_known, of_those
from checker.expressions.truth import Array, Truths
from checker.frozen import Applied

Enclosing: TypeAlias = Callable[..., Enclosure]

_ABOVE: Mapping[object, tuple[bool, bool]] = {
    truth.greater: (True, False),
    truth.at_least: (True, True),
    truth.less: (False, False),
    truth.at_most: (False, True),
}
"""Of each comparison, whether it asks for the greater, and whether equal counts."""


def enclose(expression: Expression, fetch: Callable[[Column], Enclosure], layout: Layout, boxes: Boxes) -> Enclosure:
    """Where the values of an expression lie, by box and station; `fetch` gives where those of a column do."""

    def value_of(leaf: float | Column | Group) -> Enclosure | Grouping:
        if isinstance(leaf, Column):
            return fetch(leaf)
        return grouping(layout, *leaf) if isinstance(leaf, Group) else enclosures.constant(leaf)

    program = expression.program
    try:
        values: Enclosure = program.run(map(value_of, program.leaves), partial(_called, boxes))
    except FunctionError as error:
        if not error.function.plugin:
            raise
        note(error.function.name, str(error))
        boxes.bends(np.ones((boxes.count, 1), dtype=np.bool_))
        return enclosures.anything().at(np.zeros(layout.count(expression.stations), dtype=np.intp))
    return values


def _called(boxes: Boxes, call: Any, given: list[Any]) -> Enclosure:
    if call is lifted:
        values, grouping = given
        return values.at(grouping.parents)  # type: ignore[no-any-return]
    if isinstance(call, Applied):
        return _APPLIED[call.function](boxes, *call.first, *given)
    if call in _ABOVE:
        is_above, counts_equal = _ABOVE[call]
        return enclosures.compared(boxes, given[0], given[1], is_above, counts_equal)
    own = _OWN.get(call)
    if own is not None:
        return own(boxes, *given)
    return over_stations(boxes, call, *given) if call.across else curve(boxes, call, *given)


def _in_order(boxes: Boxes, first: Any, second: Any, *given: Enclosure) -> Enclosure:
    each = (_called(boxes, first, list(given[:2])), _called(boxes, second, list(given[1:])))
    return _joined(np.minimum, boxes, *each)


def _neighbour(boxes: Boxes, step: int, values: Enclosure, grouping: Grouping) -> Enclosure:
    at = neighbours(step, grouping)
    there = at >= 0
    if values.middle.shape[-1] != len(at):
        at = np.zeros_like(at)
    return enclosures.chosen(there[np.newaxis], values.at(at), enclosures.exact(np.full((1, 1), np.nan)))


def _has_neighbour(boxes: Boxes, step: int, grouping: Grouping) -> Enclosure:
    return enclosures.exact(has_neighbour(step, grouping))


def _of_those(boxes: Boxes, call: Function, is_monotone: bool, *given: Enclosure) -> Enclosure:
    """By which stations belong to them, box by box; where that is open, whatever either way gives."""
    rows = boxes.count
    *values, membership = _alike(given)
    holds = np.broadcast_to(membership.low >= truth.TRUE, (rows, membership.low.shape[-1]))
    may_hold = holds | ~np.broadcast_to(membership.high <= truth.FALSE, holds.shape)
    least = _of_members(boxes, call, values, holds)
    is_open = (holds != may_hold).any(axis=-1, keepdims=True)
    if not is_open.any():
        return least
    either = enclosures.anything()
    if is_monotone:
        most = _of_members(boxes, call, values, may_hold)
        low, high = np.minimum(least.low, most.low), np.maximum(least.high, most.high)
        can_tell = np.isfinite(least.middle) & np.isfinite(most.middle)
        either = enclosures.between(np.where(can_tell, low, -np.inf), np.where(can_tell, high, np.inf))
    return enclosures.chosen(is_open, either, least)


def _of_members(boxes: Boxes, call: Function, values: list[Enclosure], members: Truths) -> Enclosure:
    result = enclosures.exact(np.full((1, 1), np.nan))
    left = np.flatnonzero(members.any(axis=-1))
    while left.size:
        pattern = members[left[0]]
        here = (members == pattern).all(axis=-1, keepdims=True)
        own = _called(boxes, call, [each.at(pattern) for each in values])
        result = enclosures.chosen(here, own, result)
        left = left[~here[left, 0]]
    return result


def _of_known(boxes: Boxes, call: Function, is_monotone: bool, *given: Enclosure) -> Enclosure:
    alike = _alike(given)
    each = []
    for station in range(alike[0].middle.shape[-1]):
        here = [enclosure.at(slice(station, station + 1)) for enclosure in alike]
        known, values = (_side_by_side(boxes, here[start::2]) for start in (0, 1))
        each.append(_of_those(boxes, call, is_monotone, values, known))
    return _side_by_side(boxes, each)


def _alike(given: tuple[Enclosure, ...]) -> list[Enclosure]:
    """All at as many stations."""
    whole = max(each.middle.shape[-1] for each in given)
    return [each if each.middle.shape[-1] == whole else each.at(np.zeros(whole, dtype=np.intp)) for each in given]


def _by_parent(boxes: Boxes, call: Any, grouping: Grouping, *given: Enclosure) -> Enclosure:
    alike = _alike(given)
    parts = [
        _called(boxes, call, [each.at(np.flatnonzero(grouping.parents == parent)) for each in alike])
        for parent in range(grouping.size)
    ]
    return _side_by_side(boxes, parts)


def _side_by_side(boxes: Boxes, parts: list[Enclosure]) -> Enclosure:
    rows = boxes.count

    def joined(arrays: list[Array]) -> Array:
        return np.concatenate([np.broadcast_to(array, (rows, array.shape[-1])) for array in arrays], axis=-1)

    slopes = None
    if any(part.slopes is not None for part in parts):
        each = [np.zeros((1, 1, 1)) if part.slopes is None else part.slopes for part in parts]
        slopes = np.concatenate(
            [np.broadcast_to(part, (len(boxes.middles), rows, part.shape[-1])) for part in each],
            axis=-1,
        )
    low, high, middle, error = (
        joined([getattr(part, name) for part in parts]) for name in ("low", "high", "middle", "error")
    )
    return Enclosure(low, high, middle, slopes, error, all(part.is_bounded for part in parts))


def _quotient(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    result = enclosures.multiply(boxes, x, enclosures.reciprocal(boxes, y))
    return enclosures.settled(result, mathematics.quotient, x, y)


def _power(boxes: Boxes, x: Enclosure, exponent: Enclosure) -> Enclosure:
    return enclosures.power(boxes, x, float(exponent.middle[0, 0]))


def _joined(either: Callable[[Array, Array], Array], boxes: Boxes, *given: Enclosure) -> Enclosure:
    """Conditions together; where one may not be told, nothing can be, unless the others decide."""
    low, high = given[0].low, given[0].high
    unclear = ~np.isfinite(given[0].middle) | ~np.isfinite(given[0].error)
    for each in given[1:]:
        low, high = either(low, each.low), either(high, each.high)
        unclear = unclear | ~np.isfinite(each.error)
    holds, fails = low >= truth.TRUE, high <= truth.FALSE
    return enclosures.truths(holds, fails, unclear & ~holds & ~fails)


def _negation(boxes: Boxes, given: Enclosure) -> Enclosure:
    return enclosures.between(truth.TRUE - given.high, truth.TRUE - given.low)


def _told(boxes: Boxes, given: Enclosure) -> Enclosure:
    """A view that is a condition: missing where it cannot be told."""
    return enclosures.truths(
        given.low >= truth.TRUE, given.high <= truth.FALSE, ~np.isfinite(given.error + given.middle)
    )


def _same(boxes: Boxes, given: Enclosure, choice: Enclosure) -> Enclosure:
    """Whether two choices are the same; one that may be any of several may be either of those it lies between."""
    is_known = np.isfinite(given.low + given.high) & np.isfinite(choice.low + choice.high)
    alike = given.is_exact & choice.is_exact & (given.middle == choice.middle)
    apart = (given.high < choice.low) | (choice.high < given.low)
    return enclosures.truths(alike & is_known, apart & is_known, ~is_known)


def _choose(boxes: Boxes, condition: Enclosure, then: Enclosure, otherwise: Enclosure) -> Enclosure:
    holds, fails = condition.low >= truth.TRUE, condition.high <= truth.FALSE
    both = (condition.low >= truth.FALSE) & (condition.high <= truth.TRUE)
    finite = np.isfinite(then.middle) & np.isfinite(otherwise.middle)
    low, high = np.minimum(then.low, otherwise.low), np.maximum(then.high, otherwise.high)
    either = enclosures.between(np.where(both & finite, low, -np.inf), np.where(both & finite, high, np.inf))
    return enclosures.chosen(holds, then, enclosures.chosen(fails, otherwise, either))


def _between_angles(boxes: Boxes, a: Enclosure, b: Enclosure) -> Enclosure:
    """It goes up and down by half turns: on one of them along the line, else between the folds that are passed."""
    apart = enclosures.absolute(boxes, enclosures.subtract(boxes, a, b))
    folds = np.floor(apart.low / np.pi)
    rises = folds % 2 == 0
    start = enclosures.exact(np.where(rises, folds, folds + 1) * np.pi)
    up, down = enclosures.subtract(boxes, apart, start), enclosures.subtract(boxes, start, apart)
    line = enclosures.chosen(rises, up, down)
    ends = [mathematics.between_angles(end, np.zeros_like(end)) for end in (apart.low, apart.high)]
    passed = np.floor(apart.high / np.pi) - folds
    low = np.where((passed > 1) | (passed == 1) & ~rises, 0.0, np.minimum(*ends))
    high = np.where((passed > 1) | (passed == 1) & rises, np.pi, np.maximum(*ends))
    bent = passed > 0
    if bent.any():
        boxes.bends(bent)
        boxes.blames(bent.astype(np.float64), apart)
    result = enclosures.chosen(bent, enclosures.between(low, high), line)
    return enclosures.settled(result, mathematics.between_angles, a, b)


def _hypotenuse(boxes: Boxes, x: Enclosure, y: Enclosure) -> Enclosure:
    squares = enclosures.add(boxes, enclosures.power(boxes, x, 2.0), enclosures.power(boxes, y, 2.0))
    result = enclosures.power(boxes, squares._replace(low=np.maximum(squares.low, 0.0)), 0.5)
    return enclosures.settled(result, np.hypot, x, y)


_APPLIED: Mapping[Any, Enclosing] = {
    by_parent: _by_parent,
    truth.in_order: _in_order,
    neighbour: _neighbour,
    has_neighbour: _has_neighbour,
    of_those: _of_those,
    of_known: _of_known,
}

_OWN: Mapping[Any, Enclosing] = {
    np.add: enclosures.add,
    np.subtract: enclosures.subtract,
    np.multiply: enclosures.multiply,
    np.divide: _quotient,
    np.power: _power,
    mathematics.quotient: _quotient,
    truth.all_of: partial(_joined, np.minimum),
    truth.any_of: partial(_joined, np.maximum),
    truth.negation: _negation,
    truth.told: _told,
    truth.same: _same,
    truth.choose: _choose,
    FUNCTIONS["abs"]: enclosures.absolute,
    FUNCTIONS["smaller_of"]: enclosures.smaller,
    FUNCTIONS["larger_of"]: enclosures.larger,
    FUNCTIONS["hypot"]: _hypotenuse,
    FUNCTIONS["between_angles"]: _between_angles,
}
