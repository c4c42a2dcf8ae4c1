"""Lengths at the reference temperature: 20 degrees C (ISO 1).

A part measured warm is larger than it is at 20 degrees, and so is a warm gauge: what it then shows is too small. Both
are taken back by their linear expansion, wherever the record says how warm the part was. What it is made of the packs
know, or the facts they name, or the record; what usual gauges are made of they say too, and in a shop a gauge is as
warm as the part. Nothing is guessed: where one of these is not known, the reading counts as written, and further from
20 degrees than a bench is it may be off by anything from the least to the most that what is possible grows.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import NamedTuple

from checker.errors import Problem, nearest
from checker.frozen import FrozenMapping
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.materials import Materials
from checker.packs.titles import lowered
from checker.records.entry import Reading, Warmth
from checker.records.instruments import NO_INSTRUMENT, Instrument
from checker.records.record import Record
from checker.records.values import temperature_at
from checker.units.units import UNITS, Unit, difference

REFERENCE = 293.15
BENCH = 5.0
"""How far, in kelvin, a part of unknown temperature may be from 20 degrees: shops are that warm or cold."""
HEATED = 15.0
"""No shop is further from 20 degrees, in kelvin: the part was heated, or came warm from the washer."""
UNEVEN = 5.0
"""Parts further apart than this, in kelvin, cannot be subtracted as they are: common practice."""
_CELSIUS = UNITS["degC"]


class MadeOf(NamedTuple):
    """What a length is measured on: a name for all that is of the same, the materials it may be, and what to ask."""

    of: str
    possible: Sequence[str]
    asks: str


class Surroundings(NamedTuple):
    """The temperature of all parts, what the record says each characteristic is measured on, and the words of facts."""

    parts: float | None
    stated: Mapping[str, str]
    words: Mapping[str, Collection[str]]
    characteristics: Mapping[str, CompiledCharacteristic]
    materials: Materials

    def made_of(self, name: str) -> MadeOf:
        """What a characteristic is measured on; a fact that nobody states may be any of its choices."""
        if name in self.stated:
            return MadeOf(name, [self.stated[name]], "")
        made_of = self.characteristics[name].characteristic.made_of
        facts = {each: self.characteristics[each].characteristic for each in made_of if each in self.characteristics}
        words = (self.words.get(each, facts[each].choices) if each in facts else (each,) for each in made_of)
        every = dict.fromkeys(chain.from_iterable(words))
        possible = [word for word in every if word in self.materials.expansions]
        unstated = [lowered(fact.title) for fact in facts.values() if fact.name not in self.words]
        asks = f"what is {' and '.join(unstated)}" if unstated else f"on {' or '.join(possible) or 'what material'}"
        # A fact is of one part; two parts that may be of the same materials need not be of one of them.
        return MadeOf(" ".join(made_of) if facts else name, possible, asks)

    def leeway(self, name: str) -> float:
        """How far from 20 degrees a reading may be, in kelvin, without a doubt.

        What packs read with no instrument may be a figure of a plan or sheet, which does not grow. Beside parts that
        were heated nothing is taken for one.
        """
        item = self.characteristics[name].characteristic
        return BENCH if item.with_ or item.made_of or name in self.stated else HEATED


def surroundings_of(
    record: Record,
    characteristics: Mapping[str, CompiledCharacteristic],
    materials: Materials,
    written: Iterable[Reading],
    default: Unit | None,
    problems: list[Problem],
) -> Surroundings:
    """Understand the section `temperatures`; what is wrong with it is added to the problems.

    Of what parts are made is told by what is `written` of facts.
    """
    words: dict[str, list[str]] = defaultdict(list)
    for reading in written:
        if reading.unit is None:
            words[reading.characteristic].append(reading.written)
    stated = record.temperatures
    if stated is None:
        return Surroundings(None, FrozenMapping(), words, characteristics, materials)
    parts = temperature_at(stated.parts, default, stated.origin.at("parts"), problems) if stated.parts else None
    for name, material in stated.materials.items():
        place = stated.origin.at("materials", name)
        item = characteristics.get(name)
        if item is None:
            problems.append(Problem(f"unknown characteristic {name!r}", place, nearest(name, characteristics)))
        elif item.unit is None or item.unit.kind != "length":
            problems.append(Problem(f"{name} is not a length", place))
        if material not in materials.expansions:
            hint = nearest(material, materials.expansions) or materials.named()
            problems.append(Problem(f"no material {material!r}", place, hint))
    return Surroundings(parts, stated.materials, words, characteristics, materials)


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
    part = reading.temperature
    if part is None:
        return reading._replace(warmth=_how_warm(reading, around, gauge))
    made_of = around.made_of(reading.characteristic)
    low, high = (each * (part - REFERENCE) for each in around.materials.growth(made_of.possible))
    at = part if gauge.temperature is None else gauge.temperature
    is_heated = abs(at - REFERENCE) > HEATED * (1 + 1e-9)
    least, most = (each * (at - REFERENCE) for each in _growth_of_gauge(gauge, is_heated, around.materials))
    scale = (1 + least if least == most else 1.0) / (1 + low if low == high else 1.0)
    measured = f"measured at {write_quantity(part, _CELSIUS)}"
    shares: dict[str, tuple[str, float, float]] = {}
    if low != high:
        shares[made_of.asks] = made_of.of, scale / (1 + low) - 1, scale / (1 + high) - 1
    if least != most:
        asks = "how warm was the gauge" if gauge.set_with else "what was the gauge set with"
        # One that was held to a heated part may not have become as warm, as on the bench it has.
        of_gauge = f"{reading.characteristic} {gauge.name}{' heated' if is_heated else ''}"
        shares[asks] = of_gauge, scale * (1 + least) - 1, scale * (1 + most) - 1
    if shares:
        off = max(abs(part - REFERENCE), abs(at - REFERENCE)) / (1 + 1e-9)
        asks = f"{measured}, but {', and '.join(shares)}?"
        return _left_open(reading, asks, tuple(shares.values()), off > around.leeway(reading.characteristic))
    correction = reading.middle * (scale - 1)
    if abs(correction) <= _unread(reading) or math.isclose(scale, 1.0, rel_tol=1e-9):
        return reading._replace(correction=0.0)
    brought = reading._replace(low=reading.low * scale, high=reading.high * scale, correction=correction)
    if abs(correction) <= reading.last_digit / 2:
        return brought
    by = write_quantity(correction, difference(unit))
    return brought._replace(remarks=(*reading.remarks, f"{measured}, brought to 20 degC by {by}"))


def _left_open(reading: Reading, asks: str, shares: Sequence[tuple[str, float, float]], is_far: bool) -> Reading:
    """A reading as written, with what it may be off by; far from 20 degrees that counts."""
    furthest = abs(reading.middle) * sum(max(map(abs, ends)) for _, *ends in shares)
    counts = is_far and furthest > _unread(reading)
    remarks = (asks,) if counts and furthest > reading.last_digit / 2 else ()
    return reading._replace(warmth=Warmth(asks, 0.0, tuple(shares), counts), remarks=(*reading.remarks, *remarks))


def _unread(reading: Reading) -> float:
    """What is not read at all where nobody says how well it was read: half the last digit."""
    return 0.0 if reading.instrument else reading.last_digit / 2


def _growth_of_gauge(gauge: Instrument, is_heated: bool, materials: Materials) -> tuple[float, float]:
    """Between what a gauge grows per kelvin: those of the part, where nobody says how warm it was itself."""
    usual = () if is_heated else materials.of_gauges
    least, most = materials.growth((gauge.set_with,) if gauge.set_with else usual)
    return (0.0 if is_heated and gauge.temperature is None else least), most


def _how_warm(reading: Reading, around: Surroundings, gauge: Instrument) -> Warmth | None:
    """What to find out where the record says what was measured, and not how warm that was."""
    if reading.characteristic not in around.stated:
        return None
    size = abs(reading.middle) * around.materials.expansions[around.stated[reading.characteristic]] * BENCH
    # It is worth asking if that is over half its uncertainty, or half its last digit where none is known.
    is_worth_it = size > (gauge.expanded(reading.middle) or reading.last_digit) / 2
    return Warmth("at what temperature was it measured?", size) if is_worth_it else None


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
