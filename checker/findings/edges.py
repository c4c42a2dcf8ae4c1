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
    for position, limits in enumerate(here.beside.limits):
        value = limits[here.station]
        if math.isfinite(value):
            band, side = POSITIONS[position]
            sheet = _sheet_decides(here, band, side, value)
            yield Edge(band, side, value, None if sheet else _stated(here, position), sheet)


def _sheet_decides(here: Standpoint, band: str, side: str, value: float) -> str:
    """The part sheet that gave a must limit, and who confirmed it where it was suspect."""
    sheet, part = here.beside.sheet, here.beside.part
    if sheet is None or part is None or band != "must":
        return ""
    if value != float((part.low if side == "low" else part.high)[0, here.station]):
        return ""
    return f"{sheet}, {sheet.confirmed}" if sheet.confirmed else str(sheet)


def _stated(here: Standpoint, position: int) -> Limit | None:
    """Who stated a limit."""
    known = here.beside.stated
    if position not in known:
        known[position] = list(_each_stated(here, position))
    return known[position][here.station]


def _each_stated(here: Standpoint, position: int) -> Iterator[Limit | None]:
    """By station who stated a limit: physics where its own is the one that counts."""
    (band, side), limits, chain = POSITIONS[position], here.rule.limits, here.context.chain
    physics = limits.candidates(chain, PHYSICS, side) if band == "must" else ()
    strict = [(candidate.bound.limit, here.counting(candidate), here.amounts(candidate)) for candidate in physics]
    usual = [(candidate.bound.limit, here.counting(candidate)) for candidate in limits.candidates(chain, band, side)]
    for station, value in enumerate(here.beside.limits[position]):
        own = (it for it, counts, amounts in strict if counts[station] and are_equal(amounts[station], value))
        yield next(own, None) or next((it for it, counts in usual if counts[station]), None)
