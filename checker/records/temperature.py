"""Lengths at the reference temperature: 20 degrees C (ISO 1).

A part measured warm is larger than it is at 20 degrees, and so is a warm gauge: what it then shows is too small. Both
are taken back by their linear expansion, wherever the record gives the temperature and the material of the part, and
the material the gauge was set with unless the gauge was at 20 degrees itself. Nothing is guessed: where one of these
is not stated and the difference could matter, the reading counts as written, and the report asks. Where it was further
from 20 degrees than any shop is, it may be off by anything from no growth to the most a material grows.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from checker.errors import Problem, nearest
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading, Warmth
from checker.records.instruments import NO_INSTRUMENT, Instrument
from checker.records.record import Record
from checker.records.values import temperature_at
from checker.units.units import UNITS, Unit, difference

REFERENCE = 293.15
BENCH = 5.0
"""How far, in kelvin, a part of unknown temperature may be from 20 degrees: shops are that warm or cold."""
HEATED = 15.0
"""No shop is further from 20 degrees, in kelvin: the part was heated, or came warm from the washer or the engine."""
UNEVEN = 5.0
"""Parts further apart than this, in kelvin, cannot be subtracted as they are: common practice."""
ALUMINIUM = 24e-6
"""How much a material that nobody names may grow, per kelvin: few parts grow more (handbooks, from memory)."""
_CELSIUS = UNITS["degC"]


class Surroundings(NamedTuple):
    """The temperature of all parts, the material each characteristic is measured on, and how materials grow."""

    parts: float | None
    materials: Mapping[str, str]
    expansions: Mapping[str, float]

    def growth(self, material: str, temperature: float) -> float:
        """By what share of itself a length is longer than at 20 degrees C."""
        return self.expansions[material] * (temperature - REFERENCE)

    @property
    def most(self) -> float:
        """How much a part may grow per kelvin of which nobody says what it is made of."""
        return max((ALUMINIUM, *self.expansions.values()))


def surroundings_of(
    record: Record,
    characteristics: Mapping[str, CompiledCharacteristic],
    expansions: Mapping[str, float],
    default: Unit | None,
    problems: list[Problem],
) -> Surroundings:
    """Understand the section `temperatures`; what is wrong with it is added to the problems."""
    stated = record.temperatures
    if stated is None:
        return Surroundings(None, {}, expansions)
    parts = temperature_at(stated.parts, default, stated.origin.at("parts"), problems) if stated.parts else None
    for name, material in stated.materials.items():
        place = stated.origin.at("materials", name)
        item = characteristics.get(name)
        if item is None:
            problems.append(Problem(f"unknown characteristic {name!r}", place, nearest(name, characteristics)))
        elif item.unit is None or item.unit.kind != "length":
            problems.append(Problem(f"{name} is not a length", place))
        if material not in expansions:
            hint = nearest(material, expansions) or f"known: {', '.join(expansions) or 'none'}"
            problems.append(Problem(f"no material {material!r}", place, hint))
    return Surroundings(parts, stated.materials, expansions)


def at_reference(
    readings: Iterable[Reading], around: Surroundings, instruments: Mapping[str, Instrument]
) -> Iterator[Reading]:
    """The readings, lengths brought to 20 degrees C where that can be done."""
    for reading in readings:
        if reading.unit is None or reading.unit.kind != "length" or reading.is_fact:
            yield reading
            continue
        gauge = instruments.get(reading.instrument or "", NO_INSTRUMENT)
        unit = reading.unit
        if reading.temperature is None and around.parts is not None:
            reading = reading._replace(temperature=around.parts)
        yield _brought(reading, unit, around, gauge)


def _brought(reading: Reading, unit: Unit, around: Surroundings, gauge: Instrument) -> Reading:
    part, material = reading.temperature, around.materials.get(reading.characteristic)
    if part is None:
        size = _worth_asking(reading, gauge, around.growth(material, REFERENCE + BENCH)) if material else 0.0
        return reading._replace(warmth=Warmth("at what temperature was it measured?", size) if size else None)
    at = part if gauge.temperature is None else gauge.temperature
    growth = around.growth(material, part) if material else around.most * (part - REFERENCE)
    is_set = gauge.set_with is not None or math.isclose(at, REFERENCE)
    scale = (1 + (around.growth(gauge.set_with, at) if gauge.set_with else 0.0)) / (1 + growth if material else 1.0)
    measured = f"measured at {write_quantity(part, _CELSIUS)}"
    shares: dict[str, tuple[str | None, float, float]] = {}
    if not material:
        shares["on what material"] = None, scale - 1, scale / (1 + growth) - 1
    if not is_set:
        shares["what was the gauge set with"] = gauge.name, scale - 1, scale * (1 + around.most * (at - REFERENCE)) - 1
    if shares:
        off = max(abs(part - REFERENCE), abs(at - REFERENCE)) / (1 + 1e-9)
        most = abs(reading.middle) * sum(max(map(abs, ends)) for _, *ends in shares.values())
        # Where nobody says how well it was read, less than half the last digit is not read at all.
        counts = off > HEATED and most > (0.0 if reading.instrument else reading.last_digit / 2)
        # A shop that says how warm it is hears no more than one that is silent.
        size = _worth_asking(reading, gauge, growth) if off > BENCH else 0.0
        asks = f"{measured}, but {', and '.join(shares)}?"
        return reading._replace(warmth=Warmth(asks, size, tuple(shares.values()), counts))
    correction = reading.middle * (scale - 1)
    brought = reading._replace(low=reading.low * scale, high=reading.high * scale, correction=correction)
    if math.isclose(scale, 1.0, rel_tol=1e-9):
        return brought
    by = write_quantity(correction, difference(unit))
    return brought._replace(remarks=(*reading.remarks, f"{measured}, brought to 20 degC by {by}"))


def _worth_asking(reading: Reading, gauge: Instrument, growth: float) -> float:
    """How much it grows, if that is over half its uncertainty, or half its last digit where none is known."""
    size = abs(reading.middle * growth)
    return size if size > (gauge.expanded(reading.middle) or reading.last_digit) / 2 else 0.0


def unevenly_warm(readings: Iterable[Reading], together: Iterable[frozenset[str]]) -> Iterator[tuple[Reading, str]]:
    """The warmest of lengths that are compared though they are too far apart and not all brought to 20 degrees C.

    `together` are names that some expression brings together. A part of unknown temperature is taken to be at 20.
    """
    by_name: dict[str, list[Reading]] = defaultdict(list)
    for reading in readings:
        if reading.unit is not None and reading.unit.kind == "length" and not (reading.set_aside or reading.is_fact):
            by_name[reading.characteristic].append(reading)
    if not any(reading.temperature is not None for readings in by_name.values() for reading in readings):
        return
    for names in dict.fromkeys(together):
        lengths = [reading for name in sorted(names) for reading in by_name.get(name, ())]
        if len(names & by_name.keys()) > 1 and any(reading.correction is None for reading in lengths):
            coldest, warmest = min(lengths, key=_warmth), max(lengths, key=_warmth)
            if _warmth(warmest) - _warmth(coldest) > UNEVEN:
                yield warmest, f"{_measured_at(warmest)}, {_measured_at(coldest)}: not all are brought to 20 degC"


def _warmth(reading: Reading) -> float:
    return REFERENCE if reading.temperature is None else reading.temperature


def _measured_at(reading: Reading) -> str:
    known = reading.temperature is not None
    where = f"at {write_quantity(_warmth(reading), _CELSIUS)}" if known else "at an unknown temperature"
    return f"{reading.characteristic} was measured {where}"
