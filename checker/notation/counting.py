"""Ways of counting: what a characteristic's number is counted from and which way, and the words that say so.

A pack states of a characteristic how it is `counted`; words and forms are read only where they fit it. The ways that
every bench has are here; those of a trade, with its words, are data of its packs.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

THREAD, CLOCK, TORQUE_STEPS, TORQUE_THEN_ANGLE, LENGTH_PER_LENGTH = FORMS = (
    "thread",
    "clock",
    "torque steps",
    "torque then angle",
    "length per length",
)
"""Forms that are said of some quantities only: a way of counting names those that are said of it."""


class Counting(NamedTuple):
    """From which reference, and which way, a kind of quantity is counted.

    `words` say so behind a number or in front of it, the usual one first; `words_in_front` only there. Beside them a
    number without a unit is in `unit`, a whole one in `whole_numbers`. Words that `name_it` are those of this quantity
    only. Where the word `gives_the_sign`, the number shows a size. `minus_asks` is what to ask where a minus sign
    stands alone.
    """

    name: str
    of: str
    counted_from: str = ""
    sign: int = 1
    words: tuple[str, ...] = ()
    words_in_front: tuple[str, ...] = ()
    unit: str = ""
    whole_numbers: str = ""
    names_it: bool = False
    gives_the_sign: bool = False
    minus_asks: str = ""
    forms: tuple[str, ...] = ()

    def takes(self, other: Counting) -> bool:
        """Whether what is counted in another way has one certain meaning in this one."""
        if self.name == other.name:
            return True
        return bool(self.counted_from) and self.counted_from == other.counted_from and not other.names_it

    @property
    def is_direction(self) -> bool:
        """Whether it tells single directions, of which two with a hyphen between are rather two values than a range."""
        return self.of == "angle" and bool(self.counted_from)


class UnclearWord(NamedTuple):
    """A word behind a number that leaves its meaning open: what it asks, and what could be meant, {} for the number.

    It is said only of what is `counted_from` the reference it names, if it names one. Beside it nought may be meant
    `within` a length, for a reason.
    """

    word: str
    asks: str
    could_be: tuple[str, ...]
    counted_from: str = ""
    nought_within: str = ""
    nought_because: str = ""


EVERYWHERE: Mapping[str, Counting] = {
    way.name: way
    for way in (
        Counting("clockwise", "angle", "the clock", forms=(CLOCK,)),
        Counting("between two directions", "angle"),
        Counting("after a torque", "angle", forms=(TORQUE_THEN_ANGLE,)),
        Counting("as a tightening torque", "torque", forms=(TORQUE_STEPS, TORQUE_THEN_ANGLE)),
        Counting("as a thread size", "length", forms=(THREAD,)),
    )
}
"""The ways of counting that every bench has, by the words that a pack states them with."""
