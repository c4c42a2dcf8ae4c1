"""Aims: where a remedy brings a value, inside every limit on it and never by less than can be read."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from checker.expressions.truth import TRUE
from checker.findings.standpoint import Standpoint, behind_value
from checker.judging.judge import Judged, Verdict
from checker.notation.write import finest_step
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.limit_set import POSITIONS
from checker.records.entry import Reading
from checker.records.instruments import COVERAGE

NOT_TOLD = (
    "It misses by less than its reading tells: write down all its digits, or measure it again with a finer instrument."
)
MISSED_BY_A_HAIR = "Leave it: it misses what is recommended by less than its reading tells."


class Aim(NamedTuple):
    """The value to reach, in SI; missing where there is none, and then why."""

    value: float
    because: str = ""


def aim_at(here: Standpoint, side: str) -> Aim:
    """Where to bring the value that misses on one side.

    It is the nearest value inside all that is required and recommended of it, by whatever rule; where that leaves no
    room, inside all that is required. A part is not sent for less than its reading tells.
    """
    own = here.at(here.judged.measures.value)
    if math.isnan(own):  # seen to miss, and not measured
        return Aim(math.nan)
    inward = 1.0 if side == "low" else -1.0
    step = finest_step(own, here.unit)
    rooms = (_room(here, recommended) for recommended in (True, False))
    ends = ((low, high) if side == "low" else (high, low) for low, high in rooms if high - low >= step)
    edge, far = next((room for room in ends if math.isfinite(room[0])), (math.nan, math.nan))
    if not inward * (edge - own) > 0:
        # There is none, or what misses is a recommendation that does not fit in with what is required.
        return Aim(math.nan, _no_room(here))
    least = max(step, _resolution(here, side))
    wanted = max(inward * (edge - own), least)
    most = inward * (far - own) - step
    if wanted <= most or wanted == inward * (edge - own):
        return Aim(own + inward * wanted)
    return Aim(math.nan, MISSED_BY_A_HAIR if here.verdict is Verdict.ADVISORY else NOT_TOLD)


def _room(here: Standpoint, recommended: bool) -> tuple[float, float]:
    """What all rules about this value leave of it, with what they recommend or without."""
    low, high = -math.inf, math.inf
    for judged in _beside(here):
        limits = judged.measures.limits[:, 0, here.station].tolist()
        must_low, should_low, should_high, must_high = (value if math.isfinite(value) else None for value in limits)
        wanted = (must_low, should_low), (must_high, should_high)
        lows, highs = (ends if recommended else ends[:1] for ends in wanted)
        low = max([low, *(end for end in lows if end is not None)])
        high = min([high, *(end for end in highs if end is not None)])
    return low, high


def _beside(here: Standpoint) -> Iterator[Judged]:
    """The rule itself, and all others about the same characteristic that apply at this station."""
    yield here.judged
    name = here.rule.judges.characteristic
    for other in here.context.beside.get(name, ()) if name else ():
        if other.rule.name != here.rule.name and other.measures.applies[0, here.station] == TRUE:
            yield other


def _no_room(here: Standpoint) -> str:
    others = ", ".join(other.rule.rule.title for other in _beside(here) if other.rule is not here.rule)
    beside = f" beside {others}" if others else ""
    return f"No value keeps all limits{beside}: decide first which of them counts."


def _resolution(here: Standpoint, side: str) -> float:
    """What the readings behind a value tell at the least, in SI: the coarsest of them, or the doubt about the miss."""
    doubt = here.judged.doubt
    standard = (
        [] if doubt is None else [here.at(doubt.standard[n]) for n, (_, own) in enumerate(POSITIONS) if own == side]
    )
    read_to = [_read_to(here, item, readings) for item, readings in behind_value(here)]
    return max([0.0, *(COVERAGE * standard for standard in standard if math.isfinite(standard)), *read_to])


def _read_to(here: Standpoint, item: CompiledCharacteristic, readings: Sequence[Reading]) -> float:
    """The finest digit that was read at one place, or what is usual for the way it is read.

    One gauge reads alike everywhere: 2.451 among 2.4509 was read to four places, and has lost its nought.
    """
    if item.unit is None or item.unit.dimension != here.rule.unit.dimension or not item.usual_uncertainty:
        return 0.0
    gauges = {(reading.instrument, reading.unit) for reading in readings if not reading.is_fact}
    places = range(here.context.block.layout.count(item.characteristic.per))
    alike = (reading for place in places for reading in here.context.written.get((item.name, place), ()))
    finest = min((each.last_digit for each in alike if (each.instrument, each.unit) in gauges), default=0.0)
    is_named = any(instrument for instrument, _ in gauges)
    return max(finest, 0.0 if is_named else item.usual_uncertainty)
