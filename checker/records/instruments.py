"""How far the readings of an instrument can be trusted, and what it was set with."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from checker.errors import Problem, nearest
from checker.notation.read import NotationError, Written, read_quantity
from checker.packs.materials import Materials
from checker.records.record import Record
from checker.records.sections import ListedInstrument
from checker.records.values import temperature_at
from checker.units.units import KINDS, UNITS, Unit, units_of

COVERAGE = 2.0
"""Coverage factor of every expanded uncertainty: about 95 per cent."""
_AMOUNTS = ("expanded_uncertainty", "shared", "resolution")
_DOUBTED_AS = {"temperature": "temperature difference"}
"""The kind of quantity in which the doubt about a reading is stated, where it is not the reading's own."""


class Amount(NamedTuple):
    """A doubt that is fixed, or a share of the reading; both in SI."""

    fixed: float = 0.0
    share: float = 0.0

    def at(self, value: float) -> float:
        """The doubt of a reading of this size."""
        return math.hypot(self.fixed, self.share * value)

    def move(self, value: float) -> float:
        """How far it moves a reading of this size when it moves all readings the same way."""
        return self.fixed + self.share * value


NOTHING = Amount()


class Instrument(NamedTuple):
    """Standard uncertainties: of each reading by itself, and alike in all readings.

    `set_with` is the material of the standard it is set with, `temperature` its own when used, where stated.
    """

    name: str
    own: Amount = NOTHING
    shared: Amount = NOTHING
    kinds: frozenset[str] = frozenset()
    set_with: str | None = None
    temperature: float | None = None

    def suits(self, kind: str) -> bool:
        """Whether its uncertainty can be that of a reading of this kind of quantity."""
        return self.kinds <= {_DOUBTED_AS.get(kind, kind)}

    def expanded(self, value: float) -> float:
        """The expanded uncertainty of one reading."""
        return COVERAGE * math.hypot(self.own.at(value), self.shared.at(value))


NO_INSTRUMENT = Instrument("")


def instruments_of(
    record: Record, defaults: Mapping[str, Unit], materials: Materials, problems: list[Problem]
) -> dict[str, Instrument]:
    """The instruments a record lists; `defaults` are the units of bare numbers by kind.

    What is wrong with them is added to the problems.
    """
    return {listed.name: _Listed(listed, defaults, problems).instrument(materials) for listed in record.instruments}


class _Listed(NamedTuple):
    """One entry under instruments."""

    stated: ListedInstrument
    defaults: Mapping[str, Unit]
    problems: list[Problem]

    def instrument(self, materials: Materials) -> Instrument:
        stated = self.stated
        if not (stated.expanded_uncertainty or stated.resolution):
            self.refuse("expanded_uncertainty", "neither this nor a resolution is stated", "0 in for what is exact")
        earlier = len(self.problems)
        texts = (stated.expanded_uncertainty, stated.shared, stated.resolution)
        read = [self.amount(key, text) if text else ("", NOTHING) for key, text in zip(_AMOUNTS, texts, strict=True)]
        whole, shared, step = (amount for _, amount in read)
        if len(self.problems) == earlier and (shared.fixed > whole.fixed or shared.share > whole.share):
            self.refuse("shared", "the shared part is larger than the whole uncertainty")
        if step.share:
            self.refuse("resolution", "a resolution is a quantity, not a percentage")
        kinds = frozenset(kind for kind, _ in read if kind)
        if len(kinds) > 1:
            self.refuse("resolution", f"its amounts are of different kinds: {', '.join(sorted(kinds))}")
        set_with = stated.set_with
        if set_with and set_with not in materials.expansions:
            hint = nearest(set_with, materials.expansions) or materials.named()
            self.refuse("set_with", f"no material {set_with!r}", hint)
        default, place = self.defaults.get("temperature"), stated.origin.at("temperature")
        return Instrument(
            name=stated.name,
            own=Amount(
                # A resolution is a rectangular distribution one step wide (JCGM 100:2008, F.2.2.1).
                math.hypot(_rest(whole.fixed, shared.fixed) / COVERAGE, step.fixed / math.sqrt(12)),
                _rest(whole.share, shared.share) / COVERAGE,
            ),
            shared=Amount(shared.fixed / COVERAGE, shared.share / COVERAGE),
            kinds=kinds,
            set_with=set_with or None,
            temperature=temperature_at(stated.temperature, default, place, self.problems)
            if stated.temperature
            else None,
        )

    def amount(self, key: str, text: str) -> tuple[str, Amount]:
        """The kind of quantity of a doubt, none for a share of the reading, and the doubt."""
        written = self.quantity(key, text)
        size = written.spans[0].low if written else 0.0
        if size < 0:
            self.refuse(key, "cannot be negative")
            return "", NOTHING
        if written is None or written.unit.name == "%":
            return "", Amount(share=size)
        return written.unit.kind, Amount(fixed=size)

    def quantity(self, key: str, text: str) -> Written | None:
        """A quantity with its unit, of whatever kind; a bare number is a length in the record's unit."""
        reason = f"{text!r} is not a quantity such as 0.2 thou, 1 delta degC or 4 %"
        for unit, default in self.candidates(text):
            try:
                written = read_quantity(text, unit, default)
            except NotationError as error:
                reason = str(error) if unit.name in text else reason
                continue
            is_exact = len(written.spans) == 1 and written.spans[0].low == written.spans[0].high
            if is_exact and written.unit.name not in ("1", "ratio") and written.unit.kind != "temperature":
                return written
        self.refuse(key, reason)
        return None

    def candidates(self, text: str) -> Iterator[tuple[Unit, Unit | None]]:
        """Units the text may be read as, with that of bare numbers: the one behind its number, else any."""
        behind = UNITS.get(text.lstrip("+-0123456789. "))
        if behind is not None and behind.name != "1":
            yield behind, None
            return
        yield from ((units_of(kind)[0], None) for kind in KINDS)
        if "length" in self.defaults:
            yield self.defaults["length"], self.defaults["length"]

    def refuse(self, key: str, message: str, hint: str = "") -> None:
        self.problems.append(Problem(message, self.stated.origin.at(key), hint))


def _rest(whole: float, part: float) -> float:
    return math.sqrt(max(0.0, whole**2 - part**2))
