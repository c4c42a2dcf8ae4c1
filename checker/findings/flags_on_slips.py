"""Slips told by the bands of rules: of what a strange value may have been meant to be, what a rule allows comes first.

With no other station to compare with, the band of the rule is all there is to go by. The value counts as written.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

import numpy as np

from checker.expressions.names import VALUE
from checker.findings.context import Context
from checker.judging.judge import Judged, Verdict
from checker.records.entry import Reading, Slip, Suspicion
from checker.records.slip_guesses import TWOFOLD, slips_of
from checker.records.slips import PRECISE, is_within, lies_within

INSIDE, IN_THE_MUST, OUT = range(3)


def told_of(reading: Reading, suspicion: Suspicion, context: Context) -> str:
    """Why a reading is suspicious, and the slip that lands in the bands, if any; none leads a value out of them."""
    rules, station = context.beside.get(reading.characteristic, ()), reading.station
    judged = [judged_rule for judged_rule in rules if judged_rule.codes[0, station] != Verdict.NOT_APPLICABLE]
    if not suspicion.slips or not judged:
        return str(suspicion)

    def missed(value: float) -> int:
        return max(_missed(judged_rule, station, value) for judged_rule in judged)

    likely = min(suspicion.slips, key=lambda slip: missed(slip.value))
    is_led_out = missed(reading.middle) < OUT == missed(likely.value)
    return suspicion.words if is_led_out else str(suspicion._replace(slips=(likely,)))


def lone_values_outside(judged: Iterable[Judged], context: Context) -> Iterator[tuple[Reading, str]]:
    """Each reading that stands alone and breaks a must as written, with what it may have been."""
    alone = Counter(name for name, _ in context.written)
    names: set[str] = set()
    for judged_rule in judged:
        column = None if judged_rule.rule.is_demand else judged_rule.rule.judges.column
        if column is None or column.view != VALUE or alone[column.name] != 1 or column.name in names:
            continue
        for station in np.flatnonzero(judged_rule.codes[0] == Verdict.OUTSIDE).tolist():
            readings = context.written.get((column.name, station), ())
            likely = _likeliest(readings[0], judged_rule, station, context) if len(readings) == 1 else None
            if likely is not None:
                names.add(column.name)
                yield readings[0], f"outside as written, within if it is a slip: {likely}?"


def _likeliest(reading: Reading, judged: Judged, station: int, context: Context) -> Slip | None:
    """The first slip that lands in the should, else in the must; a factor of two has to land in the should."""
    # A band open on one side holds too much to say anything.
    if reading.suspicions or not np.isfinite(judged.measures.limits[[0, 3], 0, station]).all():
        return None
    item = context.characteristics[reading.characteristic]
    is_precise = 0 < reading.last_digit * PRECISE <= abs(reading.middle)
    slips = [slip for slip in slips_of(reading, item, few=not is_precise) if lies_within(slip.value, item)]
    inner = (slip for slip in slips if _missed(judged, station, slip.value) == INSIDE)
    outer = (
        slip
        for slip in slips
        if _missed(judged, station, slip.value) == IN_THE_MUST and not is_within(slip.value, reading.middle, TWOFOLD)
    )
    return next(inner, next(outer, None))


def _missed(judged: Judged, station: int, value: float) -> int:
    """By which band of a rule a value is not held."""
    low, least, greatest, high = (float(limits[0, station]) for limits in judged.measures.limits)
    if max(low, least) <= value <= min(high, greatest):
        return INSIDE
    return IN_THE_MUST if low <= value <= high else OUT
