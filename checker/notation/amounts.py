"""Amounts: a number with its unit, and what is asked for when it is read."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

from checker.notation.counting import Counting
from checker.notation.vocabulary import PLAIN, Notation, NotationError, Part
from checker.notation.write import with_unit
from checker.units.units import UNITS, Unit, units_of

_FRACTIONS_OF = ("in", "thou", "ft", "turn", "qt", "gal")
METRIC_LENGTHS = ("mm", "um", "cm", "m")


class Span(NamedTuple):
    """What a reading says about a value, in SI: its ends, equal where it is exact, infinite where open."""

    low: float
    high: float


BEFORE_AN_ANGLE = "before a further angle"
"""What a value is whose words say that it is not simply the value asked for."""


class Written(NamedTuple):
    """A text with the values it holds: one, or one for each of the stations, steps or parts it lists."""

    text: str
    spans: tuple[Span, ...]
    notes: tuple[str, ...]
    unit: Unit
    station: str = ""
    each: str = ""
    meaning: str = ""

    @property
    def is_one_value(self) -> bool:
        """Whether it is one exact value of what was asked for, and names no station."""
        is_one = len(self.spans) == 1 and self.spans[0].low == self.spans[0].high
        return is_one and not self.station and not self.meaning


class Amount(NamedTuple):
    """One number as written, with its unit if it has one."""

    text: str
    number: float
    unit: Unit | None
    letter: str
    sign_is_clear: bool = False

    @property
    def is_whole(self) -> bool:
        """Whether it is written without point or fraction."""
        return self.letter == "w" or self.text.lstrip("+-").isdigit()

    @property
    def step(self) -> float:
        """One step of the last digit printed; none of a fraction or a word, which are exact."""
        digits = re.fullmatch(r"[-+]?[\d,]*(?:\.(\d*))?(?:[eE]([-+]?\d+))?", self.text)
        if self.letter in "fw" or digits is None:
            return 0.0
        decimals, exponent = digits.groups(default="")
        return float(10.0 ** (int(exponent or 0) - len(decimals)))

    @property
    def rounded_to(self) -> float:
        """To what it was rounded: its last digit, but 1400 may be rounded to tens and 350 to fives."""
        if self.is_whole and len(self.text.lstrip("+-")) > 2:
            return 10.0 if self.text.endswith("00") else 5.0 if self.text.endswith("0") else self.step
        return self.step


def amount(parts: Sequence[Part]) -> Amount:
    """Sign, number, "and a half", unit: as far as they are there."""
    numeral = next(part for part in parts if part.letter in "nfwc")
    number = numeral.number + (0.5 if any(part.letter == "h" for part in parts) else 0.0)
    sign = {"s": "-", "+": "+"}.get(parts[0].letter, "")
    unit = next((part.unit for part in parts if part.unit), None)
    return Amount(sign + numeral.text, -number if sign == "-" else number, unit, numeral.letter)


class Asked(NamedTuple):
    """What a text is read as: the unit of the characteristic, that of bare numbers, how it is counted, the words."""

    text: str
    expected: Unit
    default: Unit | None
    counted: str = ""
    notation: Notation = PLAIN

    @property
    def counting(self) -> Counting | None:
        """The way the value asked for is counted, if that is stated."""
        return self.notation.ways.get(self.counted)

    def is_said(self, form: str) -> bool:
        """Whether a form is said of the value asked for."""
        return self.counting is not None and form in self.counting.forms

    def check_form(self, what: str, *readings: str, form: str) -> None:
        """Refuse a form that is not said of the value asked for."""
        if not self.is_said(form):
            raise NotationError(f"{self.text!r} is {what}, which is not said of this", readings)

    def in_words(self, number: str) -> tuple[str, ...]:
        """A number with each of the words that say how the value asked for is counted."""
        return tuple(f"{number} {word}" for word in self.notation.words_for(self.counting))

    @property
    def is_metric(self) -> bool:
        """Whether the bench counts lengths in millimetres."""
        return (self.default or self.expected).name in METRIC_LENGTHS

    def unit_of(self, given: Amount, shared: Unit | None = None) -> Unit:
        """The unit written, else one shared with a neighbour, else the one for bare numbers."""
        unit = given.unit or shared or self._bare(given)
        if unit.kind != self.expected.kind:
            others = [other for other in units_of(self.expected.kind) if unit.name in other.name.split()]
            if unit.name == "deg" and self.expected.kind == "temperature":
                others = [UNITS["degF"], UNITS["degC"]]
            raise NotationError(
                f"{self.text!r} gives {unit.kind} ({unit.name}) where {self.expected.kind} is asked for",
                tuple(with_unit(given.text, other) for other in others),
            )
        return unit

    def _bare(self, given: Amount) -> Unit:
        if given.letter != "w":
            if self.default is not None:
                return self.default
            if self.expected.kind == "bare number" and self.expected.factor == 1.0:
                return self.expected
        own = (self.expected, *units_of(self.expected.kind))
        commonest = [unit for unit in dict.fromkeys(own) if unit.name != "1"][:3]
        readings = tuple(with_unit(given.text, unit) for unit in commonest)
        raise NotationError(f"{self.text!r} has no unit", readings)

    def si(self, given: Amount, shared: Unit | None = None) -> float:
        """The value in SI; refuses what could be two values."""
        unit = self.unit_of(given, shared)
        self._check_fraction(given, unit)
        self._check_size(given, unit)
        if self.counting and self.counting.minus_asks and given.number < 0 and not given.sign_is_clear:
            readings = self.in_words(with_unit(given.text.lstrip("-"), unit))
            raise NotationError(f"{self.text!r}: {self.counting.minus_asks}", readings)
        value = unit.to_si(given.number)
        if math.isinf(value):
            raise NotationError(f"{self.text!r} is beyond any measurement")
        return value

    def _check_fraction(self, given: Amount, unit: Unit) -> None:
        if given.letter == "f":
            over, under = map(int, re.split("[ -]", given.text)[-1].split("/"))
            if not 0 < over < under or under & (under - 1):
                raise NotationError(f"{given.text} is not a fraction of a rule: halves, quarters, ... sixty-fourths")
            if unit.name not in _FRACTIONS_OF:
                raise NotationError(f"fractions of {unit.name} are not used: write decimals")
            # Halves and quarters of a thousandth are said; 6/8 is rather what two of a pair are set to.
            if unit.name == "thou" and (under > 4 or math.gcd(over, under) > 1):
                readings = (f"{given.number:g} {unit.name}", f"{over} to {under} {unit.name}")
                raise NotationError(f"{self.text!r}: a fraction, or two values?", readings)

    def _check_size(self, given: Amount, unit: Unit) -> None:
        size = abs(given.number)
        if (
            unit.name == "thou"
            and given.letter == "n"
            and size
            and (size < 0.05 or re.search(r"(^|\D)0?\.\d{3}", given.text))
        ):
            readings = (f"{given.text} in", f"{given.number / 1000:.9f}".rstrip("0") + " in")
            raise NotationError(f"{self.text!r}: thousandths of a thousandth?", readings)
        if unit.name == "tenths" and self.is_metric:
            readings = (f"{given.number / 10:g} mm", f"{given.number / 10000:.9f}".rstrip("0") + " in")
            raise NotationError(f"{self.text!r}: tenths of a millimetre or of a thou?", readings)

    def exactly(self, given: Amount, *notes: str, unit: Unit | None = None, station: str = "") -> Written:
        """The result for one exact value."""
        value = self.si(given, unit)
        return Written(self.text, (Span(value, value),), notes, self.unit_of(given, unit), station)

    def between(self, first: Amount, second: Amount, *notes: str) -> Written:
        """The result for a value somewhere between two, which share their unit if only one has it."""
        shared = first.unit or second.unit
        ends = sorted(self.si(end, shared) for end in (first, second))
        return Written(self.text, (Span(*ends),), notes, self.unit_of(first, shared))

    def each(self, what: str, given: Sequence[Amount], *notes: str, unit: Unit | None = None) -> Written:
        """The result for several values, one for each "station", "step" or "part"."""
        spans = tuple(Span(value, value) for value in (self.si(number, unit) for number in given))
        return Written(self.text, spans, notes, self.unit_of(given[0], unit), each=what)
