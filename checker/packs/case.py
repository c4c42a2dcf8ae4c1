"""What a pack says in a case: given values, and what a rule must say of them.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple, TypeAlias

from checker.documents.document import Origin
from checker.documents.key_forms import NOTHING, AsWritten, Count, ManyAsWritten, Name, Symbol, Text
from checker.documents.keys import Around, Form, Key, Source
from checker.documents.tree import KeyPath
from checker.errors import Place
from checker.frozen import FrozenMapping
from checker.packs.limits import SIDES


def _by_station(
    source: Source, path: KeyPath, value: Any, _around: Around
) -> Mapping[str, Mapping[str, tuple[str, ...]]]:
    """Of each characteristic the texts by station, or those of all under ""."""
    document = source.document

    def texts(value: Any, *steps: str) -> tuple[str, ...]:
        if isinstance(value, list):
            return tuple(document.written(*path, *steps, number) for number in range(len(value)))
        return (document.written(*path, *steps),)

    def by_station(name: str, given: Any) -> Mapping[str, tuple[str, ...]]:
        if isinstance(given, Mapping):
            return FrozenMapping((station, texts(inner, name, station)) for station, inner in given.items())
        return FrozenMapping({"": texts(given, name)})

    return FrozenMapping((name, by_station(name, given)) for name, given in value.items())


class CaseSheet(NamedTuple):
    """What a part maker's sheet says of what the rule judges: it replaces what the packs ask for, but not physics."""

    at_least: Annotated[AsWritten, Key("Lowest value that the sheet allows.", "0.018 in")] = ""
    at_most: Annotated[AsWritten, Key("Highest value that the sheet allows.", "0.022 in")] = ""


class Case(NamedTuple):
    """What a rule says about given values, for tests of the pack. It states a verdict, or varies one value."""

    origin: Origin
    application: Annotated[Name, Key("The application judged.", "general")]
    given: Annotated[
        Mapping[Symbol, Mapping[str, tuple[str, ...]]],
        Key("Values of characteristics: one, a list of readings, or either by station.", {"key_width": "5.1 mm"}),
        Form({"minProperties": 0, "additionalProperties": True}, _by_station),
    ]
    stations: Annotated[
        Mapping[str, Count],
        Key(
            "How many stations of each kind; else as many as the values name, and never fewer than what they "
            "belong to.",
            {"gear": 2},
        ),
        Form({"minProperties": 0}),
    ] = NOTHING
    sheet: Annotated[
        CaseSheet | None,
        Key("A part maker's sheet beside it, which shows what physics asks for by itself.", {"at_least": "0.1 mm"}),
    ] = None
    verdict: Annotated[
        str,
        Key("What the rule must say.", "within"),
        Form(
            {
                "enum": [
                    "within",
                    "advisory",
                    "outside",
                    "undecided",
                    "not measured",
                    "not covered",
                    "not applicable",
                ]
            }
        ),
    ] = ""
    side: Annotated[str, Key("On which side the value misses.", "low"), Form({"enum": [*SIDES]})] = ""
    station: Annotated[AsWritten, Key("The station looked at.", 2)] = ""
    value: Annotated[AsWritten, Key("The value that is judged.", "0.060 mm")] = ""
    remedy: Annotated[Text, Key("Words that the remedy must contain.", "0.1 mm")] = ""
    vary: Annotated[Symbol, Key("The characteristic to which the values below are given in turn.", "key_width")] = ""
    within: Annotated[ManyAsWritten, Key("Values that give within.", ["5.1 mm"])] = ()
    advisory: Annotated[ManyAsWritten, Key("Values that give advisory.", ["5.0 mm"])] = ()
    outside: Annotated[ManyAsWritten, Key("Values that give outside.", ["4.9 mm"])] = ()
    source: Annotated[Text, Key("Where the figures come from.", "Worked example of the handbook")] = ""

    @property
    def rule(self) -> str:
        """The rule it is about, under whose name it stands."""
        return str(self.origin.path[1])

    @property
    def place(self) -> Place:
        """Where it stands."""
        return self.origin.place


Cases: TypeAlias = Annotated[
    tuple[Case, ...],
    Key("Cases that guard the rule.", [{"application": "general", "given": {}, "verdict": "not measured"}]),
]
