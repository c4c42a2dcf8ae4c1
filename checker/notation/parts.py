"""Taking a quantity's text apart into numbers, units, words and marks."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from checker.errors import nearest
from checker.notation.counting import COUNTED
from checker.notation.words import ALLOWED, MARKS, NO_QUANTITIES, NUMBER_WORDS, SHAPES, SLIPS, UNSURE
from checker.units.names import REFUSED
from checker.units.units import UNITS, Unit, other_case

MOST_CHARACTERS = 60

_NUMERAL = re.compile(
    r"(?P<fraction>(?:\d{1,3}[ -])?\d{1,3}/\d{1,3}(?![\d./]))"
    r"|(?P<comma>[\d.]*\d,\d[\d.,]*)"
    r"|(?P<plain>(?:(?:0|[1-9]\d*+)(?:\.\d*+)?|\.\d++)(?:[eE][+-]?\d{1,3})?)(?!\d|\.(?!\.\.))"
)
_NAME = re.compile(r"[^\s\d(),]+|\S")


class NotationError(Exception):
    """A text that is no quantity, or that could be more than one."""

    def __init__(self, message: str, readings: tuple[str, ...] = ()) -> None:
        super().__init__(message, readings)
        self.message = message
        self.readings = readings

    def __str__(self) -> str:
        return f"{self.message}; it could be {' or '.join(self.readings)}" if self.readings else self.message


class Part(NamedTuple):
    """One number, unit, word or mark; its letter stands for it in the shape of the text.

    n number, f fraction, c number with a comma, w number word, u unit, s minus sign, - hyphen, M metric thread,
    d a way of counting; the letters of other words and marks are in words.py.
    """

    letter: str
    text: str
    number: float = 0.0
    unit: Unit | None = None
    counted: str = ""
    note: str = ""


def plain_text(text: str) -> str:
    """The text with typographic marks made plain; refuses what cannot be a quantity."""
    if len(text) > MOST_CHARACTERS:
        raise NotationError(f"longer than {MOST_CHARACTERS} characters")
    plain = re.sub(" +", " ", text.translate(MARKS).strip(" "))
    if not plain:
        raise NotationError("nothing is written")
    if not ALLOWED.fullmatch(plain):
        raise NotationError(f"a character that does not belong in a quantity: {text!a}")
    for known in NO_QUANTITIES:
        if known.pattern.fullmatch(plain):
            raise NotationError(f"{text!r}: {known.what}", known.readings(plain))
    return plain


def parts_of(text: str) -> tuple[Part, ...]:
    """The parts of a plain text, in order; every character belongs to one or is a blank."""
    return tuple(_parts(text))


def _parts(text: str) -> Iterator[Part]:
    position = 0
    while position < len(text):
        part = _known(text, position) or _numeral(text, position) or _hyphen(text, position)
        if part is None:
            raise _unknown(text, position)
        yield part
        position += len(part.text)
        while text[position : position + 1] == " ":
            position += 1


def _vocabulary() -> dict[str, Part]:
    """Units and words by the text they are written as; words in lower case."""
    known = {text: Part(letter, text) for text, letter in SHAPES.items()}
    known |= {text: Part("w", text, number) for text, number in NUMBER_WORDS.items()}
    known |= {text: Part("d", text, counted=name) for text, name in COUNTED.items()}
    known |= {text: Part("u", text, unit=found) for text, found in UNITS.items() if text != "1"}
    known |= {text: Part("u", text, unit=UNITS[name], note=f"{text!r} read as {name}") for text, name in SLIPS.items()}
    return known


_KNOWN: Mapping[str, Part] = _vocabulary()
_NOT_ACCEPTED: Mapping[str, tuple[str, tuple[str, ...]]] = {
    **{text: (refusal.reason, refusal.instead) for text, refusal in REFUSED.items()},
    **{text: ("which of the two?", instead) for text, instead in UNSURE.items()},
}
_LONGEST = max(map(len, (*_KNOWN, *_NOT_ACCEPTED)))


def _known(text: str, position: int) -> Part | None:
    """The longest unit or word that starts here; names of units are case-sensitive, other words are not."""
    if text[position] == "M" and text[position + 1 : position + 2].isdigit():
        return Part("M", "M")
    for end in range(min(len(text), position + _LONGEST), position, -1):
        piece = text[position:end]
        if text[end : end + 1].isalpha() and piece[-1].isalpha():
            continue
        if piece in _NOT_ACCEPTED:
            reason, instead = _NOT_ACCEPTED[piece]
            raise NotationError(
                f"{piece!r}: {reason}", tuple(text[:position] + other + text[end:] for other in instead)
            )
        part = _KNOWN.get(piece) or _KNOWN.get(piece.lower())
        if part is not None and (part.unit is None or part.text == piece):
            return part if part.text == piece else part._replace(text=piece)
    return None


def _numeral(text: str, position: int) -> Part | None:
    found = _NUMERAL.match(text, position)
    if found is None or found.lastgroup is None:
        return None
    letter, value = _NUMERALS[found.lastgroup]
    written = found.group()
    number = value(written)
    if math.isinf(number):
        raise NotationError(f"{written} is beyond any measurement")
    return Part(letter, written, number)


def _fraction(written: str) -> float:
    *whole, fraction = written.replace("-", " ").split(" ")
    over, under = map(int, fraction.split("/"))
    return (int(whole[0]) if whole else 0) + (over / under if under else 0.0)


def _grouped(written: str) -> float:
    """The value where the commas part thousands; else nought, which no second value agrees with."""
    return float(written.replace(",", "")) if re.fullmatch(r"\d{1,3}(,\d{3})+(\.\d+)?", written) else 0.0


_NUMERALS: Mapping[str, tuple[str, Callable[[str], float]]] = {
    "fraction": ("f", _fraction),
    "comma": ("c", _grouped),
    "plain": ("n", float),
}


def _hyphen(text: str, position: int) -> Part | None:
    if text[position] != "-":
        return None
    begins = position == 0 or text[position - 1] in " ("
    followed = text[position + 1 : position + 2]
    return Part("s" if begins and (followed.isdigit() or followed == ".") else "-", "-")


def _unknown(text: str, position: int) -> NotationError:
    if text[position] in "0123456789.":
        return NotationError(f"{text!r} holds a number that cannot be read")
    found = _NAME.match(text, position)
    name = found.group() if found else text[position:]
    instead = other_case(name).instead
    if instead:
        readings = tuple(text[:position] + other + text[position + len(name) :] for other in instead)
        return NotationError(f"{name!r}: upper and lower case matter", readings)
    hint = nearest(name, _KNOWN)
    return NotationError(f"no unit or word {name!r}" + (f"; {hint}" if hint else ""))
