"""The words and marks of shop notation, and texts that are no quantity at all."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

# Marks that mean the same as plain ones. Nothing that could be a digit is among them: 5·3 may be 5.3 or a product.
MARKS = str.maketrans(
    {
        **dict.fromkeys("\N{RIGHT DOUBLE QUOTATION MARK}\N{LEFT DOUBLE QUOTATION MARK}\N{DOUBLE PRIME}", '"'),
        **dict.fromkeys("\N{RIGHT SINGLE QUOTATION MARK}\N{PRIME}", "'"),
        **dict.fromkeys("\N{EN DASH}\N{EM DASH}\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{MINUS SIGN}", "-"),
        **dict.fromkeys("\N{MICRO SIGN}\N{GREEK SMALL LETTER MU}", "u"),
        "\N{PLUS-MINUS SIGN}": "+/-",
        "\N{HORIZONTAL ELLIPSIS}": "...",
        "\N{MULTIPLICATION SIGN}": "x",
        "\N{MASCULINE ORDINAL INDICATOR}": "\N{DEGREE SIGN}",
    }
)
ALLOWED = re.compile("[ -~°²³·]*")

# Words and symbols, each with the letter of its part in the shape of a text (see forms.py).
_WORDS_BY_SHAPE = {
    "~": ("+/-", "+-"),
    "t": ("to", "..."),
    "o": ("or",),
    "p": ("per",),
    "x": ("x",),
    "h": ("and a half",),
    "k": ("a couple of",),
    "q": ("o'clock",),
    "g": ("goes", "go"),
    "G": ("no-go", "no go"),
    "H": ("hundredths", "hundredth"),
    "<": ("under", "below", "less than", "a little under", "just under", "<"),
    ">": ("over", "above", "more than", "a little over", "just over", ">"),
}
SHAPES: Mapping[str, str] = {
    **{mark: mark for mark in "+/()#*:,"},
    **{word: letter for letter, words in _WORDS_BY_SHAPE.items() for word in words},
}


_UNITS = "zero one two three four five six seven eight nine"
_TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen"
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety"


def _number_words() -> dict[str, float]:
    units = _UNITS.split()
    words = {word: float(number) for number, word in enumerate(units + _TEENS.split())}
    for number, ten in enumerate(_TENS.split(), start=2):
        words[ten] = number * 10.0
        words |= {f"{ten}{joint}{word}": number * 10.0 + words[word] for word in units[1:] for joint in "- "}
    words |= dict.fromkeys(("a", "an"), 1.0)
    words |= dict.fromkeys(("half", "half a", "half an", "a half", "one half", "one-half"), 0.5)
    return words | dict.fromkeys(("quarter", "a quarter", "quarter of a", "one-quarter"), 0.25)


NUMBER_WORDS: Mapping[str, float] = _number_words()


# Slips that can mean one thing only: read, and said so.
SLIPS: Mapping[str, str] = {"thousands": "thou", "mmm": "mm"}

# Phrases one hyphen or letter apart from others of another size.
UNSURE: Mapping[str, tuple[str, ...]] = {"ten thousandth": ("ten-thousandth", "ten thousandths")}


class NoQuantity(NamedTuple):
    """A text that is no quantity as it stands, and what it could be meant as: marks replaced by others."""

    pattern: re.Pattern[str]
    what: str
    instead: tuple[tuple[str, str], ...] = ()

    def readings(self, text: str) -> tuple[str, ...]:
        """The text as it could be meant."""
        return tuple(re.sub(pattern, meant, text, count=1) for pattern, meant in self.instead)


_LABEL = r"(#\d{1,2}|[LR]\d{1,2}|\d{1,2}[LR])"
_LETTER_O = r"(?:(?<=[\d.])(?<![A-Z]\d)[Oo](?=[\d.\s]|$)|(?<![\w.])[Oo](?=\.\d))"  # no inH2O
_GOOD = "(ok|okay|good|perfect|fine|passed|failed|done|checked|true|false|yes|no)"

NO_QUANTITIES = (
    NoQuantity(
        re.compile(r"(?i)[-+]?(\.?nan|\.?inf|infinity|null|none|n/a|~)"), "no number; nothing measured is written -"
    ),
    # The error values of spreadsheet cells are those of ISO/IEC 29500.
    NoQuantity(re.compile(r"\(?#(DIV/0!|N/A|VALUE!|REF!|NAME\?|NUM!|NULL!)\)?"), "a failed spreadsheet cell"),
    NoQuantity(re.compile(rf"(?i){_GOOD}([ /]+{_GOOD})*"), "a verdict where a number belongs"),
    NoQuantity(re.compile(rf"{_LABEL}( ?/ ?{_LABEL})+|[#LR]\d{{1,2}}"), "a label, not a number"),
    NoQuantity(re.compile(rf".*{_LETTER_O}.*"), "a letter O among digits", ((_LETTER_O, "0"),)),
    NoQuantity(re.compile(r".*[\d.][lI][\d.].*"), "a letter among digits", ((r"(?<=[\d.])[lI](?=[\d.])", "1"),)),
    NoQuantity(re.compile(r".*\d\.\.\d.*"), "two points", ((r"\.\.", "."), (r"\.\.", " to "))),
    NoQuantity(re.compile(r"[-+]?\.\.\d.*"), "two points", ((r"\.\.", "."),)),
    NoQuantity(re.compile(r"[-+]?0\d+(?![\d.,/]).*"), "is the decimal point missing?", (("0", ".0"), ("0+", ""))),
)
