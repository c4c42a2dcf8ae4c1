"""Suspect sheets: part sheets that can hardly be meant as they stand, and what they may have been meant to be.

A sheet is suspect that physics forbids altogether, or that states what is not possible at all. One that merely does not
overlap what the packs require of any use is so where a slip explains it that tables are known for, or where it lies so
far off that makers do not differ by it; so is one with an end that lies so far off and that such a slip explains.
Nothing is within by a suspect sheet until a person confirms it by name, at whatever station its ends are suspect. One
that is dated ahead is suspect before.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from checker.expressions.truth import Array, Truths
from checker.frozen import FrozenMapping
from checker.judging.allowed import Room, allowed_of, reached
from checker.judging.block import Block
from checker.notation.write import write_apart
from checker.packs.compiled import CompiledCharacteristic, inputs_of
from checker.packs.compiled_packs import CompiledPacks
from checker.packs.titles import lowered
from checker.records.part_sheet import PartLimit, PartSheet
from checker.units.units import UNITS

_INCH = UNITS["in"].factor
PLACES = (
    ("the point may be one place off", 10.0),
    ("the point may be two places off", 100.0),
    ("the point may be three places off", 1000.0),
)
UNDER_THE_OTHER = ("inches and millimetres may be mixed up", 25.4)
TWOFOLD = ("one side may be printed for both, or both for one", 2.0)
FAR = 3.0
"""Makers differ by less than so many times from what is required for any use."""


def suspected(sheets: Mapping[str, PartSheet], packs: CompiledPacks, block: Block) -> Mapping[str, PartSheet]:
    """The sheets, those that are suspect and not confirmed marked with the likely cause."""
    if not sheets:
        return sheets
    looked_at = [_Sheet(sheet, packs, block, at) for sheet in sheets.values() for at in _stations_of(sheet.limit)]

    def suspicion(sheet: PartSheet) -> str:
        own, others = ([one for one in looked_at if (one.sheet is sheet) is is_own] for is_own in (True, False))
        found = ((one.suspicion(others), f"at station {one.station + 1}: " * (len(own) > 1)) for one in own)
        return next((where + why for why, where in found if why), "")

    return FrozenMapping(
        (name, sheet if sheet.confirmed or sheet.suspicion else sheet._replace(suspicion=suspicion(sheet)))
        for name, sheet in sheets.items()
    )


def may_be_suspect(sheets: Mapping[str, PartSheet], packs: CompiledPacks, block: Block) -> Truths:
    """In which rows of a block a sheet may be: the others have no end far off or apart from what is allowed there."""
    found: Truths = np.zeros(1, dtype=np.bool_)
    for sheet in sheets.values():
        item = packs.characteristics[sheet.name]
        others = (packs.characteristics[other] for other in sheets if other != sheet.name)
        may_be_exchanged = any(_are_alike(item, other) for other in others)
        for station in _stations_of(sheet.limit) if may_be_exchanged or not sheet.confirmed else ():
            whole = _ends_of(sheet.limit, station)
            room, allowed = _as_far_as_stated(whole), reached(item, packs, block, station)
            found = found | _is_apart(room, allowed.required)
            if not sheet.confirmed:
                end = whole.high if math.isfinite(whole.high) else whole.low
                is_possible = Room(item.low, item.high).holds(room)
                found = found | _is_apart(whole, allowed.physics) | _is_far(end, allowed.usual) | (not is_possible)
    return found


def names_behind(sheets: Iterable[str], packs: CompiledPacks) -> frozenset[str]:
    """The names of all that may bear on which of these sheets are suspect: what packs allow there, and in like rows."""
    every = packs.characteristics.values()
    own = [packs.characteristics[name] for name in sheets]
    looked_at = {item.name for item in every if any(item is sheet or _are_alike(item, sheet) for sheet in own)}
    rules = [packs.rules[name] for name, rule in packs.layered.rules.items() if rule.judges.strip() in looked_at]
    chains = packs.layered.chains.values()
    expressions = (each for rule in rules for chain in chains for each in rule.expressions(chain))
    return inputs_of(expressions, packs.characteristics).names


def _is_apart(room: Room, other: tuple[Array, Array]) -> Truths:
    return np.asarray((room.low > other[1]) | (other[0] > room.high))


def _is_far(value: float, usual: tuple[Array, Array]) -> Truths:
    """Whether a value lies so many times off what is usual that it might be a slip; see Room.times_off."""
    end = np.where(value < usual[0], usual[0], np.where(value > usual[1], usual[1], value))
    with np.errstate(all="ignore"):
        off = np.where(end * value <= 0, np.inf, np.maximum(value / end, end / value))
    return np.asarray((end != value) & (off >= FAR))


def _ends_of(limit: PartLimit, station: int) -> Room:
    return Room(float(limit.low[0, station]), float(limit.high[0, station]))


def _as_far_as_stated(whole: Room) -> Room:
    """The same, where one end is silent with the other in its place."""
    low, high = whole
    return Room(low if math.isfinite(low) else high, high if math.isfinite(high) else low)


def _stations_of(limit: PartLimit) -> Iterable[int]:
    """The stations at which a sheet states ends that it does not state at one before."""
    found: dict[tuple[float, float], int] = {}
    for station in np.flatnonzero(limit.speaks[0]).tolist():
        found.setdefault((limit.low[0, station], limit.high[0, station]), station)
    return found.values()


class _Sheet:
    """One sheet at a station of which it speaks: its ends, and what is allowed there."""

    def __init__(self, sheet: PartSheet, packs: CompiledPacks, block: Block, station: int) -> None:
        self.sheet, self.packs, self.block, self.station = sheet, packs, block, station
        self.item = packs.characteristics[sheet.name]
        self.whole = _ends_of(sheet.limit, station)
        self.room = _as_far_as_stated(self.whole)
        self.allowed = allowed_of(self.item, packs, block, station)

    @property
    def title(self) -> str:
        """What it is about, in the middle of a sentence."""
        return lowered(self.item.characteristic.title)

    def suspicion(self, others: Iterable[_Sheet]) -> str:
        """Why the sheet is suspect, with the likely cause; empty where it is not."""
        for other in others:
            if self._is_exchanged_with(other):
                return f"exchanged with the row of {other.title}?"
        allowed = self.allowed
        causes = [*self._likely_slip(), *self._likely_row()]
        likely = f": {' or '.join(causes)}?" if causes else ""
        if self.whole.is_apart(allowed.by_physics):
            return f"physics forbids all of it ({allowed.forbids}){likely}"
        if not allowed.at_all.holds(self.room):
            return f"no such part can have that{likely}"
        off = min(allowed.required.times_off(end) for end in self.room)
        if self.whole.is_apart(allowed.required) and (likely or off >= FAR):
            return f"no use known here requires anything near it{likely}"
        # A sheet that is looser than any use is no slip for that alone, nor is the low end of a range near nought.
        end = self.whole.high if math.isfinite(self.whole.high) else self.whole.low
        off = allowed.usual.times_off(end)
        if off >= FAR and likely:
            size = "large" if end > allowed.usual.high else "small"
            return f"{off:.0f} times as {size} as anything that a use known here asks for{likely}"
        return ""

    def _is_exchanged_with(self, other: _Sheet) -> bool:
        """Whether each of two sheets fits the other's place, and one of them lies well off its own."""
        ours, theirs = self.allowed, other.allowed
        return (
            _are_alike(self.item, other.item)
            and all((*ours.is_stated, *theirs.is_stated))
            and (self.room.is_well_off(ours.required) or other.room.is_well_off(theirs.required))
            and ours.usual.holds(other.room)
            and theirs.usual.holds(self.room)
        )

    def _likely_slip(self) -> Iterator[str]:
        """The slip that brings the figures nearest to the middle of what is allowed, with what they were then."""
        usual, off = self.allowed.usual, self._times_off()
        found = [
            (words, meant)
            for words, factor in self._slips()
            # Where it stands it must be further off than where it would be meant.
            if off >= math.sqrt(max(factor, 1 / factor))
            for meant in self._meant(factor)
            if usual.nearly_holds(meant)
        ]
        if found:
            words, meant = min(found, key=lambda one: abs(math.log(_middle(one[1]) / _middle(usual))))
            yield f"{words} ({self._written(meant)})"

    def _meant(self, factor: float) -> Iterator[Room]:
        """What the ends are with a slip mended: in both, or in the one that does not fit."""
        low, high = self.room
        yield Room(low * factor, high * factor)
        for one in (Room(low, high * factor), Room(low * factor, high)):
            if low != high and one.low <= one.high:
                yield one

    def _times_off(self) -> float:
        """How many times it lies from the middle of what is allowed, or beyond its end, whichever is more."""
        usual = self.allowed.usual
        beyond = max(usual.times_off(end) for end in self.room)
        if not all(self.allowed.is_stated):
            return beyond
        own = _middle(self.room) / _middle(usual)
        return max(own, 1 / own, beyond)

    def _slips(self) -> Iterator[tuple[str, float]]:
        """What tables are known for, and the factor by which the figures meant are those printed."""
        if self.room.low <= 0 and self.room.high <= 0:
            return
        is_length = self.item.unit is not None and self.item.unit.kind == "length"
        # Of a difference of two others one side may be told for both.
        has_sides = self.item.agrees_within is not None
        for words, factor in (*PLACES, *([UNDER_THE_OTHER] * is_length), *([TWOFOLD] * (is_length and has_sides))):
            yield words, factor
            yield words, 1 / factor
        for title, size in self.allowed.sizes.items() if is_length else ():
            yield f"it may be a figure per inch of {title}", size / _INCH

    def _likely_row(self) -> Iterator[str]:
        """Another row of the same table, of a like title, that this range would fit."""
        if not self.room.is_apart(self.allowed.required):
            return
        for name, item in self.packs.characteristics.items():
            if name != self.sheet.name and _are_alike(item, self.item):
                other = allowed_of(item, self.packs, self.block, 0)
                if all(other.is_stated) and other.usual.holds(self.room):
                    yield f"it may be the row of {lowered(item.characteristic.title)}"

    def _written(self, meant: Room) -> str:
        ends = [end for end, own in zip(meant, self.whole, strict=True) if math.isfinite(own)]
        return " to ".join(write_apart(self.sheet.unit, *ends))


def _are_alike(one: CompiledCharacteristic, other: CompiledCharacteristic) -> bool:
    """Whether two are of one dimension and their names differ in one word, as shaft_end_play and shaft_side_play do."""
    if one.unit is None or other.unit is None or one.unit.dimension != other.unit.dimension:
        return False
    words, others = (set(item.name.split("_")) for item in (one, other))
    return 1 < len(words & others) >= max(len(words), len(others)) - 1


def _middle(room: Room) -> float:
    """The geometric middle of positive ends; half of the high one where the other is none."""
    low, high = max(room.low, 0.0), max(room.high, 0.0)
    return math.sqrt(low * high) or high / 2 or 1.0
