"""The values in a note: exact, between two ends, open at one end, or one for each station."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from contextlib import suppress
from typing import NamedTuple

from checker.errors import Place, Problem, nearest
from checker.notation.amounts import BEFORE_AN_ANGLE, Span
from checker.notation.read import CommaError, NotationError, Written, read_quantity
from checker.notation.vocabulary import PLAIN, Notation
from checker.notation.write import with_unit
from checker.packs.compiled import CompiledCharacteristic
from checker.records.notes import ASSEMBLY, Note, is_measured
from checker.records.reading_keys import ENDS
from checker.units.units import UNITS, Unit

COLDEST, WARMEST = 243.15, 373.15
"""Beyond -30 and +100 degrees C no size is measured that is to hold at 20: such a temperature is a slip."""


class Value(NamedTuple):
    """One value in SI, with the station that its own text names, if it names one."""

    low: float
    high: float
    written: str
    unit: Unit | None
    remarks: tuple[str, ...] = ()
    station: str = ""


def values_in(
    note: Note, item: CompiledCharacteristic, default: Unit | None, count: int, problems: list[Problem]
) -> Iterator[Value]:
    """The values of a note; `default` is the unit of bare numbers, `count` how many stations there are.

    What cannot be read is added to the problems.
    """
    if item.unit is None:
        yield from _choices(note, item, problems)
        return
    asked = Asked(
        item.unit, default, note.place, problems, item.characteristic.counted, item.notation, (item.low, item.high)
    )
    if note.form in ENDS:
        yield from _ended(note, asked)
        return
    for text in note.written:
        written = asked.read(text) if is_measured(text) else None
        if written is not None:
            spans = written.spans
            if written.meaning == BEFORE_AN_ANGLE:  # a torque then says no more than the least it can be
                spans = tuple(Span(span.low, math.inf) for span in spans)
            for station, span in zip(_stations(written, note, item, count, asked), spans, strict=False):
                yield Value(span.low, span.high, text, written.unit, written.notes, station)


class Asked(NamedTuple):
    """What a text is read as, and where it stands; what is wrong with it is added to the problems."""

    expected: Unit
    default: Unit | None
    place: Place
    problems: list[Problem]
    counted: str = ""
    notation: Notation = PLAIN
    plausible: tuple[float, float] = (-math.inf, math.inf)

    def read(self, text: str) -> Written | None:
        """Whatever a text holds; a comma is its point, or parts its thousands, where only that is plausible."""
        try:
            return read_quantity(text, self.expected, self.default, self.counted, self.notation)
        except NotationError as error:
            if isinstance(error, CommaError) and len(likely := list(self._plausible(error.readings))) == 1:
                return likely[0]._replace(notes=(*likely[0].notes, f"read as {likely[0].text}"))
            unit = self.default or self.expected
            usual = (
                "a number, as in 1.5" if unit.name == "1" else f"a number and its unit, as in {with_unit('1.5', unit)}"
            )
            self.refuse(
                error.message, f"it could be {' or '.join(error.readings)}" if error.readings else f"expected {usual}"
            )
            return None

    def _plausible(self, readings: Iterable[str]) -> Iterator[Written]:
        """Those readings of a text that can be read and lie in the plausible range."""
        low, high = self.plausible
        for text in readings:
            with suppress(NotationError):
                written = read_quantity(text, self.expected, self.default, self.counted, self.notation)
                if all(low <= span.low and span.high <= high for span in written.spans):
                    yield written

    def exact(self, text: str) -> Written | None:
        """One exact value."""
        written = self.read(text)
        if written is not None and not written.is_one_value:
            self.refuse(f"{text!r} is not one value")
            return None
        return written

    def value(self, text: str) -> float:
        """One exact value in SI; NaN where there is none."""
        written = self.exact(text)
        return math.nan if written is None else written.spans[0].low

    def refuse(self, message: str, hint: str = "") -> None:
        """One problem more."""
        self.problems.append(Problem(message, self.place, hint))


def temperature_at(text: str, default: Unit | None, place: Place, problems: list[Problem]) -> float:
    """The temperature at which something was measured; NaN, and a problem more, where it cannot be one."""
    asked = Asked(UNITS["degC"], default, place, problems)
    value = asked.value(text)
    if not math.isnan(value) and not COLDEST <= value <= WARMEST:
        asked.refuse(f"nothing is measured at {text}")
        return math.nan
    return value


def _choices(note: Note, item: CompiledCharacteristic, problems: list[Problem]) -> Iterator[Value]:
    choices = item.characteristic.choices
    for text in note.written:
        if text in choices and note.form not in ENDS:
            code = float(choices.index(text))
            yield Value(code, code, text, None)
        elif is_measured(text):
            hint = nearest(text, choices) or f"one of {', '.join(choices)}"
            problems.append(Problem(f"{item.name} cannot be {text!r}", note.place, hint))


def _stations(written: Written, note: Note, item: CompiledCharacteristic, count: int, asked: Asked) -> list[str]:
    """The station that each value of a text names; none where the text cannot be for this characteristic."""
    several = len(written.spans)
    if several == 1 or item.characteristic.series:
        return [written.station] * several
    if written.each != "station" or note.station != ASSEMBLY or item.characteristic.per is None:
        hint = "write one value a station; several readings at one station as a list in brackets"
        asked.refuse(f"{written.text!r} holds {several} values", hint)
        return []
    if several != count:
        asked.refuse(f"{written.text!r} holds {several} values; there are {count} {item.characteristic.per} stations")
        return []
    return [str(number) for number in range(1, several + 1)]


def _ended(note: Note, asked: Asked) -> Iterator[Value]:
    """A value known to lie above or below one end, or between two; ends share a unit when only one has it."""
    count, wanted = (2, "two ends, as in [0.279 mm, 0.305 mm]") if note.form == "between" else (1, "one end")
    if len(note.written) != count:
        asked.refuse(f"{note.form} needs {wanted}")
        return
    units = [unit for text in note.written if (unit := _unit_in(text, asked))]
    alike = asked._replace(default=units[0] if units else asked.default)
    ends = [written for text in note.written if (written := alike.exact(text))]
    if len(ends) == len(note.written):
        yield Value(
            -math.inf if note.form == "below" else min(end.spans[0].low for end in ends),
            math.inf if note.form == "above" else max(end.spans[0].high for end in ends),
            f"{note.form} {' and '.join(note.written)}",
            ends[0].unit,
            tuple(remark for end in ends for remark in end.notes),
        )


def _unit_in(text: str, asked: Asked) -> Unit | None:
    """The unit written behind a number, if any."""
    try:
        return read_quantity(text, asked.expected, None, asked.counted, asked.notation).unit
    except NotationError:
        return None
