"""Remedies: what to do about a miss, with a computed number."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from checker.expressions.evaluate import evaluate
from checker.expressions.expression import Expression
from checker.expressions.names import Column
from checker.expressions.truth import Array
from checker.findings.aims import Aim, aim_at
from checker.findings.display import shown_in
from checker.findings.edges import edges_at
from checker.findings.finding import PRACTICE
from checker.findings.standpoint import Standpoint
from checker.judging.judge import Verdict
from checker.notation.write import write_quantity
from checker.packs.compiled import Phrase
from checker.units.units import Unit

LEAVE_IT = "Leave it: what is required holds, and no part is cut or discarded for a recommendation."
LOOK_AGAIN = "Look and measure again, and write down what is found: the two do not agree."
CHECK_FIRST = "Measure again first, for a reading it rests on is in doubt; then: "


def remedy_at(here: Standpoint, side: str) -> str:
    """What is told of a miss on one side; empty where the rule states no remedy.

    What cannot be undone is not told for a recommendation, and not before a doubtful reading is checked.
    """
    remedy, is_irreversible = stated_remedy(here, side)
    if not is_irreversible:
        return remedy
    if here.verdict is Verdict.ADVISORY:
        return LEAVE_IT
    if asked := _sheet_to_ask(here, side):
        return asked
    return f"{CHECK_FIRST}{remedy}" if _is_in_doubt(here) else remedy


def stated_remedy(here: Standpoint, side: str) -> tuple[str, bool]:
    """What the rule says is to be done, with its amounts computed, and whether that cannot be undone."""
    phrase = here.rule.remedy.get(side)
    if phrase is None:
        return "", False
    aim = aim_at(here, side) if side != "broken" and _asks_aim(phrase) else None
    if aim is not None and aim.because:
        return aim.because, False
    return "".join(_words(here, phrase, side, aim)), phrase.is_irreversible


def _sheet_to_ask(here: Standpoint, side: str) -> str:
    """What to ask of a part sheet first: it is suspect, or is at hand and does not state the limit that is missed."""
    names = here.inputs.names
    sheets = [sheet for name, sheet in here.context.sheets.by_name.items() if name in names]
    suspect = next((sheet for sheet in sheets if sheet.suspicion), None)
    if suspect is not None:
        return f"Nothing is taken off while {suspect} is suspect: confirm it by name, or mend it."
    counted = [edge.counted for edge in edges_at(here) if (edge.band, edge.side) == ("must", side)]
    if not sheets or PRACTICE not in counted:
        return ""
    unstated = f"{sheets[0]} does not state this limit"
    return f"Ask the maker first: {unstated}, and nothing is cut or discarded by general practice beside it."


def _words(here: Standpoint, phrase: Phrase, side: str, aim: Aim | None) -> Iterator[str]:
    for part in phrase.parts:
        if isinstance(part, str):
            yield part
            continue
        expression, usual = part
        amount = here.local(_amount(here, expression, side, aim), expression.stations)
        shown = shown_in(usual, here.context.units)
        is_read = expression.column is not None and expression.column.name != "limit"
        is_like = not is_read and shown.dimension == here.rule.unit.dimension
        yield _written(amount, shown, is_read, beside=here.at(here.judged.measures.value) if is_like else 0.0)


def _asks_aim(phrase: Phrase) -> bool:
    """Whether the words depend on where the value is to be brought."""
    expressions = (part[0] for part in phrase.parts if not isinstance(part, str))
    return any(column.name == "limit" for expression in expressions for column in expression.columns)


def _is_in_doubt(here: Standpoint) -> bool:
    """Whether a reading that the rule rests on here is suspicious."""
    return any(reading.suspicions for place in here.places for reading in here.context.written.get(place, ()))


def _written(amount: float, unit: Unit, is_read: bool, beside: float) -> str:
    """What was read as it is; what is computed rounded up, so that doing it is enough."""
    if not math.isfinite(amount):
        return "an unknown amount"
    return write_quantity(amount, unit, round_up=not is_read, beside=beside if math.isfinite(beside) else 0.0)


def _amount(here: Standpoint, expression: Expression, side: str, aim: Aim | None) -> Array:
    measures = here.judged.measures
    known = {"value": measures.value, "limit": _limits(here, side, aim)}
    block, own = here.context.block, here.rule.stations

    def fetch(column: Column) -> Array:
        if column.name not in known:
            return block.fetch(column)
        seen = known[column.name]
        return seen if column.at in (None, own) or own is None else seen[:, block.layout.children(column.at, own)]

    return evaluate(expression, fetch, block.layout)


def _limits(here: Standpoint, side: str, aim: Aim | None) -> Array:
    """The edge to reach at each station: the stricter of should and must on the missed side; here the aim."""
    limits = here.judged.measures.limits
    must_low, should_low, should_high, must_high = np.where(np.isfinite(limits), limits, np.nan)
    edges = np.array(np.fmax(must_low, should_low) if side == "low" else np.fmin(must_high, should_high))
    if aim is not None:
        edges[0, here.station] = aim.value
    return edges
