"""What a pack says of a rule, and what it changes in the rules of the packs it builds on.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Iterable, Mapping
from typing import Annotated, Any, NamedTuple

from checker.documents.document import Origin
from checker.documents.key_forms import NOTHING, Name, Text
from checker.documents.keys import Form, Key, KeysOf
from checker.errors import Place
from checker.frozen import FrozenMapping
from checker.packs.case import Cases
from checker.packs.limits import BANDS, Alternative, Basis, Limits

ALWAYS = "always"
"""The occasion of a rule that is asked for on every build."""
EACH = "each"
"""The sample of a rule that is asked for at every station."""
NEVER = "never"
"""What a rule says of concessions where none may be given."""


class Action(NamedTuple):
    """What to do, in words; or in words under irreversible, where it cannot be undone."""

    reversible: Annotated[Text, Key("What to do.", "Add {value - limit} of shim.", is_whole=True)] = ""
    irreversible: Annotated[
        Text,
        Key(
            "What to do where that takes material off, discards a part or cannot be undone otherwise. It is not told "
            "for a recommendation, and only after a doubtful reading is checked.",
            "Grind {value - limit} off the key.",
        ),
    ] = ""

    def __str__(self) -> str:
        return self.irreversible or self.reversible


class Remedy(NamedTuple):
    """What to do about a miss; {limit - value} is computed."""

    low: Annotated[Action, Key("When the value is too low.", "Add {limit - value} of shim.")] = Action()
    high: Annotated[
        Action, Key("When the value is too high.", {"irreversible": "Grind {value - limit} off the key."})
    ] = Action()
    broken: Annotated[
        Action, Key("When the condition does not hold or the choice is not acceptable.", "Fit the other material.")
    ] = Action()

    @property
    def by_side(self) -> Mapping[str, Action]:
        """What is stated, by the side on which the value misses."""
        return FrozenMapping((side, action) for side, action in self._asdict().items() if str(action))


class Inspection(NamedTuple):
    """When a rule is asked for; wherever its readings are there it is judged all the same."""

    level: Annotated[
        Name | None, Key("The inspection level from which it is asked for; else the lowest.", "laboratory")
    ] = None
    occasion: Annotated[
        Text,
        Key(
            "A condition over facts on which it is asked for; always, for one that another pack asks for only "
            "at times.",
            "key_material is used",
        ),
    ] = ALWAYS
    sample: Annotated[
        str,
        Key(
            "At how many stations it is asked for: each, one, or one of those that belong to each station of another "
            "kind, as in 'one per shaft'.",
            "one",
        ),
        Form({"type": "string", "pattern": "^(each|one|one per [a-z][a-z0-9-]{0,63})$"}),
    ] = EACH
    by_eye: Annotated[
        Text, Key("What to look at, where looking may stand in for measuring.", "no tooth is chipped")
    ] = ""


class Rule(NamedTuple):
    """One check: what it judges, against which limits, and what to do about it."""

    name: str
    origin: Origin
    system: str
    title: Annotated[Text, Key("What the rule is called in a report.", "Key width")]
    judges: Annotated[Text, Key("The expression that is judged: a number, a choice or a condition.", "key_width")]
    before: Annotated[
        Name, Key("The milestone before which it must hold; else that of its file.", "gears-on", inherited=True)
    ] = ""
    limits: Annotated[
        Limits,
        Key(
            "Limits by application (any serves every one), or a list of entries where limits depend on facts.",
            {"any": {"must": {"at_least": "5 mm"}}},
        ),
    ] = ()
    limits_of: Annotated[
        str | None,
        Key(
            "The rule whose limits count here too, as amended, with its per_unit_of, its basis and what other sources "
            "say; or only its must or should, as in 'must of key-width'. Limits of its own come before them.",
            "key-width",
        ),
        Form({"type": "string", "pattern": "^((must|should) of )?[a-z][a-z0-9-]{0,63}$"}),
    ] = None
    basis: Annotated[
        Basis | None,
        Key("Where its limits come from, unless they say so themselves.", "shop policy", inherited=True),
    ] = None
    unit: Annotated[
        Text | None, Key("Unit to show; else that of the characteristics from which it is worked out.", "mm")
    ] = None
    per_unit_of: Annotated[Text | None, Key("Bare-number limits are ratios of this.", "shaft_diameter")] = None
    when: Annotated[Text | None, Key("The rule applies only when this holds.", "key_material is steel")] = None
    unless: Annotated[Text | None, Key("The rule does not apply when this holds.", "shaft_diameter < 6 mm")] = None
    inspection: Annotated[Inspection, Key("When it is asked for.", {"level": "laboratory"}, by_part=True)] = (
        Inspection()
    )
    not_for: Annotated[
        Mapping[Name, Text],
        Key(
            "Applications the rule is not for, and those like them of which it states no limits, each with the reason.",
            {"heavy": "Heavy drives have splines."},
        ),
    ] = NOTHING
    alternatives: Annotated[
        tuple[Alternative, ...],
        Key(
            "Limits of other sources.",
            [
                {
                    "title": "Older practice",
                    "limits": {"any": {"must": {"at_least": "4 mm"}}},
                    "basis": "handbook",
                }
            ],
        ),
    ] = ()
    remedy: Annotated[Remedy, Key("What to do about it.", {"low": "Fit a wider key."}, by_part=True)] = Remedy()
    caution: Annotated[Text, Key("A warning where it can hurt.", "Block the drive first.")] = ""
    concession: Annotated[
        str, Key("No permission to use a nonconforming item may be given.", NEVER), Form({"enum": [NEVER]})
    ] = ""
    picture: Annotated[
        Name | None,
        Key(
            "How a report draws it: band (usual), row (values along a row of stations), or a picture by its name.",
            "row",
        ),
    ] = None
    cases: Cases = ()
    amended: tuple["Amendment", ...] = ()

    @property
    def lender(self) -> str | None:
        """The rule whose limits count here too."""
        return self.limits_of and self.limits_of.rpartition(" of ")[2]

    @property
    def lent_bands(self) -> tuple[str, ...]:
        """Which bands of that rule do."""
        band = (self.limits_of or "").rpartition(" of ")[0]
        return (band,) if band else BANDS

    def why_not_for(self, chain: Iterable[str]) -> str:
        """Why it is not meant for a use, or for one that this is like; empty where it is.

        The nearer counts: a use of which limits are stated here is meant, though one that it is like is not.
        """
        if not self.not_for:
            return ""
        own = {entry.application for entry in self.limits if entry.origin.path[1] == self.name}
        nearest = next((name for name in chain if name in self.not_for or name in own), "")
        return self.not_for.get(nearest, "")

    def place(self, *steps: str) -> Place:
        """Where a part of it stands: in the last amendment that states it, else in the rule."""
        for amendment in reversed(self.amended):
            part: Any = amendment.changes
            for step in steps:
                part = part.get(step) if isinstance(part, Mapping) else None
            if part is not None:
                stating: Origin = amendment.origin
                return stating.at(*steps)
        return self.origin.at(*steps)


class Amendment(NamedTuple):
    """What is changed in a rule of another pack, and why; only the keys it changes."""

    name: str
    origin: Origin
    because: Annotated[Text, Key("Why.", "Our customers run them hard.")]
    changes: Annotated[Mapping[str, Any], KeysOf(Rule)]
    cases: Cases = ()


class Retirement(NamedTuple):
    """A rule of a pack built on that is dropped, and why."""

    name: str
    origin: Origin
    because: Annotated[Text, Key("Why the rule is dropped.", "We glue the joint.")]
