"""Readers of a number with a word of a pack beside it, which says what the number is counted from and which way."""

from __future__ import annotations

from collections.abc import Sequence

from checker.notation.amounts import METRIC_LENGTHS, Amount, Asked, Written, amount
from checker.notation.counting import Counting, UnclearWord
from checker.notation.vocabulary import NotationError, Part
from checker.notation.write import with_unit
from checker.units.units import UNITS, Unit


def behind(asked: Asked, group: Sequence[Part], word: Sequence[Part]) -> Written | None:
    """Reads "0.4 mm proud", "109 after"; a word that leaves it open asks."""
    said = word[0].word.behind if word[0].word else None
    if isinstance(said, UnclearWord):
        return _asking(asked, amount(group), said)
    return _counted(asked, amount(group), word[0].text, said) if said else None


def behind_unsigned(asked: Asked, group: Sequence[Part], word: Sequence[Part]) -> Written | None:
    """Reads ".060 over", where the word stands for a comparison in front of a number."""
    return None if group[0].letter in "s+" else behind(asked, group, word)


def in_front(asked: Asked, word: Sequence[Part], group: Sequence[Part]) -> Written | None:
    """Reads "proud 0.4 mm"."""
    said = word[0].word.in_front if word[0].word else None
    return _counted(asked, amount(group), word[0].text, said) if said else None


def _asking(asked: Asked, given: Amount, word: UnclearWord) -> Written:
    if word.counted_from and (asked.counting is None or asked.counting.counted_from != word.counted_from):
        raise NotationError(f"{asked.text!r} is counted from {word.counted_from}, which is not said of this")
    if given.number or word.nought is None:
        size = given.text.lstrip("+-")
        raise NotationError(f"{asked.text!r}: {word.asks}", tuple(text.format(size) for text in word.could_be))
    number, unit = word.nought.within.split(" ", 1)
    low, high = (Amount(given.text, sign * float(number), UNITS[unit], "n", True) for sign in (-1, 1))
    return asked.between(low, high, f"{word.nought.because}: taken as within {word.nought.within}")


def _counted(asked: Asked, given: Amount, word: str, way: Counting) -> Written:
    """Turned round where the value asked for is counted the other way."""
    if way.of != asked.expected.kind:
        raise NotationError(f"{given.text} {way.name} ({word}) gives {way.of} where {asked.expected.kind} is asked for")
    own = asked.counting
    if own is None or not own.takes(way):
        raise _not_said(asked, given, way)
    number = abs(given.number) if way.gives_the_sign else given.number
    unit = given.unit or _unit_beside(asked, given, way)
    turned = given._replace(number=number * way.sign * own.sign, unit=unit, sign_is_clear=True)
    note = f"counted {way.name}"
    if own.sign != way.sign:
        note += f": {with_unit(f'{turned.number:.9g}', asked.unit_of(turned))} {own.name}"
    notes = (note, "the word counts, not the sign") if way.gives_the_sign and given.number < 0 else (note,)
    return asked.exactly(turned, *notes)


def _not_said(asked: Asked, given: Amount, way: Counting) -> NotationError:
    """A word that the value asked for is not counted with; what it could be keeps the unit that the word implies."""
    own = asked.counting
    implied = UNITS[way.unit] if way.unit and own and own.unit != way.unit else None
    unit = given.unit or implied
    stated = f"this is counted {own.name}" if own else "this has no such reference"
    readings = asked.in_words(with_unit(given.text, unit) if unit else given.text)
    return NotationError(f"{asked.text!r} is counted {way.name}; {stated}", readings)


def _unit_beside(asked: Asked, given: Amount, way: Counting) -> Unit | None:
    """The unit of a number that has none beside a word; a whole number may be in one that its bench has no doubt of."""
    if not way.whole_numbers or not given.is_whole:
        return UNITS[way.unit] if way.unit else None
    is_metric = way.whole_numbers in METRIC_LENGTHS
    if asked.default is None or asked.is_metric != is_metric:
        other = "in" if is_metric else "mm"
        raise NotationError(
            f"{asked.text!r} has no unit", tuple(f"{given.text} {name}" for name in (way.whole_numbers, other))
        )
    return UNITS[way.whole_numbers]
