"""What findings are made from besides the arrays of one rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from checker.block import Block
from checker.compiled import CompiledCharacteristic
from checker.conformity import Decision
from checker.judge import PartLimit
from checker.pack import Stations


@dataclass(frozen=True, slots=True)
class Context:
    """The record judged, as arrays, and the words that go with it."""

    block: Block
    characteristics: Mapping[str, CompiledCharacteristic]
    stations: Mapping[str, Stations]
    chain: tuple[str, ...]
    application_title: str
    units: Mapping[str, str]
    decision: Decision
    part_limits: Mapping[str, PartLimit] = field(default_factory=dict)
    part_sources: Mapping[str, str] = field(default_factory=dict)
    refused: Mapping[tuple[str, int], str] = field(default_factory=dict)
    concessions: Mapping[tuple[str, int | None], str] = field(default_factory=dict)


def place_name(stations: str | None, station: int, context: Context) -> str:
    """A station in words, such as "mesh 3"; empty for the assembly."""
    if stations is None:
        return ""
    name = lowered(context.stations[stations].title)
    return f"{name} {station + 1}" if context.block.layout.count(stations) > 1 else name


def lowered(title: str) -> str:
    """A title in the middle of a sentence; abbreviations keep their capitals."""
    return title if title[1:2].isupper() else title[:1].lower() + title[1:]
