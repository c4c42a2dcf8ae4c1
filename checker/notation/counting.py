"""Ways of counting: what a characteristic's number is counted from and which way, and the words that say so.

A pack states of a characteristic how it is `counted`; the words and forms of the trade are read only where they fit it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class Counting(NamedTuple):
    """From which reference, and which way, a kind of quantity is counted.

    `words` say so behind a number, the usual one first; with `unit` where none is written. Words that `name` the
    quantity itself fit that quantity only. Where the word `gives_the_sign`, the number shows a size.
    """

    kind: str
    reference: str
    sign: int = 1
    words: tuple[str, ...] = ()
    unit: str | None = None
    names: bool = False
    gives_the_sign: bool = False

    def takes(self, other: Counting) -> bool:
        """Whether what is counted in another way has one certain meaning in this one."""
        return self.reference == other.reference and (self == other or not other.names)


TOP, BOTTOM = "top dead centre", "bottom dead centre"
STANDARD_SIZE, DECK, CROWN, TIMING = "standard size", "deck", "crown", "timing"
CLOCK, THREAD, BORE_SHARE, DECK_HEIGHT = "clock", "thread", "share of the bore", "deck height"
TIGHTENING, TIGHTENING_ANGLE = "tightening", "angle after a torque"
DIRECTED = (TOP, BOTTOM, TIMING, CLOCK)
"""References of single directions, of which two with a hyphen between them are rather two values than a range."""

COUNTINGS: Mapping[str, Counting] = {
    "before top dead centre": Counting("angle", TOP, -1, ("BTDC", "BTC"), "deg"),
    "after top dead centre": Counting("angle", TOP, 1, ("ATDC", "ATC"), "deg"),
    "before bottom dead centre": Counting("angle", BOTTOM, -1, ("BBDC", "BBC"), "deg"),
    "after bottom dead centre": Counting("angle", BOTTOM, 1, ("ABDC", "ABC"), "deg"),
    "as an intake centreline": Counting("angle", TOP, 1, ("ICL",), "deg", names=True),
    "as an exhaust centreline": Counting("angle", TOP, -1, ("ECL",), "deg", names=True),
    "as ignition advance": Counting("angle", TOP, -1, ("total",), "deg", names=True),
    "as advance": Counting("angle", TIMING, -1, ("advanced",), "deg", gives_the_sign=True),
    "as retard": Counting("angle", TIMING, 1, ("retarded",), "deg", gives_the_sign=True),
    "clockwise": Counting("angle", CLOCK),
    "between two directions": Counting("angle", ""),
    "after a torque": Counting("angle", TIGHTENING_ANGLE),
    "as a tightening torque": Counting("torque", TIGHTENING),
    "over the standard size": Counting("length", STANDARD_SIZE, 1),
    "under the standard size": Counting("length", STANDARD_SIZE, -1),
    "below the deck": Counting("length", DECK, 1, ("in the hole",), gives_the_sign=True),
    "above the deck": Counting("length", DECK, -1, ("out of the hole",), gives_the_sign=True),
    "as a deck height": Counting("length", DECK_HEIGHT),
    "as a bore": Counting("length", "bore", 1, ("jugs",), "mm", names=True),
    "as a thread size": Counting("length", THREAD),
    "as a dish": Counting("volume", CROWN, 1, ("dish", "reliefs", "relief"), gives_the_sign=True),
    "as a dome": Counting("volume", CROWN, -1, ("dome",), gives_the_sign=True),
    "as a share of the bore": Counting("bare number", BORE_SHARE),
}
"""Every way of counting by the words that a pack states it with."""

COUNTED: Mapping[str, str] = {word.lower(): name for name, way in COUNTINGS.items() for word in way.words}
"""By each word behind a number, in lower case, the way of counting it says."""
