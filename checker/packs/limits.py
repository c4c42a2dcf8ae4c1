"""What a pack says of limits: bands by application, the basis of each, and what other sources say.

Annotations are read (documents/keys.py), so none may be put off.
"""

import re
from typing import Annotated, Any, NamedTuple, TypeAlias

from checker.documents.keys import Around, ByName, Form, Key, Source
from checker.documents.tree import KeyPath
from checker.errors import Problem
from checker.packs.key_forms import WITH_HYPHENS, Name, Origin, Text

ANY = "any"
BELOW = "below"
"""What a limit of an amendment calls the limit that would count without it."""
_NAMES_BELOW = re.compile(rf"\b{BELOW}\b")
_NESTED = r"[^()]*(?:\([^()]*(?:\([^()]*\)[^()]*)*\)[^()]*)*"
_BESIDE_BELOW = re.compile(rf"(?:larger|smaller)_of\(({_NESTED}), {BELOW}\)")
BANDS = ("must", "should")
SIDES = ("low", "high", "broken")
PHYSICS = "physics"
"""The basis of a must that no use, no amendment and no part sheet loosens, and the band in which it counts."""
BASIS_KINDS = (
    "standard",
    "manual",
    "handbook",
    "trade press",
    "computed",
    "common practice",
    "from memory",
    "shop policy",
    PHYSICS,
)


class Basis(NamedTuple):
    """Where a limit comes from and how well that is known."""

    kind: Annotated[
        str,
        Key(
            "What kind of source it is; physics is a must that no use, no amendment and no part sheet loosens, and its "
            "note says what happens beyond it.",
            "handbook",
            is_enough=True,
        ),
        Form({"enum": [*BASIS_KINDS]}),
    ]
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
    """One side of one band, as written: a number, quantity, expression, choices or a condition.

    A must whose basis is physics is a band of its own, beside which every other must may stand.
    """

    band: str
    side: str
    written: str
    number: float | None
    choices: tuple[str, ...]
    origin: Origin
    basis: Basis | None

    @property
    def is_on_top(self) -> bool:
        """Whether it is calculated from the limit below it, and so takes the place of none."""
        return self.number is None and not self.choices and bool(_NAMES_BELOW.search(self.written))

    @property
    def alone(self) -> str:
        """Of the larger or the smaller of something and the limit below it: what counts where there is none below."""
        found = _BESIDE_BELOW.fullmatch(self.written)
        return found[1] if found else ""


_SIDE_OF = {"at_least": "low", "at_most": "high", "one_of": "broken", "holds": "broken"}


def _limit(source: Source, path: KeyPath, value: Any, around: Around) -> Limit:
    band, key = map(str, path[-2:])
    basis = around.get("basis")
    if basis is not None and basis.kind == PHYSICS:
        if band != "must":
            message = "physics is no advice: state this should in limits of their own, with a basis of their own"
            source.problems.append(Problem(message, source.document.place(*path)))
        elif not basis.note:
            message = "limits of physics need a note that says what happens beyond them"
            example = "as in basis: {kind: physics, note: the parts meet}"
            source.problems.append(Problem(message, source.document.place(*path), example))
        band = PHYSICS
    choices = tuple(value) if key == "one_of" else ()
    written = value if isinstance(value, str) else ", ".join(choices) or source.document.written(*path)
    number = float(value) if isinstance(value, int | float) and key != "holds" else None
    return Limit(band, _SIDE_OF[key], written, number, choices, source.origin(path), basis)


_Amount: TypeAlias = Annotated[Limit | None, Form({"type": ["number", "string"]}, _limit)]
_Choices: TypeAlias = Annotated[
    Limit | None, Form({"type": "array", "minItems": 1, "items": {"type": "string"}}, _limit)
]
_Held: TypeAlias = Annotated[Limit | None, Form({"type": "boolean", "enum": [True]}, _limit)]


class Band(NamedTuple):
    """The limits of a must or a should."""

    at_least: Annotated[
        _Amount,
        Key(
            "Lowest value: a ratio (with per_unit_of), a quantity such as 0.5 thou, or an expression. In an amendment "
            "an expression may name below: the limit that would count without it.",
            "0.5 thou",
        ),
    ] = None
    at_most: Annotated[_Amount, Key("Highest value, written like at_least.", "2 thou + 0.001*shaft_diameter")] = None
    one_of: Annotated[_Choices, Key("The choices that are acceptable.", ["bronze"])] = None
    holds: Annotated[_Held, Key("The judged condition must hold.", True)] = None

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Those that are stated."""
        return tuple(limit for limit in self if limit is not None)


class Entry(NamedTuple):
    """Limits of one application, perhaps only when a condition holds.

    What an amendment states of any use comes before what the packs named in `above` state of one: those that its pack
    builds on.
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
    def limits(self) -> tuple[Limit, ...]:
        """Every limit that is stated."""
        return (*self.must.limits, *self.should.limits)


Limits: TypeAlias = Annotated[tuple[Entry, ...], ByName(WITH_HYPHENS, listed="application")]


class Alternative(NamedTuple):
    """Limits of another source, which do not count: a report mentions them where they would decide otherwise."""

    title: Annotated[Text, Key("Who says so, as a report should name it.", "Older practice")]
    limits: Annotated[
        Limits, Key("What that source states, by application or as a list.", {"any": {"must": {"at_least": "4 mm"}}})
    ]
    basis: Annotated[Basis | None, Key("Where that is written.", "handbook", inherited=True)]
