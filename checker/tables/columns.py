"""What the columns of a table hold: of which characteristic at which station, and in which unit their numbers are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from checker.errors import Problem, UsageError
from checker.packs.compiled import CompiledCharacteristic
from checker.records.layout import Layout, station_number
from checker.records.notes import ASSEMBLY
from checker.tables.places import Laid, Place, line_of
from checker.units.units import UNITS, Unit, UnitError, bare_unit, unit


class Wanted(NamedTuple):
    """Cells of a table with the characteristic they are of, its station from 0, and the unit of their numbers."""

    item: CompiledCharacteristic
    station: int
    unit: Unit | None
    place: Place


class Held(NamedTuple):
    """What the columns hold, the places at which it was measured, and by row what is wrong with it."""

    wanted: tuple[Wanted, ...]
    places: tuple[Place, ...]
    faults: Mapping[int, tuple[Problem, ...]]


def columns_of(
    laid: Laid,
    items: Mapping[str, CompiledCharacteristic],
    layout: Layout,
    defaults: Mapping[str, Unit],
    instruments: Iterable[str],
) -> Held:
    """What each column of a table is of; `instruments` are stated of these characteristics.

    What is wrong with some lines of a long table is the fault of their assemblies; for all else raises UsageError.
    """
    faults = dict(laid.faults)
    wanted: list[Wanted] = []
    problems: list[Problem] = []
    unitless: dict[str, dict[str, str]] = {}
    kept: list[Place] = []
    alike: dict[tuple[str, str], tuple[CompiledCharacteristic, int, Unit | None, str]] = {}
    for place in laid.places:
        stated = place.characteristic, place.unit
        if stated not in alike:
            item = items[place.characteristic]
            alike[stated] = (item, layout.count(item.characteristic.per), *_unit_of(place, item, defaults))
        item, count, own, words = alike[stated]
        if own is None and not words and item.unit is not None and place.cells.has_numbers:
            if laid.column_of_units:
                words = f"in which unit of {item.unit.kind}? {item.name} is usually read in {item.unit.name}"
            else:
                of = place.column if laid.column_of_units is None else item.name
                unitless.setdefault(item.unit.kind, {})[of] = item.unit.name
        stations, misplaced = _stations_of(place, item, count)
        if not (words := words or misplaced):
            kept.append(place)
            for station in stations:
                wanted.append(Wanted(item, station, own, place))
        elif place.lines is None:
            problems.append(Problem(f"column {place.column!r}: {words}"))
        else:
            for row in np.flatnonzero(place.lines >= 0).tolist():
                fault = Problem(words, line_of(int(place.lines[row])))
                faults[row] = (*faults.get(row, ()), fault)
    known = items.keys() if laid.column_of_units is not None else {place.characteristic for place in kept}
    if not problems:
        problems += [
            Problem(f"no column of {name!r}, of which an instrument is stated")
            for name in sorted(set(instruments) - known)
        ]
    problems += [_without_unit(kind, columns) for kind, columns in unitless.items()]
    if problems:
        raise UsageError(problems)
    return Held(tuple(wanted), tuple(kept), faults)


def _unit_of(place: Place, item: CompiledCharacteristic, defaults: Mapping[str, Unit]) -> tuple[Unit | None, str]:
    """The unit of bare numbers, if it is known, and what is wrong with one that is stated."""
    try:
        stated = unit(place.unit) if place.unit else None
    except UnitError as error:
        return None, str(error)
    if item.unit is None:
        return stated, ""
    if stated is not None and stated.kind != item.unit.kind:
        return stated, f"{stated.name} is {stated.kind}, {item.name} is {item.unit.kind}"
    default = bare_unit(item.unit, defaults.get(item.unit.kind))
    return stated or default or (item.unit if item.unit is UNITS["1"] else None), ""


def _stations_of(place: Place, item: CompiledCharacteristic, count: int) -> tuple[Sequence[int], str]:
    """The stations that a column holds, from 0, of so many, as a record would have it; or what is wrong with it."""
    per, number = item.characteristic.per, station_number(place.station)
    if per is not None and number is not None and number <= count:
        return (number - 1,), ""
    if per is None and place.station != ASSEMBLY:
        return (), f"{item.name} has one value for the assembly, not one for each station"
    if per is None or (place.station == ASSEMBLY and (count == 1 or item.unit is None)):
        return range(count), ""
    if place.station == ASSEMBLY:
        return (), f"{item.name} is measured at each {per}, as in {item.name}@1"
    if number is None:
        return (), f"{place.station!r} is no number of a station"
    return (), f"no {per} {number}: there are {count}"


def _without_unit(kind: str, columns: Mapping[str, str]) -> Problem:
    """That nothing says in which unit the numbers of some columns are, each with the unit it is usually read in."""
    each = ", ".join(f"{column!r} (usually {usual})" for column, usual in columns.items())
    hint = f"state it in the record, as in units: {{{kind}: {next(iter(columns.values()))}}}"
    return Problem(f"in which unit of {kind} are the numbers of {each}?", hint=hint)
