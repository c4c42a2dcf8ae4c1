"""Part sheets: what the makers of parts ask for. They count in place of what the packs ask for, physics excepted."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date
from typing import NamedTuple

import numpy as np

from checker.documents.document import Origin
from checker.errors import Place, Problem, nearest
from checker.expressions.truth import Array, Truths
from checker.frozen import FrozenMapping
from checker.notation.plain import SLIPPED
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.sheet_limits import SheetLimits
from checker.records.change import AHEAD
from checker.records.entry import day_at
from checker.records.layout import Layout, station_number
from checker.records.reading_keys import ALL
from checker.records.values import Asked
from checker.units.units import Unit, bare_unit


class PartLimit(NamedTuple):
    """Limits from a part maker's sheet in SI, by station; infinite where the sheet is silent, missing where suspect.

    One that `is_beside` what the packs ask for adds to it, and takes nothing from it.
    """

    low: Array
    high: Array
    is_beside: bool = False

    @property
    def speaks(self) -> Truths:
        """At which stations it says anything."""
        states = np.asarray((self.low != -np.inf) | (self.high != np.inf))
        states.flags.writeable = False  # what a report leads to nobody writes into
        return states


class PartSheet(NamedTuple):
    """What one sheet says of one characteristic; `uses` are those it names, and packs of more load.

    One that names none is `meant_for` the use of its record, or for every use where a pack states it. `suspicion` says
    what it may be instead of right, empty where nobody doubts it. One that somebody holds for right is `confirmed`,
    which says by whom and when.
    """

    name: str
    limit: PartLimit
    source: str
    origin: Origin
    written: str
    unit: Unit
    dated: date | None = None
    uses: tuple[str, ...] = ()
    meant_for: str | None = None
    confirmed: str = ""
    suspicion: str = ""

    def __str__(self) -> str:
        return f"{self.source} of {self.dated}" if self.dated else self.source


def part_sheets_in(
    sheets: Iterable[SheetLimits],
    characteristics: Mapping[str, CompiledCharacteristic],
    layout: Layout,
    uses: Collection[str],
    meant_for: str,
    defaults: Mapping[str, Unit],
    day: date,
    problems: list[Problem],
) -> Mapping[str, PartSheet]:
    """Part sheets by characteristic, as they stand on a day; of two the last counts. Problems are added to the others.

    `uses` are the names for which a sheet may be printed, `meant_for` is that of the record.
    """
    by_name: dict[str, PartSheet] = {}
    for stated in sheets:
        is_of_record = not stated.origin.pack
        name, place = stated.name, stated.origin.place
        item = characteristics.get(name)
        if item is None or item.unit is None:
            message = f"no measured characteristic {name!r}" if item is None else f"{name} has choices, and no size"
            problems.append(Problem(message, place, "" if item else nearest(name, characteristics)))
            continue
        bare = bare_unit(item.unit, defaults.get(item.unit.kind) if is_of_record else None)
        asked = Asked(item.unit, bare, place, problems)
        ends = _Ends(stated, item, layout.count(item.characteristic.per), asked, [item.unit])
        low, high = ends.of("at_least", -math.inf), ends.of("at_most", math.inf)
        low.flags.writeable = high.flags.writeable = False
        if not stated.at_least and not stated.at_most:
            problems.append(Problem("expected at_least, at_most or both", place))
        elif (low > high).any():
            problems.append(Problem("at_least lies above at_most", place))
        for use in stated.uses:
            if use not in uses:
                hint = nearest(use, uses) or f"known: {', '.join(uses)}"
                problems.append(Problem(f"no use and no pack {use!r} that a sheet could be for", place, hint))
        dated = day_at(stated.dated, place, problems) if stated.dated else None
        by_name[name] = PartSheet(
            name=name,
            limit=PartLimit(low, high),
            source=stated.source,
            origin=_origin(stated),
            written=ends.words(),
            unit=ends.units[-1],
            dated=dated,
            uses=stated.uses,
            meant_for=meant_for if is_of_record else None,
            confirmed=_confirmed(stated, dated, day, problems),
            suspicion=_ahead(dated, day) if is_of_record else "",
        )
    return FrozenMapping(by_name)


def _origin(stated: SheetLimits) -> Origin:
    """Who states a sheet: a pack, or the record."""
    origin = stated.origin
    return origin if origin.pack else origin._replace(pack="part_limits", version="of the record")


def _ahead(dated: date | None, day: date) -> str:
    """What there is to say of a sheet that nobody can have had on the day of judging."""
    is_ahead = dated is not None and dated - day > AHEAD
    return f"dated {dated}, which lies ahead of {day}: is the day or the year mistyped?" if is_ahead else ""


def _confirmed(stated: SheetLimits, dated: date | None, day: date, problems: list[Problem]) -> str:
    """By whom and when a sheet is held for right: not before it was printed, nor on a day to come."""
    place = stated.origin.place
    if bool(stated.confirmed_by) != bool(stated.confirmed_on):
        message = "who confirms a sheet says so by name and day"
        problems.append(Problem(message, place, "as in confirmed_by: bench lead, confirmed_on: 2026-05-03"))
        return ""
    on = day_at(stated.confirmed_on, place, problems) if stated.confirmed_on else None
    if on is None:
        return ""
    if on - day > AHEAD:
        problems.append(Problem(f"confirmed on {on}: is that day still to come?", place))
    if dated is not None and on < dated:
        problems.append(Problem(f"confirmed on {on}, before the sheet of {dated}", place))
    return f"confirmed by {stated.confirmed_by} on {on}"


class _Ends(NamedTuple):
    """The ends of one sheet as arrays over the stations; `units` gathers those they are written in."""

    stated: SheetLimits
    item: CompiledCharacteristic
    station_count: int
    asked: Asked
    units: list[Unit]

    def of(self, key: str, silent: float) -> Array:
        """One end in SI at each station, infinite where nothing is said."""
        values = np.full((1, self.station_count), silent)
        given = self.stated.at_least if key == "at_least" else self.stated.at_most
        for label, text in sorted(given.items(), key=lambda item: item[0] not in ("", ALL)):
            amount = self.amount(text, self.stated.origin.at(key, *filter(None, (label,))))
            for station in self.stations(label, key):
                values[0, station] = amount
        return values

    def stations(self, label: str, key: str) -> Iterator[int]:
        number, per = station_number(label), self.item.characteristic.per
        if label in ("", ALL):
            yield from range(self.station_count)
        elif number is not None and number <= self.station_count and per is not None:
            yield number - 1
        else:
            hint = f"there are {self.station_count}" if per else "it is measured once"
            asked = self.asked._replace(place=self.stated.origin.at(key))
            asked.refuse(f"{self.item.name} has no station {label}", hint)

    def amount(self, text: str, place: Place) -> float:
        asked = self.asked._replace(place=place)
        written = asked.exact(text)
        if written is None:
            return math.nan
        # What a reading may show beside its value, a limit may not: two units that tell two values.
        if any(note.endswith(SLIPPED) for note in written.notes):
            asked.refuse(f"{text!r}: the two values do not agree")
        self.units.append(written.unit)
        return written.spans[0].low

    def words(self) -> str:
        """Both ends as written."""
        sides = {"at least": self.stated.at_least, "at most": self.stated.at_most}
        return ", ".join(f"{word} {', '.join(dict.fromkeys(given.values()))}" for word, given in sides.items() if given)
