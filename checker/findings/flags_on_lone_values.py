"""Values without neighbours: where the only one of its kind breaks a must, a slip that would hold it is told.

With no other station to compare with, the band of the rule is all there is to go by. The value counts as written.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

import numpy as np

from checker.expressions.names import VALUE
from checker.findings.context import Context
from checker.judging.judge import Judged, Verdict
from checker.records.entry import Reading
from checker.records.slip_guesses import TWOFOLD, Guess, guesses
from checker.records.slips import PRECISE, is_within, lies_within


def lone_values_outside(judged: Iterable[Judged], context: Context) -> Iterator[tuple[Reading, str]]:
    """Each reading that stands alone and breaks a must as written, with what it may have been."""
    alone = Counter(name for name, _ in context.written)
    told: set[str] = set()
    for one in judged:
        column = None if one.rule.is_demand else one.rule.judges.column
        if column is None or column.view != VALUE or alone[column.name] != 1 or column.name in told:
            continue
        for station in np.flatnonzero(one.codes[0] == Verdict.OUTSIDE).tolist():
            readings = context.written.get((column.name, station), ())
            likely = _likeliest(readings[0], one, station, context) if len(readings) == 1 else None
            if likely is not None:
                told.add(column.name)
                yield readings[0], f"outside as written, within if it is a slip: {likely}?"


def _likeliest(reading: Reading, one: Judged, station: int, context: Context) -> Guess | None:
    """The first slip that lands in the should, else in the must; a factor of two has to land in the should."""
    if reading.suspicions:
        return None
    item = context.characteristics[reading.characteristic]
    low, least, greatest, high = (float(limits[0, station]) for limits in one.measures.limits)
    is_precise = 0 < reading.last_digit * PRECISE <= abs(reading.middle)
    found = [guess for guess in guesses(reading, item, few=not is_precise) if lies_within(guess.value, item)]
    inner = (guess for guess in found if max(low, least) <= guess.value <= min(high, greatest))
    outer = (
        guess for guess in found if low <= guess.value <= high and not is_within(guess.value, reading.middle, TWOFOLD)
    )
    # A band open on one side holds too much to say anything.
    return next(inner, next(outer, None)) if np.isfinite((low, high)).all() else None
