"""Taking a quantity's text apart into numbers, units, words and marks."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping

from checker.errors import nearest
from checker.notation.vocabulary import NOT_ACCEPTED, Notation, NotationError, Part
from checker.notation.words import ALLOWED, MARKS, NO_QUANTITIES
from checker.units.units import other_case

MOST_CHARACTERS = 60

_NUMERAL = re.compile(
    r"(?P<fraction>(?:\d{1,3}[ -])?\d{1,3}/\d{1,3}(?![\d./]))"
    r"|(?P<comma>[\d.]*\d,\d[\d.,]*)"
    r"|(?P<plain>(?:(?:0|[1-9]\d*+)(?:\.\d*+)?|\.\d++)(?:[eE][+-]?\d{1,3})?)(?!\d|\.(?!\.\.))"
)
_NAME = re.compile(r"[^\s\d(),]+|\S")


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


class UnknownWordError(NotationError):
    """A text with a word that is not known; `before` is what stands before it.

    `readings` have a unit in its place, and where none of them is of what is asked for, `otherwise` is the message.
    """

    def __init__(self, message: str, before: str, readings: tuple[str, ...] = (), otherwise: str = "") -> None:
        super().__init__(message, readings)
        self.before = before
        self.otherwise = otherwise or message


def parts_of(text: str, notation: Notation) -> Iterator[Part]:
    """The parts of a plain text, in order; every character belongs to one or is a blank."""
    position = 0
    while position < len(text):
        part = _known(text, position, notation) or _numeral(text, position) or _hyphen(text, position)
        if part is None:
            raise _unknown(text, position, notation)
        yield part
        position += len(part.text)
        while text[position : position + 1] == " ":
            position += 1


def _known(text: str, position: int, notation: Notation) -> Part | None:
    """The longest unit or word that starts here; names of units are case-sensitive, other words are not."""
    known = notation.known
    if text[position] == "M" and text[position + 1 : position + 2].isdigit():
        return Part("M", "M")
    for end in range(min(len(text), position + notation.longest), position, -1):
        piece = text[position:end]
        if text[end : end + 1].isalpha() and piece[-1].isalpha():
            continue
        if piece in NOT_ACCEPTED:
            reason, instead = NOT_ACCEPTED[piece]
            raise NotationError(
                f"{piece!r}: {reason}", tuple(text[:position] + other + text[end:] for other in instead)
            )
        part = known.get(piece) or known.get(piece.lower())
        if part is not None and (part.unit is None or part.text == piece):
            return part if part.text == piece else part._replace(text=piece)
    return None


def _numeral(text: str, position: int) -> Part | None:
    match = _NUMERAL.match(text, position)
    if match is None or match.lastgroup is None:
        return None
    letter, value = _NUMERALS[match.lastgroup]
    written = match.group()
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


def _unknown(text: str, position: int, notation: Notation) -> NotationError:
    if text[position] in "0123456789.":
        return NotationError(f"{text!r} holds a number that cannot be read")
    match = _NAME.match(text, position)
    name = match.group() if match else text[position:]
    hint, before = nearest(name, notation.known), text[:position].rstrip()
    message = f"no unit or word {name!r}" + (f"; {hint}" if hint else "")
    if instead := other_case(name).instead:
        readings = tuple(text[:position] + other + text[position + len(name) :] for other in instead)
        return UnknownWordError(f"{name!r}: upper and lower case matter", before, readings, message)
    return UnknownWordError(message, before)
