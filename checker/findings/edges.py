"""Edges: the limits that count at one station, and who stated each: physics, a part sheet, or general practice."""

from __future__ import annotations

import math
from collections.abc import Iterator

from checker.expressions.truth import are_equal
from checker.findings.finding import Edge
from checker.findings.standpoint import Standpoint
from checker.packs.limit_set import POSITIONS
from checker.packs.limits import PHYSICS, Limit


def edges_at(here: Standpoint) -> tuple[Edge, ...]:
    """The limits of a rule at one station, each with the pack or the sheet that states it."""
    known = here.beside.edges
    if not known:
        known.extend(_by_station(here))
    return known[here.station]


def _by_station(here: Standpoint) -> list[tuple[Edge, ...]]:
    found: list[list[Edge]] = [[] for _ in here.beside.limits[0]]
    for position, limits in enumerate(here.beside.limits):
        band, side = POSITIONS[position]
        stated = _stated(here, position) if any(map(math.isfinite, limits)) else ()
        for station, (limit, value) in enumerate(zip(stated, limits, strict=False)):
            if math.isfinite(value):
                sheet = _sheet_decides(here, station, band, side, value)
                found[station].append(Edge(band, side, value, None if sheet else limit, sheet))
    return [tuple(edges) for edges in found]


def _sheet_decides(here: Standpoint, station: int, band: str, side: str, value: float) -> str:
    """The part sheet that gave a must limit, and who confirmed it where it was suspect."""
    sheet, part = here.beside.sheet, here.beside.part
    if sheet is None or part is None or band != "must":
        return ""
    if value != float((part.low if side == "low" else part.high)[0, station]):
        return ""
    return f"{sheet}, {sheet.confirmed}" if sheet.confirmed else str(sheet)


def _stated(here: Standpoint, position: int) -> Iterator[Limit | None]:
    """By station who stated a limit: physics where its own is the one that counts."""
    (band, side), limits, chain = POSITIONS[position], here.rule.limits, here.context.chain
    physics = limits.candidates(chain, PHYSICS, side) if band == "must" else ()
    strict = [(candidate.bound.limit, here.counting(candidate), here.amounts(candidate)) for candidate in physics]
    usual = [(candidate.bound.limit, here.counting(candidate)) for candidate in limits.candidates(chain, band, side)]
    for station, value in enumerate(here.beside.limits[position]):
        own = (it for it, counts, amounts in strict if counts[station] and are_equal(amounts[station], value))
        yield next(own, None) or next((it for it, counts in usual if counts[station]), None)
