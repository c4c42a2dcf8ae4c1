"""Evaluating checked expressions on sensitivities: what evaluate.py does for values, for how far values may move."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial, reduce
from typing import Any

import numpy as np

from checker.expressions import sensitivity, truth
from checker.expressions.expression import Expression
from checker.expressions.functions import FUNCTIONS, Function
from checker.expressions.mathematics import quotient
from checker.expressions.names import Column
from checker.expressions.sensitivity import Sensitivity, UnboundedError, either, exactly, of_exact, side_by_side
from checker.expressions.stations import Grouping, Layout, by_parent, grouping, lifted, neighbour, neighbours
from checker.expressions.steps import Group
from checker.expressions.subsets import of_known, of_those
from checker.frozen import Applied


def differentiate(expression: Expression, fetch: Callable[[Column], Sensitivity], layout: Layout) -> Sensitivity:
    """The sensitivity of an expression; `fetch` gives that of a column. Raises UnboundedError."""

    def value_of(leaf: float | Column | Group) -> Sensitivity | Grouping:
        if isinstance(leaf, Column):
            return fetch(leaf)
        return grouping(layout, *leaf) if isinstance(leaf, Group) else exactly(np.array([[leaf]]))

    program = expression.program
    with np.errstate(all="ignore"):
        found: Sensitivity = program.run(map(value_of, program.leaves), _called)
    return found


def _called(call: Any, given: list[Any]) -> Sensitivity:
    if call is lifted:
        values, grouping = given
        return values.at(grouping.parents)  # type: ignore[no-any-return]
    of_applied = _APPLIED.get(call.function) if isinstance(call, Applied) else None
    if of_applied is not None:
        return of_applied(*call.first, *given)
    if call in _RISING:
        return _compared(call, *given)
    if any(each.low.size == 0 for each in given if isinstance(each, Sensitivity)):
        raise UnboundedError
    if (reduction := _ACROSS.get(call)) is not None:
        return reduction(*given)
    own = _AT_EACH_STATION.get(call)
    found = of_exact(call, *given) if own is None else own(*given)
    return found if own is None else found.of_stations(max(each.low.shape[-1] for each in given))


def _compared(call: Any, x: Sensitivity, y: Sensitivity) -> Sensitivity:
    """A comparison; it is in doubt where it does not come out alike in all rows, wherever they may lie."""
    moves = y.moves if x.moves is None else x.moves
    if moves is None:
        return of_exact(call, x, y)
    ends = (x.low, x.high) if _RISING[call] else (x.high, x.low)
    worst, best = call(ends[0], y.high if _RISING[call] else y.low), call(ends[1], y.low if _RISING[call] else y.high)
    if ((worst == best) & (worst != truth.CANNOT_TELL)).all():
        return exactly(worst)
    return Sensitivity(np.full((1, 1), truth.FALSE), np.full((1, 1), truth.TRUE), np.zeros((1, moves.shape[1], 1)))


_RISING: Mapping[Any, bool] = {truth.greater: True, truth.at_least: True, truth.less: False, truth.at_most: False}
"""Of each comparison, whether it rises with what is compared."""


def _in_order(first: Any, second: Any, *given: Sensitivity) -> Sensitivity:
    return of_exact(truth.all_of, _compared(first, *given[:2]), _compared(second, *given[1:]))


def _choose(condition: Sensitivity, then: Sensitivity, otherwise: Sensitivity) -> Sensitivity:
    if (condition.low >= truth.TRUE).all():
        return then
    if (condition.high <= truth.FALSE).all():
        return otherwise
    found = either(then, otherwise)
    if condition.moves is None:
        return found
    if not (then.is_told and otherwise.is_told):
        raise UnboundedError  # what the other one is in a row is known of numbers alone
    far = np.zeros((1, condition.moves.shape[1], found.low.shape[-1]))
    far[:, 0] = found.high - found.low
    return found._replace(moves=np.concatenate([-far, far, np.zeros_like(far)]))


def _by_parent(call: Any, grouping: Grouping, *given: Sensitivity) -> Sensitivity:
    whole = [each.of_stations(len(grouping.parents)) for each in given]
    members = [np.flatnonzero(grouping.parents == parent) for parent in range(grouping.size)]
    return side_by_side([_called(call, [each.at(own) for each in whole]) for own in members])


def _neighbour(step: int, values: Sensitivity, grouping: Grouping) -> Sensitivity:
    """At the end of a line there is no value, whatever stands here."""
    return values.of_stations(len(grouping.parents)).at(np.maximum(neighbours(step, grouping), 0))


def _of_those(call: Function, is_monotone: bool, *given: Sensitivity) -> Sensitivity:
    count = max(each.low.shape[-1] for each in given)
    *values, membership = (each.of_stations(count) for each in given)
    if all(each.moves is None for each in given):
        return of_exact(Applied(of_those, (call, is_monotone)), *given)
    if not membership.is_told or not np.isin(membership.low, (truth.TRUE, truth.FALSE)).all():
        raise UnboundedError
    members = membership.low[0] == truth.TRUE
    return _called(call, [each.at(members) for each in values]) if members.any() else exactly(np.full((1, 1), np.nan))


def _of_known(call: Function, is_monotone: bool, *given: Sensitivity) -> Sensitivity:
    """The least and the greatest of some follow one of them; their mean lies between, and may stay while they move."""
    if any(known.moves is not None for known in given[::2]):
        raise UnboundedError
    found = reduce(either, given[1::2])
    return sensitivity.or_less(found) if call is FUNCTIONS["mean_known"] else found


_APPLIED: Mapping[Any, Callable[..., Sensitivity]] = {
    by_parent: _by_parent,
    truth.in_order: _in_order,
    neighbour: _neighbour,
    of_those: _of_those,
    of_known: _of_known,
}

_AT_EACH_STATION: Mapping[Any, Callable[..., Sensitivity]] = {
    np.add: sensitivity.add,
    np.subtract: sensitivity.subtract,
    np.multiply: sensitivity.multiply,
    np.divide: sensitivity.divide,
    np.power: sensitivity.power,
    quotient: sensitivity.divide,
    truth.choose: _choose,
    FUNCTIONS["abs"]: sensitivity.absolute,
    FUNCTIONS["sqrt"]: sensitivity.root,
    FUNCTIONS["hypot"]: sensitivity.hypotenuse,
    FUNCTIONS["smaller_of"]: partial(sensitivity.extreme, np.minimum),
    FUNCTIONS["larger_of"]: partial(sensitivity.extreme, np.maximum),
}

_ACROSS: Mapping[Any, Callable[[Sensitivity], Sensitivity]] = {
    FUNCTIONS["total"]: sensitivity.total,
    FUNCTIONS["mean"]: sensitivity.mean,
    FUNCTIONS["least"]: partial(sensitivity.of_one, np.minimum),
    FUNCTIONS["greatest"]: partial(sensitivity.of_one, np.maximum),
    FUNCTIONS["spread"]: sensitivity.spread,
}
