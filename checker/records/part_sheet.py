"""Part sheets: what the maker of a part asks for. The stricter of it and the packs counts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

from checker.errors import Problem, nearest
from checker.frozen import FrozenMapping
from checker.notation.plain import SLIPPED
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.rule import Rule
from checker.records.entry import day_at
from checker.records.record import Record
from checker.records.values import Asked
from checker.units.units import Unit, bare_unit


class PartLimit(NamedTuple):
    """Limits from a part maker's sheet in SI; infinite where the sheet is silent."""

    low: float
    high: float


class PartSheet(NamedTuple):
    """The limits of one sheet for one characteristic."""

    limit: PartLimit
    source: str
    dated: date | None = None

    def __str__(self) -> str:
        return f"{self.source} of {self.dated}" if self.dated else self.source


def part_sheets_in(
    record: Record,
    characteristics: Mapping[str, CompiledCharacteristic],
    rules: Mapping[str, Rule],
    defaults: Mapping[str, Unit],
    problems: list[Problem],
) -> Mapping[str, PartSheet]:
    """The part-sheet limits of a record by characteristic; what is wrong with them is added to the problems."""
    found: dict[str, PartSheet] = {}
    stated = record.section("part_limits")
    if not stated:
        return FrozenMapping()
    judged = {rule.judges for rule in rules.values()}
    for name, given in stated.items():
        place = record.document.place("part_limits", name)
        item = characteristics.get(name)
        if item is None or item.unit is None:
            problems.append(Problem(f"no measured characteristic {name!r}", place, nearest(name, characteristics)))
            continue
        if name not in judged:
            problems.append(Problem(f"no rule judges {name} by itself: this limit would count nowhere", place))
            continue
        low, high = (_end(record, name, key, item.unit, defaults, problems) for key in ("at_least", "at_most"))
        limit = PartLimit(-math.inf if low is None else low, math.inf if high is None else high)
        if low is None and high is None:
            problems.append(Problem("expected at_least, at_most or both", place))
        elif limit.low > limit.high:
            problems.append(Problem("at_least lies above at_most", place))
        dated = given.get("dated")
        found[name] = PartSheet(limit, given["source"], day_at(dated, place, problems) if dated else None)
    return FrozenMapping(found)


def _end(
    record: Record, name: str, key: str, unit: Unit, defaults: Mapping[str, Unit], problems: list[Problem]
) -> float | None:
    if key not in record.section("part_limits")[name]:
        return None
    path = ("part_limits", name, key)
    text = record.document.written(*path)
    asked = Asked(unit, bare_unit(unit, defaults.get(unit.kind)), record.document.place(*path), problems)
    written = asked.exact(text)
    if written is None:
        return math.nan
    # What a reading may show beside its value, a limit may not: two units that tell two values.
    if any(note.endswith(SLIPPED) for note in written.notes):
        asked.refuse(f"{text!r}: the two values do not agree")
    return written.spans[0].low
