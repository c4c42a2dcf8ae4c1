"""What a pack says of limits: bands by application, the basis of each, and what other sources say.

Annotations are read (documents/keys.py), so none may be put off.
"""

from typing import Annotated, Any, NamedTuple, TypeAlias

from checker.documents.document import Origin
from checker.documents.key_forms import WITH_HYPHENS, Name, Text
from checker.documents.keys import Around, ByName, Form, Key, Source
from checker.documents.tree import KeyPath
from checker.errors import Problem

ANY = "any"
NONE = "none"
"""In place of a limit: one that a pack below states counts no more."""
BANDS = ("must", "should")
SIDES = ("low", "high", "broken")
BASIS_KINDS = (
    "standard",
    "manual",
    "handbook",
    "trade press",
    "computed",
    "common practice",
    "from memory",
    "shop policy",
)


class Basis(NamedTuple):
    """Where a limit comes from and how well that is known."""

    kind: Annotated[str, Key("What kind of source it is.", "handbook", is_enough=True), Form({"enum": [*BASIS_KINDS]})]
    read: Annotated[Text, Key("The document, table or page that was read.", "Machinery handbook, table of fits")] = ""
    from_memory: Annotated[Text, Key("One that is remembered, not read.", "Machinery handbook, table of fits")] = ""
    note: Annotated[Text, Key("What a reader should know about it.", "One thou per inch of shaft.")] = ""

    @property
    def how(self) -> str:
        """What kind of source it is, and whether it was read or is remembered."""
        known = "read" if self.read else "from memory" if self.from_memory else ""
        return f"{self.kind} ({known})" if known else self.kind

    def __str__(self) -> str:
        told = "; ".join(filter(None, (self.read, self.from_memory, self.note)))
        return f"{self.how}: {told}" if told else self.how


class Limit(NamedTuple):
    """One side of one band, as written: a number, quantity, expression, choices, or that what is judged must be so."""

    band: str
    side: str
    written: str
    number: float | None
    choices: tuple[str, ...]
    origin: Origin
    basis: Basis | None

    @property
    def is_removed(self) -> bool:
        """Whether it says that there is none any more."""
        return self.written == NONE and not self.choices


_SIDE_OF = {"at_least": "low", "at_most": "high", "one_of": "broken"}


def _limit(source: Source, path: KeyPath, value: Any, around: Around) -> Limit:
    band, key = map(str, path[-2:])
    choices = tuple(value) if key == "one_of" else ()
    written = value if isinstance(value, str) else ", ".join(choices) or source.document.written(*path)
    number = float(value) if isinstance(value, int | float) else None
    return Limit(band, _SIDE_OF[key], written, number, choices, source.origin(path), around.get("basis"))


def _demand(source: Source, path: KeyPath, value: bool, around: Around) -> Limit:
    """That what is judged must be so, or should."""
    band = str(path[-1])
    if not value:
        hint = f"judge the opposite, not (...), with {band}: true"
        source.problems.append(Problem("what is judged is demanded, not forbidden", source.document.place(*path), hint))
    return Limit(band, "broken", "true", None, (), source.origin(path), around.get("basis"))


_Amount: TypeAlias = Annotated[Limit | None, Form({"type": ["number", "string"]}, _limit)]
_Choices: TypeAlias = Annotated[
    Limit | None, Form({"type": "array", "minItems": 1, "items": {"type": "string"}}, _limit)
]


class Band(NamedTuple):
    """The limits of a must or a should; true where a condition is judged."""

    at_least: Annotated[
        _Amount,
        Key("Lowest value: a ratio (with per_unit_of), a quantity such as 0.5 thou, or an expression.", "0.5 thou"),
    ] = None
    at_most: Annotated[
        _Amount,
        Key(
            "Highest value, written like at_least. In an amendment either may be none: what a pack below states of it "
            "counts no more.",
            "2 thou + 0.001*shaft_diameter",
        ),
    ] = None
    one_of: Annotated[_Choices, Key("The choices that are acceptable.", ["bronze"])] = None
    demand: Annotated[
        Limit | None,
        Key("The condition that is judged must hold.", True, is_whole=True),
        Form({"type": "boolean"}, _demand),
    ] = None

    @property
    def stated(self) -> tuple[Limit, ...]:
        """Those that are stated, and those that are removed."""
        return tuple(limit for limit in self if limit is not None)


class Entry(NamedTuple):
    """Limits of one application, perhaps only when a condition holds.

    What an amendment states of any use comes before what the packs named in `above` state of one.
    """

    application: Annotated[Name, Key("The application, or any.", ANY)]
    origin: Origin
    when: Annotated[Text | None, Key("Condition under which these limits count.", "key_material is steel")] = None
    must: Annotated[Band, Key("What breaks the rule where it is missed.", {"at_least": "5 mm"})] = Band()
    should: Annotated[Band, Key("What is advice where it is missed.", {"at_least": "6 mm"})] = Band()
    basis: Annotated[
        Basis | None,
        Key("Where these limits come from; else the basis of the rule.", "manual", inherited=True),
    ] = None
    above: frozenset[str] = frozenset()

    @property
    def stated(self) -> tuple[Limit, ...]:
        """Every limit that is stated, and every one that is removed."""
        return (*self.must.stated, *self.should.stated)

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit that is stated."""
        return tuple(limit for limit in self.stated if not limit.is_removed)


Limits: TypeAlias = Annotated[tuple[Entry, ...], ByName(WITH_HYPHENS, listed="application")]


class Alternative(NamedTuple):
    """Limits of another source, which do not count: a report mentions them where they would decide otherwise."""

    title: Annotated[Text, Key("Who says so, as a report should name it.", "Older practice")]
    limits: Annotated[
        Limits, Key("What that source states, by application or as a list.", {"any": {"must": {"at_least": "4 mm"}}})
    ]
    basis: Annotated[Basis | None, Key("Where that is written.", "handbook", inherited=True)]
