"""What a pack says of limits: bands by application, the basis of each, and what other sources say.

Annotations are read (documents/keys.py), so none may be put off.
"""

import re
from typing import Annotated, Any, NamedTuple, TypeAlias

from checker.documents.document import Origin
from checker.documents.key_forms import WITH_HYPHENS, Name, Text
from checker.documents.keys import Around, ByName, Form, Key, Source
from checker.documents.tree import KeyPath
from checker.errors import Problem

ANY = "any"
NONE = "none"
"""In place of a limit: one that a pack below states counts no more."""
BELOW = "below"
"""What a limit of an amendment calls the limit that would count without it."""
_NAMES_BELOW = re.compile(rf"\b{BELOW}\b")
_STRICTER = re.compile(r"\b(?:larger|smaller)_of\s*\(")
_QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"")
_CHOICES = re.compile(r"\bis +(?:not +)?\w+|\bin *\([^()]*\)")
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
        words = "; ".join(filter(None, (self.read, self.from_memory, self.note)))
        return f"{self.how}: {words}" if words else self.how


class Limit(NamedTuple):
    """One side of one band, as written: a number, quantity, expression, choices, or that what is judged must be so.

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
    def position(self) -> tuple[str, str]:
        return (self.band, self.side)

    @property
    def is_removed(self) -> bool:
        """Whether it says that there is none any more."""
        return self.written == NONE and not self.choices

    @property
    def is_on_top(self) -> bool:
        """Whether it is calculated from the limit below it, and so takes the place of none."""
        return self.number is None and not self.choices and _names_below(self.written)

    @property
    def alone(self) -> str:
        """What counts where there is no limit below: what that is compared with; nothing where it is added to."""
        left = _without_below(self.written).strip()
        return "" if _names_below(left) else left

    @property
    def is_half_alone(self) -> bool:
        """Whether some of it is left where there is no limit below, and some is not."""
        return not self.alone and _without_below(self.written) != self.written


def _names_below(text: str) -> bool:
    """Whether an expression names the limit below it; a fact may have a choice of that name."""
    if BELOW not in text:
        return False
    return _NAMES_BELOW.search(_CHOICES.sub("", _QUOTED.sub("", text))) is not None


def _without_below(text: str) -> str:
    """An expression in which each larger or smaller of something and the limit below it is that something."""
    call = _STRICTER.search(text)
    if call is None:
        return text
    end, parts = _arguments(text, call.end())
    if not parts:
        return text  # a call that is not closed is told where it is compiled
    own = [_without_below(part) for part in parts]
    known = [part.strip() for part in own if not _names_below(part)]
    found = call.group() + ",".join(own) + text[end - 1 : end]
    if len(known) < len(own) == 2:
        whole = not (text[: call.start()].strip() or text[end:].strip())
        found = (known[0] if whole else f"({known[0]})") if known else found
    return text[: call.start()] + found + _without_below(text[end:])


def _arguments(text: str, start: int) -> tuple[int, list[str]]:
    """Where a call ends whose arguments start there, and these; none where it is not closed."""
    plain = _QUOTED.sub(lambda quoted: "_" * len(quoted.group()), text)
    depth, parts, begin = 1, list[str](), start
    for at in range(start, len(text)):
        depth += (plain[at] == "(") - (plain[at] == ")")
        if depth == 0 or (depth == 1 and plain[at] == ","):
            parts.append(text[begin:at])
            begin = at + 1
        if depth == 0:
            return begin, parts
    return len(text), []


_SIDE_OF = {"at_least": "low", "at_most": "high", "one_of": "broken"}


def _band(source: Source, path: KeyPath, written: str, basis: Basis | None) -> str:
    """The band in which a limit counts: that under which it is written, or that of physics."""
    if basis is None or basis.kind != PHYSICS:
        return written
    if written != "must":
        message = "physics is no advice: state this should in limits of their own, with a basis of their own"
        source.problems.append(Problem(message, source.document.place(*path)))
    elif not basis.note:
        message = "limits of physics need a note that says what happens beyond them"
        example = "as in basis: {kind: physics, note: the parts meet}"
        source.problems.append(Problem(message, source.document.place(*path), example))
    return PHYSICS


def _limit(source: Source, path: KeyPath, value: Any, around: Around) -> Limit:
    key = str(path[-1])
    basis = around.get("basis")
    band = _band(source, path, str(path[-2]), basis)
    choices = tuple(value) if key == "one_of" else ()
    if value == NONE and band == PHYSICS:
        hint = "state what is removed in limits of their own, with a basis of their own"
        source.problems.append(Problem("physics removes no limit", source.document.place(*path), hint))
    written = value if isinstance(value, str) else ", ".join(choices) or source.document.written(*path)
    number = float(value) if isinstance(value, int | float) else None
    return Limit(band, _SIDE_OF[key], written, number, choices, source.origin(path), basis)


def _demand(source: Source, path: KeyPath, value: bool, around: Around) -> Limit:
    """That what is judged must be so, or should."""
    written = str(path[-1])
    basis = around.get("basis")
    if not value:
        hint = f"judge the opposite, not (...), with {written}: true"
        source.problems.append(Problem("what is judged is demanded, not forbidden", source.document.place(*path), hint))
    band = _band(source, path, written, basis)
    return Limit(band, "broken", "true", None, (), source.origin(path), basis)


_Amount: TypeAlias = Annotated[Limit | None, Form({"type": ["number", "string"]}, _limit)]
_Choices: TypeAlias = Annotated[
    Limit | None, Form({"type": "array", "minItems": 1, "items": {"type": "string"}}, _limit)
]


class Band(NamedTuple):
    """The limits of a must or a should; true where a condition is judged."""

    at_least: Annotated[
        _Amount,
        Key(
            "Lowest value: a ratio (with per_unit_of), a quantity such as 0.5 thou, or an expression. In an amendment "
            "an expression may name below: the limit that would count without it.",
            "0.5 thou",
        ),
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
        return tuple(filter(None, self))


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
