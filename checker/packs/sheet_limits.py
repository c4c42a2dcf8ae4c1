"""Sheet limits: what the maker of a part, or of a whole machine, asks for.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple, TypeAlias

from checker.documents.document import Origin
from checker.documents.key_forms import NOTHING, Day, Name, Text
from checker.documents.keys import Around, Form, Key, OneOrMore, Source
from checker.documents.tree import KeyPath
from checker.frozen import FrozenMapping


def _by_station(source: Source, path: KeyPath, value: Any, _around: Around) -> Mapping[str, str]:
    """Texts by station, or that of all under ""."""
    if isinstance(value, Mapping):
        return FrozenMapping((station, source.document.written(*path, station)) for station in value)
    if isinstance(value, list):
        return FrozenMapping((str(n + 1), source.document.written(*path, n)) for n in range(len(value)))
    return FrozenMapping({"": source.document.written(*path)})


_TEXT_OR_NUMBER = {"type": ["string", "number"], "minLength": 1}
_AmountByStation: TypeAlias = Annotated[
    Mapping[str, str],
    Form(
        {
            "type": ["string", "number", "array", "object"],
            "minLength": 1,
            "minItems": 1,
            "minProperties": 1,
            "items": _TEXT_OR_NUMBER,
            "additionalProperties": _TEXT_OR_NUMBER,
        },
        _by_station,
    ),
]


class SheetLimits(NamedTuple):
    """What the maker's own sheet asks for: it counts in place of what rules require and recommend, physics excepted.

    A record states those of its parts, a pack those of the machines it is for.
    """

    name: str
    origin: Origin
    source: Annotated[Text, Key("Which sheet says so.", "wheel maker's sheet")]
    at_least: Annotated[
        _AmountByStation,
        Key("Lowest value that the sheet allows; one, or by station where they differ.", "0.018 in"),
    ] = NOTHING
    at_most: Annotated[
        _AmountByStation,
        Key("Highest value that the sheet allows; one, or by station where they differ.", {"1": "0.022 in"}),
    ] = NOTHING
    dated: Annotated[Day, Key("Day of the sheet.", "2026-05-02")] = ""
    uses: Annotated[
        tuple[Name, ...],
        OneOrMore(),
        Key(
            "The uses, or the packs of more load, that the sheet was printed for; else the use of the record, or every "
            "use where a pack states it.",
            "general",
            written="for",
        ),
    ] = ()
    confirmed_by: Annotated[Text, Key("Who holds the sheet for right where the checker suspects it.", "bench lead")] = (
        ""
    )
    confirmed_on: Annotated[Day, Key("The day of that.", "2026-05-03")] = ""

    @property
    def words(self) -> str:
        """The limits, for whom they are where that is stated, and which sheet says so."""
        sides = (("at least", self.at_least), ("at most", self.at_most))
        limits = " and ".join(f"{side} {', '.join(amounts.values())}" for side, amounts in sides if amounts)
        uses = f" for {', '.join(self.uses)}" if self.uses else ""
        return f"{limits}{uses} ({self.source})"
