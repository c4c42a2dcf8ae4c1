"""What texts are read with: the words, ways of counting and forms of every bench, and those of the packs at hand."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from typing import Any, NamedTuple

from checker.frozen import FrozenMapping
from checker.notation.counting import EVERYWHERE, Counting, UnclearWord
from checker.notation.words import NUMBER_WORDS, SHAPES, SLIPS, UNSURE
from checker.units.names import REFUSED
from checker.units.units import UNITS, Unit

NOT_ACCEPTED: Mapping[str, tuple[str, tuple[str, ...]]] = {
    **{text: (refusal.reason, refusal.instead) for text, refusal in REFUSED.items()},
    **{text: ("which of the two?", instead) for text, instead in UNSURE.items()},
}
"""Words that are refused, each with the reason and what may be meant."""

SHARED = "<>x"
"""The letters of words and marks that may mean something else besides, behind a number: under, over, x."""


class NotationError(Exception):
    """A text that is no quantity, or that could be more than one."""

    def __init__(self, message: str, readings: tuple[str, ...] = ()) -> None:
        super().__init__(message, readings)
        self.message = message
        self.readings = readings

    def __str__(self) -> str:
        return f"{self.message}; it could be {' or '.join(self.readings)}" if self.readings else self.message


class CommaError(NotationError):
    """A number whose comma may be its point or part its thousands."""


class Word(NamedTuple):
    """What a pack's word means behind a number, and in front of one."""

    behind: Counting | UnclearWord | None = None
    in_front: Counting | None = None


class Part(NamedTuple):
    """One number, unit, word or mark; its letter stands for it in the shape of the text.

    n number, f fraction, c number with a comma, w number word, u unit, s minus sign, - hyphen, M metric thread,
    d a word of a pack; the letters of other words and marks are in words.py.
    """

    letter: str
    text: str
    number: float = 0.0
    unit: Unit | None = None
    word: Word | None = None
    note: str = ""


class Meant(NamedTuple):
    """What a text of a plugin's form means: the texts that say it in full, one for each `part`, `step` or `station`."""

    texts: Sequence[str]
    note: str = ""
    each: str = "part"


class WrittenForm(NamedTuple):
    """A form of a trade that words cannot describe: a pattern of the whole text, and who reads what fits it.

    The reader is given the match, and whether the bench counts lengths in millimetres. It returns nothing where the
    text is not of its form, and raises NotationError for what could be two things. `again` finds it in another program.
    """

    pattern: str
    read: Callable[[re.Match[str], bool], Meant | None]
    again: Callable[[], WrittenForm] | None = None

    def __reduce__(self) -> tuple[Any, ...]:
        return (WrittenForm, tuple(self)) if self.again is None else (self.again, ())


class Notation:
    """The ways of counting and the words of several packs, with those of every bench; two are the same only if one.

    Of names and words that are stated twice the first counts: whoever puts packs together refuses the others.
    """

    def __init__(
        self,
        ways: Iterable[Counting] = (),
        unclear: Iterable[UnclearWord] = (),
        forms: Mapping[str, WrittenForm] = FrozenMapping({}),
    ) -> None:
        self.ways: Mapping[str, Counting] = FrozenMapping({**EVERYWHERE, **{way.name: way for way in ways}})
        self.unclear = tuple(unclear)
        self.forms = FrozenMapping(forms)

    def words_for(self, own: Counting | None) -> tuple[str, ...]:
        """A word for each way to count what is counted so; none for what has no reference."""
        if own is None:
            return ()
        return tuple(way.words[0] for way in self.ways.values() if way.words and own.takes(way))

    @cached_property
    def known(self) -> Mapping[str, Part]:
        """Units and words by the text they are written as; words in lower case."""
        words = dict(_PLAIN)
        for text, word in self._words().items():
            letter = words[text].letter if text in words else "d"
            words[text] = Part(letter, text, word=word)
        return FrozenMapping(words)

    @cached_property
    def longest(self) -> int:
        """The characters of the longest word that is known or refused."""
        return max(map(len, (*self.known, *NOT_ACCEPTED)))

    def _words(self) -> Mapping[str, Word]:
        behind: dict[str, Counting | UnclearWord] = {word.name.lower(): word for word in self.unclear}
        behind |= {text.lower(): way for way in self.ways.values() for text in way.words}
        in_front = {text.lower(): way for way in self.ways.values() for text in (*way.words, *way.words_in_front)}
        return {text: Word(behind.get(text), in_front.get(text)) for text in {**behind, **in_front}}


def is_taken(word: str) -> bool:
    """Whether a word has a meaning on every bench that a pack cannot change."""
    text = word.lower()
    known = _PLAIN.get(word) or _PLAIN.get(text)
    return word in NOT_ACCEPTED or text in NOT_ACCEPTED or (known is not None and known.letter not in SHARED)


def _plain_words() -> dict[str, Part]:
    known = {text: Part(letter, text) for text, letter in SHAPES.items()}
    known |= {text: Part("w", text, number) for text, number in NUMBER_WORDS.items()}
    known |= {text: Part("u", text, unit=unit) for text, unit in UNITS.items() if text != "1"}
    known |= {text: Part("u", text, unit=UNITS[name], note=f"{text!r} read as {name}") for text, name in SLIPS.items()}
    return known


_PLAIN: Mapping[str, Part] = _plain_words()
PLAIN = Notation()
"""What every bench writes, and nothing of any trade."""
