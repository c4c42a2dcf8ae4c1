"""How far the readings of an instrument can be trusted."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from checker.conformity import COVERAGE
from checker.errors import InputError, Problem
from checker.notation import NotationError, read_quantity
from checker.record import Record
from checker.units import UNITS, Unit, unit


@dataclass(frozen=True, slots=True)
class Amount:
    """A doubt that is fixed, or a share of the reading; both in SI."""

    fixed: float = 0.0
    share: float = 0.0

    def at(self, value: float) -> float:
        """The doubt of a reading of this size."""
        return math.hypot(self.fixed, self.share * abs(value))


NOTHING = Amount()


@dataclass(frozen=True, slots=True)
class Instrument:
    """Standard uncertainties: of each reading by itself, and alike in all readings."""

    name: str
    own: Amount = NOTHING
    shared: Amount = NOTHING


NO_INSTRUMENT = Instrument("")


def instruments_of(record: Record) -> dict[str, Instrument]:
    """The instruments a record lists; raises InputError."""
    problems: list[Problem] = []
    found = {name: _instrument(name, record, problems) for name in record.section("instruments")}
    if problems:
        raise InputError(problems)
    return found


def _instrument(name: str, record: Record, problems: list[Problem]) -> Instrument:
    given = record.section("instruments")[name]
    whole, shared, step = (
        _amount(record, name, key, problems) if key in given else NOTHING
        for key in ("expanded_uncertainty", "shared", "resolution")
    )
    if shared.fixed > whole.fixed or shared.share > whole.share:
        place = record.document.place("instruments", name, "shared")
        problems.append(Problem("the shared part is larger than the whole uncertainty", place))
        shared = whole
    # A resolution is a rectangular distribution one step wide (JCGM 100:2008, F.2.2.1).
    own = Amount(
        math.hypot(_rest(whole.fixed, shared.fixed) / COVERAGE, step.fixed / math.sqrt(12)),
        _rest(whole.share, shared.share) / COVERAGE,
    )
    return Instrument(name, own, Amount(shared.fixed / COVERAGE, shared.share / COVERAGE))


def _rest(whole: float, part: float) -> float:
    return math.sqrt(max(0.0, whole**2 - part**2))


def _amount(record: Record, name: str, key: str, problems: list[Problem]) -> Amount:
    path = ("instruments", name, key)
    text = record.document.written(*path)
    for candidate in _candidates(record.section("units"), text):
        try:
            written = read_quantity(text, candidate, candidate if candidate.kind in record.section("units") else None)
        except NotationError:
            continue
        size = abs(written.spans[0].high)
        return Amount(share=size) if candidate.name == "%" else Amount(fixed=size)
    problems.append(Problem(f"{text!r} is not a quantity such as 0.2 thou or 4 %", record.document.place(*path)))
    return NOTHING


def _candidates(units: Mapping[str, str], text: str) -> Iterator[Unit]:
    """Units the text may be in: the one written behind the number, else the record's for lengths."""
    last = text.split(" ", 1)[-1].strip() if " " in text else ""
    if text.endswith("%"):
        yield unit("%")
    elif last in UNITS:
        yield UNITS[last]
    elif "length" in units and units["length"] in UNITS:
        yield UNITS[units["length"]]
