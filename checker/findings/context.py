"""What findings are made from besides the arrays of one rule."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from checker.frozen import FrozenMapping
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.face_value import FaceValue
from checker.judging.judge import Judged
from checker.judging.sheet_limits import SheetsAtHand
from checker.packs.characteristic import Stations
from checker.packs.compiled import CompiledCharacteristic, CompiledRule, Inputs
from checker.packs.inspection import EVERYTHING, Plan
from checker.packs.titles import lowered
from checker.records.by_eye import EyeInspection
from checker.records.concessions import Concession, Past
from checker.records.entry import Reading
from checker.records.layout import Layout
from checker.records.part_sheet import PartLimit, PartSheet


class Context(NamedTuple):
    """The record judged, as arrays, and the words that go with it; `milestones` by name, as people say them."""

    block: Block
    characteristics: Mapping[str, CompiledCharacteristic]
    stations: Mapping[str, Stations]
    chain: tuple[str, ...]
    application_title: str
    units: Mapping[str, str]
    decision: Decision
    sheets: SheetsAtHand
    written: Mapping[tuple[str, int], tuple[Reading, ...]]
    refused: Mapping[tuple[str, int], str]
    concessions: tuple[Concession, ...]
    past: Past
    inputs: Callable[[str], Inputs]
    """What a rule rests on, by its name."""
    milestones: Mapping[str, str]
    said: Callable[[str], str]
    """Says an expression of a pack in words."""
    stopped: Mapping[str, str] = FrozenMapping({})
    """The rules that cannot be judged because a function of a plugin failed, and how it failed."""
    face_value: FaceValue | None = None
    plan: Plan = EVERYTHING
    seen: tuple[EyeInspection, ...] = ()
    undivided: frozenset[str] = frozenset()
    """The instruments of which nobody said what part of their uncertainty all their readings share."""
    beside: Mapping[str, tuple[Judged, ...]] = FrozenMapping({})
    """The rules that judge each characteristic as it is."""
    derived_facts: Mapping[str, str] = FrozenMapping({})
    """The facts that follow from readings, such as a class, each with its choice."""

    def __repr__(self) -> str:
        return f"<Context of {len(self.characteristics)} characteristics>"  # they are all that packs say

    def part_sheet(self, rule: CompiledRule) -> PartSheet | None:
        """The part sheet for what a rule judges, when it judges a plain characteristic."""
        return self.sheets.of(rule)

    def part_limit(self, rule: CompiledRule) -> PartLimit | None:
        """The limits of that sheet that count for the use."""
        return self.sheets.limit(rule, self.chain, self.block)


def place_name(stations: str | None, station: int, context: Context) -> str:
    """A station in words, such as "mesh 3"; empty for the assembly."""
    return station_name(stations, station, context.stations, context.block.layout)


def station_name(stations: str | None, station: int, known: Mapping[str, Stations], layout: Layout) -> str:
    """The same by the packs' stations and the layout alone."""
    if stations is None:
        return ""
    if stations in layout.names:
        return layout.names[stations][station]
    name = lowered(known[stations].title)
    return f"{name} {station + 1}" if layout.count(stations) > 1 else name
