"""Tables of a pack as functions: steps, or straight lines between points; nothing beyond the ends."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

import numpy as np

from checker.errors import PackError, Problem
from checker.expressions.functions import Function
from checker.expressions.intervals import Interval, RangeError
from checker.expressions.polyline import Polyline
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
    end = None if table.up_to is None else argument.to_si(table.up_to)
    if end is not None and not table.stepped:
        # After its last row a line stays as it is.
        x, y = np.append(x, end), np.append(y, y[-1])
    x.flags.writeable = y.flags.writeable = False
    call: Callable[[Array], Array]
    bounds: Callable[[Interval], Interval]
    if table.stepped:
        call, bounds = (Applied(of_steps, (x, y, end)) for of_steps in (_stepped, _bounds))
    else:
        bounds = line = Polyline(x, y)
        call = line.at
    return Function(table.name, (argument.dimension,), result.dimension, call=call, bounds=bounds, ends=True)


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


def _stepped(x: Array, y: Array, end: float, values: Array) -> Array:
    """Each row holds from its own x up to that of the next; infinite, that is not covered, off the ends."""
    covered = (values >= least_equal(x[0])) & (values <= greatest_equal(end))
    return np.where(covered, _row(x, y, values), np.inf)


def _row(x: Array, y: Array, values: Array) -> Array:
    row = np.searchsorted(np.asarray(least_equal(x)), values, side="right") - 1
    return y[np.clip(row, 0, len(y) - 1)]


def _bounds(x: Array, y: Array, end: float, argument: Interval) -> Interval:
    """What it says at both ends of the argument, and in every row that begins between them."""
    start = float(x[0])
    if argument.high < least_equal(start) or argument.low > greatest_equal(end):
        raise RangeError("the table covers nothing of the argument")
    between = y[(least_equal(x) >= argument.low) & (least_equal(x) <= argument.high)]
    values = np.concatenate([_row(x, y, np.clip(np.array(argument), start, end)), between])
    return Interval(float(values.min()), float(values.max()))
