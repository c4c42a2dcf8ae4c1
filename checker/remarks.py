"""Remarks: why a verdict is what it is, and what other sources would say."""

from __future__ import annotations

import math
from collections.abc import Iterator

from checker.compiled import LimitSet
from checker.conformity import COVERAGE
from checker.finding import MISSED
from checker.judge import Verdict, judge, measure
from checker.notation_write import write_apart, write_quantity
from checker.pack import ANY
from checker.standpoint import Standpoint
from checker.truth import FALSE, greatest_equal
from checker.units import difference


def remarks_at(here: Standpoint) -> Iterator[str]:
    """Why a verdict is what it is, and where other limits would decide otherwise."""
    if here.verdict is Verdict.NOT_COVERED:
        yield _why_not_covered(here)
    if here.verdict is Verdict.NOT_APPLICABLE:
        yield _why_not_applicable(here)
    if here.verdict is Verdict.UNDECIDED:
        yield _why_undecided(here)
    if not here.rule.is_demand and here.verdict in (*MISSED, Verdict.WITHIN):
        # Where several amendments left a limit as it was, the first who stated it is named.
        told = {text: other.title for other in reversed(here.rule.others) if (text := _compared(here, other))}
        yield from (f"{title} asks for {text}" for text, title in reversed(told.items()))


def _why_not_covered(here: Standpoint) -> str:
    limits = here.judged.measures.limits
    if math.isinf(here.at(here.judged.measures.value)) or here.at(limits[0]) == math.inf:
        return "beyond the end of the table"
    if here.at(limits[3]) == -math.inf:
        return "beyond the end of the table"
    return f"no limit is known for {here.context.application_title}"


def _why_not_applicable(here: Standpoint) -> str:
    rule = here.rule.rule
    for application in here.context.chain:
        if application in rule.not_for:
            return rule.not_for[application]
    if here.rule.when is not None and here.truth(here.rule.when) == FALSE:
        return f"applies only when {rule.when}"
    return f"does not apply when {rule.unless}"


def _why_undecided(here: Standpoint) -> str:
    position, margin = here.nearest()
    doubt = here.judged.doubt
    below, above = (0.0, 0.0) if doubt is None else (here.at(doubt.below[position]), here.at(doubt.above[position]))
    if doubt is None or not math.isfinite(below + above):
        return "the reading does not say on which side of the limit it lies"
    needed = abs(margin) - max(below, above)
    if needed <= greatest_equal(0.0):
        return "the reading is too near its limit to decide; measure with a finer instrument"
    now, enough = write_apart(difference(here.unit), COVERAGE * here.at(doubt.standard[position]), needed)
    return f"uncertainty is {now}; {enough} or less would decide"


def _compared(here: Standpoint, other: LimitSet) -> str:
    """What other limits ask for, where they would give another verdict."""
    if other.applications.isdisjoint((*here.context.chain, ANY)):
        return ""
    measures = measure(here.rule, here.context.block, here.context.chain, limits=other)
    verdict = Verdict(judge(here.rule, measures, here.context.decision).codes[0, here.station])
    if verdict is here.verdict or verdict not in (*MISSED, Verdict.WITHIN):
        return ""
    return f"{_band_words(here, [here.at(values) for values in measures.limits], verdict)}: {verdict}"


def _band_words(here: Standpoint, limits: list[float], verdict: Verdict) -> str:
    must, should = (limits[0], limits[3]), (limits[1], limits[2])
    low, high = must if verdict is Verdict.OUTSIDE or not any(map(math.isfinite, should)) else should
    shown = here.unit
    if math.isfinite(low) and math.isfinite(high):
        return f"{write_quantity(low, shown)} to {write_quantity(high, shown)}"
    if math.isfinite(low):
        return f"at least {write_quantity(low, shown)}"
    return f"at most {write_quantity(high, shown)}" if math.isfinite(high) else "nothing"
