"""Edges: the limits that count at one station, and who stated each: physics, a part sheet, or general practice."""

from __future__ import annotations

import math
from collections.abc import Iterator

from checker.expressions.truth import are_equal
from checker.findings.finding import Edge
from checker.findings.standpoint import Standpoint
from checker.packs.limit_set import POSITIONS
from checker.packs.limits import PHYSICS, Limit


def edges_at(here: Standpoint) -> Iterator[Edge]:
    """The limits of a rule at one station, each with the pack or the sheet that states it."""
    for (band, side), values in zip(POSITIONS, here.judged.measures.limits, strict=True):
        value = here.at(values)
        if math.isfinite(value):
            sheet = _sheet_decides(here, band, side, value)
            yield Edge(band, side, value, None if sheet else _stated(here, band, side, value), sheet)


def _sheet_decides(here: Standpoint, band: str, side: str, value: float) -> str:
    """The part sheet that gave a must limit, and who confirmed it where it was suspect."""
    sheet, part = here.beside.sheet, here.beside.part
    if sheet is None or part is None or band != "must":
        return ""
    if value != float((part.low if side == "low" else part.high)[0, here.station]):
        return ""
    return f"{sheet}, {sheet.confirmed}" if sheet.confirmed else str(sheet)


def _stated(here: Standpoint, band: str, side: str, value: float) -> Limit | None:
    """Who stated a limit: physics where its own is the one that counts."""
    limits, chain = here.rule.limits, here.context.chain
    for candidate in limits.candidates(chain, PHYSICS, side) if band == "must" else ():
        if here.holds(candidate) and are_equal(here.limit(candidate), value):
            return candidate.bound.limit
    for candidate in limits.candidates(chain, band, side):
        if here.holds(candidate):
            return candidate.bound.limit
    return None
