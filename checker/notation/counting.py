"""Ways of counting: what a characteristic's number is counted from and which way, and the words that say so.

The keys with which packs state them are declared here (documents/keys.py); annotations are read, none may be put off.
A pack states of a characteristic how it is `counted`; words and forms are read only where they fit it. The ways that
every bench has are here; those of a trade, with its words, are data of its packs.
"""

from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple, Self

from checker.documents.key_forms import Text
from checker.documents.keys import Around, Form, Key, Source
from checker.documents.tree import KeyPath

FORMS = ("thread", "clock", "torque steps", "torque then angle", "length per length", "order")
THREAD, CLOCK, TORQUE_STEPS, TORQUE_THEN_ANGLE, LENGTH_PER_LENGTH, ORDER = FORMS
"""Forms that are said of some quantities only: a way of counting names those that are said of it."""
WORD = "^[A-Za-z]([A-Za-z' -]{0,38}[A-Za-z])?$"
"""What a word beside a number may look like."""
_Word = Annotated[str, Form({"type": "string", "pattern": WORD})]


def _sign(_source: Source, _path: KeyPath, value: str, _around: Around) -> int:
    return -1 if value == "minus" else 1


class Counting(NamedTuple):
    """From which reference, and which way, a kind of quantity is counted.

    `words` say so behind a number or in front of it, the usual one first; `words_in_front` only there. Beside them a
    number without a unit is in `unit`, a whole one in `whole_numbers`. Words that `name_it` are those of this quantity
    only. Where the word `gives_the_sign`, the number shows a size. `minus_asks` is what to ask where a minus sign
    stands alone.
    """

    name: str
    of: Annotated[Text, Key("The kind of quantity that is counted so.", "angle")]
    counted_from: Annotated[
        Text,
        Key("The reference it is counted from; ways with the same one are turned into each other.", "the front mark"),
    ] = ""
    sign: Annotated[
        int,
        Key("Which way from the reference; plus where it is not stated.", "minus"),
        Form({"type": "string", "enum": ["plus", "minus"]}, _sign),
    ] = 1
    words: Annotated[tuple[_Word, ...], Key("Words beside a number that say so, the usual one first.", ["ahead"])] = ()
    words_in_front: Annotated[tuple[_Word, ...], Key("Words that say so in front of a number only.", ["lead"])] = ()
    unit: Annotated[Text, Key("The unit of a number that has none beside one of the words.", "deg")] = ""
    whole_numbers: Annotated[Text, Key("The unit of a whole number that has none beside one of the words.", "thou")] = (
        ""
    )
    names_it: Annotated[
        bool, Key("The words name this quantity itself, and fit no other counted from there.", True)
    ] = False
    gives_the_sign: Annotated[bool, Key("The word gives the sign, the number a size.", True)] = False
    minus_asks: Annotated[Text, Key("What to ask where a minus sign stands without a word.", "ahead or behind?")] = ""
    forms: Annotated[tuple[Text, ...], Key(f"Forms that are said of it: {', '.join(FORMS)}.", ["clock"])] = ()
    origin: Any = None

    def takes(self, other: Self) -> bool:
        """Whether what is counted in another way has one certain meaning in this one."""
        if self.name == other.name:
            return True
        return bool(self.counted_from) and self.counted_from == other.counted_from and not other.names_it

    @property
    def is_direction(self) -> bool:
        """Whether it tells single directions, of which two with a hyphen between are rather two values than a range."""
        return self.of == "angle" and bool(self.counted_from)


class Nought(NamedTuple):
    """Within what a nought is meant, and why."""

    within: Annotated[Text, Key("Within which quantity.", "0.05 mm")]
    because: Annotated[Text, Key("Why it is no exact value.", "a flush key is shop talk")]


class UnclearWord(NamedTuple):
    """A word behind a number that leaves its meaning open: what it asks, and what could be meant, {} for the number.

    It is said only of what is `counted_from` the reference it names, if it names one.
    """

    name: str
    asks: Annotated[Text, Key("What it asks.", "above or below the shaft?")]
    could_be: Annotated[
        tuple[Text, ...], Key("What could be meant, with {} for the number.", ["{} above", "{} below"])
    ] = ()
    counted_from: Annotated[Text, Key("The reference of the values it is said of.", "the shaft")] = ""
    nought: Annotated[
        Nought | None,
        Key("Beside it nought is no exact value.", {"within": "0.05 mm", "because": "a flush key is shop talk"}),
    ] = None
    origin: Any = None


EVERYWHERE: Mapping[str, Counting] = {
    way.name: way
    for way in (
        Counting("clockwise", "angle", "the clock", forms=(CLOCK,)),
        Counting("between two directions", "angle"),
        Counting("after a torque", "angle", forms=(TORQUE_THEN_ANGLE,)),
        Counting("as a tightening torque", "torque", forms=(TORQUE_STEPS, TORQUE_THEN_ANGLE)),
        Counting("as a thread size", "length", forms=(THREAD,)),
        Counting("one after the other", "bare number", forms=(ORDER,)),
    )
}
"""The ways of counting that every bench has, by the words that a pack states them with."""
