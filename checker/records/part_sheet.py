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
from checker.records.sections import SheetLimits
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
    judged = {rule.judges for rule in rules.values()} if record.part_limits else set()
    for stated in record.part_limits:
        name, place = stated.name, stated.origin.place
        item = characteristics.get(name)
        if item is None or item.unit is None:
            problems.append(Problem(f"no measured characteristic {name!r}", place, nearest(name, characteristics)))
            continue
        if name not in judged:
            problems.append(Problem(f"no rule judges {name} by itself: this limit would not be used", place))
            continue
        low, high = (_end(stated, key, item.unit, defaults, problems) for key in ("at_least", "at_most"))
        limit = PartLimit(-math.inf if low is None else low, math.inf if high is None else high)
        if low is None and high is None:
            problems.append(Problem("expected at_least, at_most or both", place))
        elif limit.low > limit.high:
            problems.append(Problem("at_least lies above at_most", place))
        dated = day_at(stated.dated, place, problems) if stated.dated else None
        found[name] = PartSheet(limit, stated.source, dated)
    return FrozenMapping(found)


def _end(
    stated: SheetLimits, key: str, unit: Unit, defaults: Mapping[str, Unit], problems: list[Problem]
) -> float | None:
    text = stated.at_least if key == "at_least" else stated.at_most
    if not text:
        return None
    asked = Asked(unit, bare_unit(unit, defaults.get(unit.kind)), stated.origin.at(key), problems)
    written = asked.exact(text)
    if written is None:
        return math.nan
    # What a reading may show beside its value, a limit may not: two units that tell two values.
    if any(note.endswith(SLIPPED) for note in written.notes):
        asked.refuse(f"{text!r}: the two values do not agree")
    return written.spans[0].low
