"""Remedies: what to do about a miss, with a computed number."""

from __future__ import annotations

import math

import numpy as np

from checker.expressions.evaluate import evaluate
from checker.expressions.expression import Expression
from checker.expressions.names import Column
from checker.expressions.truth import Array
from checker.findings.display import shown_in
from checker.findings.standpoint import Standpoint
from checker.notation.write import write_quantity
from checker.units.units import Unit


def remedy_at(here: Standpoint, side: str) -> str:
    """The remedy for a miss on one side, with its amounts computed; empty where the rule states none."""
    phrase = here.rule.remedy.get(side)
    if phrase is None:
        return ""
    words = []
    for part in phrase.parts:
        if isinstance(part, str):
            words.append(part)
            continue
        expression, usual = part
        amount = here.local(_amount(here, expression, side), expression.stations)
        shown = shown_in(usual, here.context.units)
        is_read = expression.column is not None and expression.column.name != "limit"
        words.append(_written(amount, shown, is_read))
    return "".join(words)


def _written(amount: float, unit: Unit, is_read: bool) -> str:
    """What was read as it is; what is computed rounded up, so that doing it is enough."""
    return write_quantity(amount, unit, round_up=not is_read) if math.isfinite(amount) else "an unknown amount"


def _amount(here: Standpoint, expression: Expression, side: str) -> Array:
    measures = here.judged.measures
    known = {"value": measures.value, "limit": _aim(here, side)}
    block, own = here.context.block, here.rule.stations

    def fetch(column: Column) -> Array:
        if column.name not in known:
            return block.fetch(column)
        seen = known[column.name]
        return seen if column.at in (None, own) or own is None else seen[:, block.layout.children(column.at, own)]

    return evaluate(expression, fetch, block.layout)


def _aim(here: Standpoint, side: str) -> Array:
    """The edge to reach: the stricter of should and must on the missed side, for a part sheet may be stricter."""
    limits = here.judged.measures.limits
    must_low, should_low, should_high, must_high = np.where(np.isfinite(limits), limits, np.nan)
    return np.asarray(np.fmax(must_low, should_low) if side == "low" else np.fmin(must_high, should_high))
