"""Tables of a pack as functions: steps, or straight lines between points; nothing beyond the ends."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from checker.errors import PackError, Problem
from checker.expressions.functions import Function
from checker.expressions.intervals import Interval, RangeError
from checker.expressions.truth import Array, greatest_equal, least_equal
from checker.frozen import Applied
from checker.packs.figures import Table
from checker.units.units import Unit


def table_function(table: Table, argument: Unit, result: Unit) -> Function:
    """The function of a table; raises PackError when its rows are in no order."""
    faults = list(_faults(table))
    if faults:
        raise PackError(Problem(f"table {table.name}: {fault}", table.origin.place) for fault in faults)
    x = np.array([argument.to_si(row[0]) for row in table.rows])
    y = np.array([result.to_si(row[1]) for row in table.rows])
    x.flags.writeable = y.flags.writeable = False
    end = float(x[-1]) if table.up_to is None else argument.to_si(table.up_to)
    look_up = Applied(_stepped if table.stepped else _linear, (x, y))
    return Function(
        table.name,
        (argument.dimension,),
        result.dimension,
        call=Applied(_covered, (look_up, float(x[0]), end)),
        bounds=Applied(_bounds, (look_up, x, y, end)),
        ends=True,
    )


def _faults(table: Table) -> Iterator[str]:
    marks = [row[0] for row in table.rows]
    if table.stepped and table.up_to is None:
        yield "the last step has no end; say up_to"
    if table.up_to is not None:
        marks.append(table.up_to)
    if len(marks) < 2:
        yield "one point makes no line"
    for mark, following in pairwise(marks):
        if not mark < following:
            yield f"{following:g} does not lie above {mark:g}"


def _stepped(x: Array, y: Array, values: Array) -> Array:
    """Each row holds from its own x up to that of the next."""
    row = np.searchsorted(np.asarray(least_equal(x)), values, side="right") - 1
    return y[np.clip(row, 0, len(y) - 1)]


def _linear(x: Array, y: Array, values: Array) -> Array:
    return np.interp(values, x, y)


def _covered(look_up: Applied, start: float, end: float, values: Array) -> Array:
    """What the table says; infinite, that is not covered, off its ends."""
    inside = (values >= least_equal(start)) & (values <= greatest_equal(end))
    return np.where(inside, look_up(values), np.inf)


def _bounds(look_up: Applied, x: Array, y: Array, end: float, argument: Interval) -> Interval:
    """What it says at both ends of the argument, and in every row that begins between them."""
    start = float(x[0])
    if argument.high < least_equal(start) or argument.low > greatest_equal(end):
        raise RangeError("the table covers nothing of the argument")
    between = y[(least_equal(x) >= argument.low) & (least_equal(x) <= argument.high)]
    values = np.concatenate([look_up(np.clip(np.array(argument), start, end)), between])
    return Interval(float(values.min()), float(values.max()))
