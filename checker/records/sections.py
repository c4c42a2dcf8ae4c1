"""What the sections of a record say besides readings, as written.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, NamedTuple

from checker.documents.document import Origin
from checker.documents.key_forms import NOTHING, AsWritten, Count, Day, Name, Symbol, Text
from checker.documents.keys import Form, Key, OneOrMore


class StationCount(NamedTuple):
    """How many stations of a kind there are; a number alone, or with what each belongs to and how they lie."""

    name: str
    origin: Origin
    number: Annotated[Count, Key("How many there are.", 4, written="count", is_enough=True)]
    of: Annotated[tuple[Count, ...], Key("The station each one belongs to, in order.", [1, 1, 2, 2])] = ()
    rows: Annotated[
        tuple[tuple[Count, ...], ...],
        Key("How they are laid out: rows (banks) from the front to the back.", [[1, 2], [3, 4]]),
    ] = ()
    names: Annotated[
        tuple[Text, ...], Key("What reports call each of them, in order, instead of its number.", ["input", "output"])
    ] = ()


class ListedInstrument(NamedTuple):
    """An instrument and how far it can be trusted; its expanded uncertainty or its resolution is needed."""

    name: str
    origin: Origin
    title: Annotated[Text, Key("What the instrument is.", "Micrometer, 25 to 50 mm")] = ""
    expanded_uncertainty: Annotated[
        AsWritten,
        Key(
            "Expanded uncertainty, k = 2, as a quantity or a percentage of the reading; this or the resolution is "
            "needed.",
            "0.2 thou",
        ),
    ] = ""
    shared: Annotated[
        AsWritten, Key("The part of it that is alike in every reading of this instrument, k = 2.", "0.1 thou")
    ] = ""
    resolution: Annotated[
        AsWritten,
        Key("Smallest step it shows; 0 in of either for what is exact, such as a maker's card.", "0.01 mm"),
    ] = ""
    set_with: Annotated[Text, Key("Material of the standard it is set with.", "steel")] = ""
    temperature: Annotated[AsWritten, Key("Its own temperature when used.", "22 degC")] = ""


class FittedPart(NamedTuple):
    """A part, the day it was fitted or last changed, and what must be measured anew since."""

    name: str
    origin: Origin
    fitted: Annotated[
        Day, Key("The day the part was fitted or last changed; readings from before are stale.", "2026-05-02")
    ]
    bears_on: Annotated[
        tuple[Symbol, ...], Key("Characteristics measured anew once this part is changed.", ["backlash"])
    ]
    note: Annotated[Text, Key("Whatever else is known of the part.", "second-hand")] = ""
    stations: Annotated[tuple[AsWritten, ...], Key("Where the part sits, when not everywhere.", [1, 2])] = ()


class Temperatures(NamedTuple):
    """How warm the parts were when measured, and what they are made of."""

    origin: Origin
    parts: Annotated[AsWritten, Key("Temperature of the parts when they were measured.", "22 degC")] = ""
    materials: Annotated[
        Mapping[Symbol, Text], Key("Material of what each characteristic is measured on.", {"shaft_diameter": "steel"})
    ] = NOTHING


class GivenConcession(NamedTuple):
    """Permission to use what does not conform."""

    origin: Origin
    rule: Annotated[Name, Key("The rule that is not held.", "backlash")]
    by: Annotated[Text, Key("Who permits it.", "bench lead")]
    dated: Annotated[Day, Key("The day given. A reading taken, or a part fitted, after it ends it.", "2026-05-03")]
    because: Annotated[Text, Key("Why it may be used all the same.", "runs one way only")]
    station: Annotated[AsWritten, Key("Where, when it is not for all stations.", 1)] = ""
    value: Annotated[
        AsWritten, Key("The value it was given for; with another value it no longer counts.", "0.14 mm")
    ] = ""
    until: Annotated[Day, Key("The last day on which it counts.", "2026-12-31")] = ""


class SeenByEye(NamedTuple):
    """What somebody saw where looking may stand in for measuring."""

    origin: Origin
    rules: Annotated[
        tuple[Name, ...],
        OneOrMore(),
        Key("The rule that was judged by eye, or several where one look served all.", "key-width", written="rule"),
    ]
    station: Annotated[AsWritten, Key("Where, or all.", 1)]
    by: Annotated[Text, Key("Who looked.", "bench lead")]
    dated: Annotated[Day, Key("The day seen. A part fitted after it ends it.", "2026-05-03")]
    clear: Annotated[bool, Key("Whether it was as it must be.", True), Form({"type": "boolean"})]
