"""What an unquoted scalar means: a number, true, false, null, or else text.

Whatever YAML 1.1 and 1.2, or two of their readers, take for different values is refused: no, 1:30, 010, 1_000, .inf.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

LONGEST_NUMBER = 30
MOST_INTEGER_DIGITS = 15  # beyond these a binary float no longer holds every integer

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_JSON_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?")
_INTEGER = re.compile(r"[+-]?[0-9]+")
_NOT_ZERO = re.compile(r"[+-]?[0.]*[1-9]")
_TWO_MEANINGS = re.compile(
    r"(?P<base>[+-]?0[xXoObB][0-9a-fA-F_]+)"
    r"|(?P<sixty>[+-]?[0-9][0-9_]*(?::[0-9]+)+(?:\.[0-9_]*)?)"
    r"|(?P<underscore>[+-]?\.?[0-9][0-9.]*_[0-9_.]*(?:[eE][+-]?[0-9]+)?)"
    r"|(?P<zeros>[+-]?0[0-9]+(?:\.[0-9]*)?(?:[eE][+-]?[0-9]+)?)"
    r"|(?P<infinite>[+-]?\.?(?:inf|infinity|nan))",
    re.IGNORECASE,
)
_REASONS = {
    "base": ("a number in hexadecimal, octal or binary", "write it in decimal"),
    "sixty": (
        "some readers take digits with colons for a number in base sixty",
        "a space follows a colon behind a key; else put it in quotes",
    ),
    "underscore": ("a number with an underscore", "leave the underscore out"),
    "zeros": ("a number that begins with a needless zero: octal to some", "leave out the zero, or put it in quotes"),
    "infinite": ("not a finite number", "leave the value out where it is not known"),
}
_WORDS: dict[str, bool | None] = {"true": True, "false": False, "null": None, "~": None, "": None}
_REFUSED_WORDS = frozenset({"yes", "no", "on", "off", "true", "false", "null"})
_LONGEST_REFUSED = max(map(len, _REFUSED_WORDS))


class ScalarError(ValueError):
    """A scalar that cannot be taken at its face; carries the message and what would fix it."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message, hint)
        self.message = message
        self.hint = hint


def plain_value(text: str) -> str | float | bool | None:
    """The value of an unquoted YAML scalar."""
    if text in _WORDS:
        return _WORDS[text]
    if text[0] in "+-.0123456789nNiI" and (match := _TWO_MEANINGS.fullmatch(text)):
        message, hint = _REASONS[match.lastgroup or ""]
        raise ScalarError(f"{_shown(text)}: {message}", hint)
    if len(text) <= _LONGEST_REFUSED and text.lower() in _REFUSED_WORDS:
        raise ScalarError(f"{text!r}: text to some readers, true, false or null to others", _word_hint(text))
    if text == "<<":
        raise ScalarError("merge keys (<<) are not read", "write the entries out")
    return _number(text) if text[0] in "+-.0123456789" and _NUMBER.fullmatch(text) else text


def json_number(text: str) -> float:
    """The value of a JSON number."""
    if not _JSON_NUMBER.fullmatch(text):
        message = f"{_shown(text)} is neither a JSON number nor true, false or null"
        raise ScalarError(message, "put text in double quotes")
    return _number(text)


@lru_cache(maxsize=1024)  # a file has many entries and few different keys
def plain_key(text: str) -> str:
    """The key that an unquoted YAML scalar stands for; whole numbers are allowed as station names."""
    if isinstance(plain_value(text), str):
        if ":" in text:
            raise ScalarError(f"the key {_shown(text)} has a colon in it", "a space must follow the colon after a key")
        return text
    if text.isdigit() or not text:
        return text
    raise ScalarError(f"{_shown(text)} cannot be a key", "put it in quotes if it is a name")


def _number(text: str) -> float:
    if _INTEGER.fullmatch(text):
        if len(text.lstrip("+-")) > MOST_INTEGER_DIGITS:
            raise ScalarError(f"{_shown(text)}: more than {MOST_INTEGER_DIGITS} digits")
        return int(text)
    if len(text) > LONGEST_NUMBER:
        raise ScalarError(f"{_shown(text)}: a number of more than {LONGEST_NUMBER} characters")
    value = float(text)
    if not math.isfinite(value) or (value == 0 and _NOT_ZERO.match(text)):
        raise ScalarError(f"{_shown(text)} is too large or too small for a number")
    return value


def _shown(text: str) -> str:
    return repr(text if len(text) <= LONGEST_NUMBER else f"{text[:LONGEST_NUMBER]}...")


def _word_hint(text: str) -> str:
    lower = text.lower()
    return f"write {lower}, or put it in quotes" if lower in _WORDS else "write true or false, or put it in quotes"
