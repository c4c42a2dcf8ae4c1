"""What a rule pack says: the one declaration of its keys, and frozen data that is still text.

A key is declared here and nowhere else (documents/keys.py says how); annotations are read, so none may be put off.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, NamedTuple, TypeAlias, TypeVar

from checker.documents.document import Document
from checker.documents.keys import Around, ByName, Form, Key, KeysOf, OneOrMore, Source, Whole, keys_of, mark_of
from checker.documents.tree import KeyPath
from checker.errors import Place
from checker.frozen import FrozenMapping
from checker.notation.counting import COUNTINGS
from checker.packs.released import Standing

HEAD = "pack.yaml"
"""The file of a pack that says what it is."""
ANY = "any"
BANDS = ("must", "should")
SIDES = ("low", "high", "broken")
ALWAYS = "always"
"""The occasion of a rule that is asked for on every build."""
EACH = "each"
"""The sample of a rule that is asked for at every station."""
NEVER = "never"
"""What a rule says of concessions where none may be given."""

# --- forms of values -------------------------------------------------------------------------------------------------

_WITH_HYPHENS = {"pattern": "^[a-z][a-z0-9-]{0,63}$"}
_WITH_UNDERSCORES = {"pattern": "^[a-z][a-z0-9_]{0,63}$"}
_NONE: Mapping[str, Any] = FrozenMapping({})
_Thing = TypeVar("_Thing")

Text = Annotated[str, Form({"type": "string", "minLength": 1, "maxLength": 2000})]
Name = Annotated[str, Form({"type": "string", **_WITH_HYPHENS})]
"""The name of a rule, an application, a kind of station."""
Symbol = Annotated[str, Form({"type": "string", **_WITH_UNDERSCORES})]
"""A name that expressions use."""
Label = Annotated[str, Form({"type": "string", "minLength": 1, "maxLength": 40})]
Count = Annotated[int, Form({"type": "integer", "minimum": 1, "maximum": 64})]
Rows: TypeAlias = tuple[tuple[float, float], ...]

Named: TypeAlias = Annotated[tuple[_Thing, ...], ByName(_WITH_HYPHENS)]
Symbols: TypeAlias = Annotated[tuple[_Thing, ...], ByName(_WITH_UNDERSCORES)]
Changed: TypeAlias = Annotated[tuple[_Thing, ...], ByName(_WITH_HYPHENS, once=False)]


def _written(source: Source, path: KeyPath, _value: Any, _around: Around) -> str:
    return source.document.written(*path)


def _both_written(source: Source, path: KeyPath, value: Any, _around: Around) -> tuple[str, ...]:
    return tuple(source.document.written(*path, number) for number in range(len(value)))


AsWritten = Annotated[str, Form({"type": ["string", "number"]}, _written)]
"""A quantity, with every figure that was written."""
ManyAsWritten = Annotated[
    tuple[str, ...], Form({"type": "array", "minItems": 1, "items": {"type": ["string", "number"]}}, _both_written)
]


class Origin(NamedTuple):
    """The pack, its version and the line that state something."""

    pack: str
    version: str
    document: Document
    path: KeyPath

    @property
    def place(self) -> Place:
        """Where it stands; asked for only in messages and reports, which is far more seldom than it is stated."""
        return self.document.place(*self.path)

    def at(self, *steps: str | int) -> Place:
        """Where something in it stands, or else what encloses that."""
        return self.document.place(*self.path, *steps)

    def __str__(self) -> str:
        return f"{self.pack} {self.version}, {self.place.file}:{self.place.line}"


# --- rules -----------------------------------------------------------------------------------------------------------

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

    kind: Annotated[str, Key("What kind of source it is.", "handbook"), Form({"enum": [*BASIS_KINDS]})]
    evidence: Annotated[
        str,
        Key(
            "How the figure is known: the passage was read, it was computed, it is remembered, or it is what the trade "
            "does.",
            "read",
        ),
        Form({"enum": ["read", "computed", "from memory", "common practice"]}),
    ] = ""
    source: Annotated[Text, Key("The document, table or page.", "Machinery handbook, table of fits")] = ""
    note: Annotated[Text, Key("What a reader should know about it.", "One thou per inch of shaft.")] = ""

    def __str__(self) -> str:
        kind = f"{self.kind} ({self.evidence})" if self.evidence not in ("", self.kind) else self.kind
        told = "; ".join(text for text in (self.source, self.note) if text)
        return f"{kind}: {told}" if told else kind


class Limit(NamedTuple):
    """One side of one band, as written: a number, quantity, expression, choices or a condition."""

    band: str
    side: str
    written: str
    number: float | None
    choices: tuple[str, ...]
    origin: Origin
    basis: Basis | None


_SIDE_OF = {"at_least": "low", "at_most": "high", "one_of": "broken", "holds": "broken"}


def _limit(source: Source, path: KeyPath, value: Any, around: Around) -> Limit:
    band, key = map(str, path[-2:])
    choices = tuple(value) if key == "one_of" else ()
    written = value if isinstance(value, str) else ", ".join(choices) or source.document.written(*path)
    number = float(value) if isinstance(value, int | float) and key != "holds" else None
    return Limit(band, _SIDE_OF[key], written, number, choices, source.origin(path), around.get("basis"))


_Amount: TypeAlias = Annotated[Limit | None, Form({"type": ["number", "string"]}, _limit)]
_Choices: TypeAlias = Annotated[
    Limit | None, Form({"type": "array", "minItems": 1, "items": {"type": "string"}}, _limit)
]
_Held: TypeAlias = Annotated[Limit | None, Form({"type": "boolean", "enum": [True]}, _limit)]


class Band(NamedTuple):
    """The limits of a must or a should."""

    at_least: Annotated[
        _Amount,
        Key("Lowest value: a ratio (with per_unit_of), a quantity such as 0.5 thou, or an expression.", "0.5 thou"),
    ] = None
    at_most: Annotated[_Amount, Key("Highest value, written like at_least.", "2*thou + 0.001*shaft_diameter")] = None
    one_of: Annotated[_Choices, Key("The choices that are acceptable.", ["bronze"])] = None
    holds: Annotated[_Held, Key("The judged condition must hold.", True)] = None

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Those that are stated."""
        return tuple(limit for limit in self if limit is not None)


class Entry(NamedTuple):
    """Limits of one application, perhaps only when a condition holds.

    What an amendment states of any use comes before what the packs named in `above` state of one.
    """

    application: Annotated[Name, Key("The application, or any.", ANY)]
    origin: Origin
    when: Annotated[Text | None, Key("Condition under which these limits count.", 'oil == "mineral"')] = None
    must: Annotated[Band, Key("What breaks the rule where it is missed.", {"at_least": "5 mm"})] = Band()
    should: Annotated[Band, Key("What is advice where it is missed.", {"at_least": "6 mm"})] = Band()
    basis: Annotated[
        Basis | None,
        Key("Where these limits come from; else the basis of the rule.", {"kind": "manual"}, inherited=True),
    ] = None
    above: frozenset[str] = frozenset()

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit that is stated."""
        return (*self.must.limits, *self.should.limits)


Limits: TypeAlias = Annotated[tuple[Entry, ...], ByName(_WITH_HYPHENS, listed="application")]


class Alternative(NamedTuple):
    """Limits of another source, which do not count: a report mentions them where they would decide otherwise."""

    title: Annotated[Text, Key("Who says so, as a report should name it.", "Older practice")]
    limits: Annotated[
        Limits, Key("What that source states, by application or as a list.", {"any": {"must": {"at_least": "4 mm"}}})
    ]
    basis: Annotated[Basis | None, Key("Where that is written.", {"kind": "handbook"}, inherited=True)]


class Remedy(NamedTuple):
    """What to do about a miss; {limit - value} is computed."""

    low: Annotated[Text, Key("When the value is too low.", "Take {limit - value} off the shim.")] = ""
    high: Annotated[Text, Key("When the value is too high.", "Add {value - limit} of shim.")] = ""
    broken: Annotated[
        Text, Key("When the condition does not hold or the choice is not acceptable.", "Fit the other material.")
    ] = ""

    @property
    def by_side(self) -> Mapping[str, str]:
        """What is stated, by the side on which the value misses."""
        return FrozenMapping((side, words) for side, words in self._asdict().items() if words)


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
            'key_material == "used"',
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


def _by_station(
    source: Source, path: KeyPath, value: Any, _around: Around
) -> Mapping[str, Mapping[str, tuple[str, ...]]]:
    """Of each characteristic the texts by station, or those of all under ""."""
    document = source.document

    def texts(value: Any, *steps: str) -> tuple[str, ...]:
        if isinstance(value, list):
            return tuple(document.written(*path, *steps, number) for number in range(len(value)))
        return (document.written(*path, *steps),)

    return {
        name: {station: texts(inner, name, station) for station, inner in given.items()}
        if isinstance(given, Mapping)
        else {"": texts(given, name)}
        for name, given in value.items()
    }


class Case(NamedTuple):
    """What a rule says about given values; read only when vetting. It states a verdict, or varies one value."""

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
    ] = _NONE
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


class Rule(NamedTuple):
    """One check: what it judges, against which limits, and what to do about it."""

    name: str
    origin: Origin
    system: str
    title: Annotated[Text, Key("What the rule is called in a report.", "Key width")]
    before: Annotated[Name, Key("The milestone before which it must hold.", "gears-on")]
    judges: Annotated[Text, Key("The expression that is judged: a number, a choice or a condition.", "key_width")]
    limits: Annotated[
        Limits,
        Key(
            "Limits by application (any serves every one), or a list of entries where limits depend on facts.",
            {"any": {"must": {"at_least": "5 mm"}}},
        ),
    ]
    basis: Annotated[
        Basis | None,
        Key("Where its limits come from, unless they say so themselves.", {"kind": "shop policy"}, inherited=True),
    ] = None
    unit: Annotated[Text | None, Key("Unit to show; the characteristic's own when absent.", "mm")] = None
    per_unit_of: Annotated[Text | None, Key("Bare-number limits are ratios of this.", "shaft_diameter")] = None
    when: Annotated[Text | None, Key("The rule applies only when this holds.", 'key_material == "steel"')] = None
    unless: Annotated[Text | None, Key("The rule does not apply when this holds.", "shaft_diameter < 6*mm")] = None
    inspection: Annotated[Inspection, Key("When it is asked for.", {"level": "laboratory"}, by_part=True)] = (
        Inspection()
    )
    not_for: Annotated[
        Mapping[Name, Text],
        Key("Applications the rule is not for, each with the reason.", {"heavy": "Heavy drives have splines."}),
    ] = _NONE
    alternatives: Annotated[
        tuple[Alternative, ...],
        Key(
            "Limits of other sources.",
            [
                {
                    "title": "Older practice",
                    "limits": {"any": {"must": {"at_least": "4 mm"}}},
                    "basis": {"kind": "handbook"},
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


# --- what rules are about --------------------------------------------------------------------------------------------


class Characteristic(NamedTuple):
    """A measurable property: of the assembly, or at every station of one kind."""

    name: str
    origin: Origin
    system: str
    title: Annotated[Text, Key("What it is called in reports and on sheets.", "Shaft diameter")]
    per: Annotated[
        Name | None, Key("The kind of station it is measured at; absent for one value of the assembly.", "shaft")
    ] = None
    unit: Annotated[Text | None, Key("Unit to show, which also says what kind of quantity it is.", "mm")] = None
    choices: Annotated[
        tuple[Text, ...], Key("The words it can be, in place of a unit.", ["steel", "bronze"]), Form({"minItems": 2})
    ] = ()
    plausible: Annotated[
        tuple[AsWritten, AsWritten] | None,
        Key("What is possible at all; anything else is refused.", ["2 mm", "200 mm"]),
    ] = None
    derived: Annotated[
        Text | None, Key("How to compute it where it was not measured.", "housing_diameter - shaft_diameter")
    ] = None
    taken_directly: Annotated[
        bool,
        Key(
            "It is derived where it was not measured, but a bench takes it by itself: it has a box of its own, "
            "and what "
            "it is derived from is not asked for because of it.",
            True,
        ),
    ] = False
    agrees_within: Annotated[
        AsWritten,
        Key(
            "How far a value measured and the same computed may be apart, where their uncertainty is not "
            "larger. Absent "
            "where what is derived is no more than an estimate.",
            "0.5 thou",
        ),
    ] = ""
    usual_uncertainty: Annotated[
        AsWritten,
        Key(
            "Expanded uncertainty (k = 2) with which the trade usually reads it, where no instrument is named; "
            "else that "
            "of its means.",
            "0.2 thou",
        ),
    ] = ""
    how: Annotated[Text, Key("How and where to measure it.", "Across the flats, at both ends.")] = ""
    with_: Annotated[Text, Key("The usual instrument.", "micrometer", written="with")] = ""
    follows: Annotated[
        tuple[Symbol, ...], Key("Characteristics whose change makes this reading stale.", ["shaft_diameter"])
    ] = ()
    series: Annotated[bool, Key("The order of the readings at one station counts.", True)] = False
    counted: Annotated[
        str,
        Key(
            "What the number is counted from and which way, or as what. Words and forms of the trade are read "
            "where they "
            "fit it, turned round where they count the other way, and refused elsewhere.",
            "clockwise",
        ),
        Form({"enum": [*COUNTINGS]}),
    ] = ""


class Picture(NamedTuple):
    """Several angles drawn together, once for each station."""

    name: str
    origin: Origin
    system: str
    title: Annotated[Text, Key("What stands over the picture.", "Marks seen from above")]
    kind: Annotated[
        str,
        Key("Directions seen from above, or events of a turning cycle.", "clock"),
        Form({"enum": ["clock", "cycle"]}),
    ]
    of: Annotated[
        Mapping[Label, Annotated[tuple[Text, ...], OneOrMore(2, 2)]],
        Key(
            "What is drawn, by its label: the expression of an angle, clockwise from the top, or of the two ends of a "
            "span.",
            {"keyway": "keyway_angle"},
        ),
        Form({"maxProperties": 12}),
    ]
    marks: Annotated[
        Mapping[Label, Text], Key("Directions to find one's way by.", {"front": "0*deg"}), Form({"maxProperties": 12})
    ] = _NONE


class Axis(NamedTuple):
    """What one column of a table is measured in."""

    unit: Annotated[Text, Key("Unit of the numbers in the rows.", "mm")]
    title: Annotated[Text, Key("What the column holds.", "Shaft diameter")] = ""


class Table(NamedTuple):
    """A graded value, called like a function: steps, or straight lines between points; nothing beyond its ends."""

    name: str
    origin: Origin
    x: Annotated[Axis, Key("What it is graded by.", {"unit": "mm"})]
    y: Annotated[Axis, Key("What it gives.", {"unit": "mm"})]
    basis: Annotated[Basis, Key("Where the figures come from.", {"kind": "common practice"})]
    title: Annotated[Text, Key("What the table gives.", "Most end float by shaft diameter")] = ""
    linear: Annotated[
        Rows, Key("Points with straight lines between them.", [[10, 0.1], [60, 0.2]]), Form({"minItems": 2})
    ] = ()
    stepped: Annotated[Rows, Key("Each y holds from its x up to the next.", [[10, 0.1], [30, 0.15]])] = ()
    up_to: Annotated[float | None, Key("Where the last step ends.", 60)] = None

    @property
    def rows(self) -> Rows:
        """Its points or steps."""
        return self.stepped or self.linear

    def with_rows(self, rows: Rows) -> "Table":
        """The same table with other rows."""
        return self._replace(stepped=rows) if self.stepped else self._replace(linear=rows)


class Constant(NamedTuple):
    """A named number with a unit and a basis of its own."""

    name: str
    origin: Origin
    value: Annotated[float, Key("The number.", 7850)]
    basis: Annotated[Basis, Key("Where the number comes from.", {"kind": "from memory"})]
    unit: Annotated[Text, Key("Unit of the number; without one it is a plain number.", "kg/m3")] = "1"
    title: Annotated[Text, Key("What it is.", "Density of steel")] = ""


class Material(NamedTuple):
    """What parts and gauges are made of, and how it grows with heat."""

    name: str
    origin: Origin
    expansion: Annotated[Symbol, Key("The constant that gives its linear expansion, per K.", "expansion_of_steel")]


class Means(NamedTuple):
    """A means of measuring, and its usual uncertainty."""

    name: str
    origin: Origin
    usual_uncertainty: Annotated[
        tuple[Annotated[Text, Form(_NONE, _written)], ...],
        OneOrMore(),
        Key("Expanded (k = 2), with its unit; a list where it reads several kinds of quantity.", "0.2 thou"),
    ]


class Stations(NamedTuple):
    """A kind of place where something is measured, perhaps belonging to another kind."""

    name: str
    origin: Origin
    title: Annotated[Text, Key("What one of them is called in reports.", "Gear")]
    of: Annotated[Name | None, Key("The kind of station each one belongs to.", "shaft")] = None
    each: Annotated[
        tuple[Count, ...],
        OneOrMore(),
        Key(
            "How many of it each station it belongs to has; a list where there may be other numbers, the usual "
            "one first.",
            2,
        ),
    ] = ()
    as_many_as: Annotated[Name | None, Key("Another kind of station of which there are as many.", "shaft")] = None


class Application(NamedTuple):
    """A use the assembly is judged for; it inherits what it does not state."""

    name: str
    origin: Origin
    title: Annotated[Text, Key("What the use is called in reports.", "General duty")]
    like: Annotated[Name | None, Key("The application whose limits it inherits.", "general")] = None
    inspection: Annotated[
        Name | None,
        Key(
            "The inspection level it is judged at; that of the application it is like, or the lowest, when absent.",
            "laboratory",
        ),
    ] = None


class InspectionLevel(NamedTuple):
    """How much is asked for; a pack states its levels in rising order."""

    name: str
    origin: Origin
    title: Annotated[Text, Key("What the level is called in reports.", "Usual build")]


class ControlPlan(NamedTuple):
    """What a shop asks for by its own policy; what is measured all the same is judged."""

    origin: Origin
    asks: Annotated[tuple[Name, ...], Key("The only rules that are asked for, at every level.", ["key-width"])] = ()
    leaves_out: Annotated[
        Mapping[Name, Text],
        Key(
            "Rules that are not asked for, each with the reason; reports list them.",
            {"key-width": "keys are bought to the drawing"},
        ),
    ] = _NONE


class NamedLayout(NamedTuple):
    """How many stations of each kind an assembly has that is laid out so: the numbers there may be, the usual first."""

    name: str
    origin: Origin
    counts: Annotated[Mapping[Name, Annotated[tuple[Count, ...], OneOrMore()]], Whole()]


# --- the pack --------------------------------------------------------------------------------------------------------


def _milestones(_source: Source, _path: KeyPath, stated: Any, _around: Around) -> Mapping[str, str]:
    """The milestones by name, each with how people say it: "before the gears go on"."""
    return stated if isinstance(stated, Mapping) else FrozenMapping((name, f"before {name}") for name in stated)


class Pack(NamedTuple):
    """A versioned folder of rules; any of its files holds these keys, but some stand in pack.yaml only."""

    origin: Origin
    folder: Path
    digest: str
    standing: Standing
    pack: Annotated[Name, Key("Name of the pack.", "shop-policy", only_in=HEAD)]
    version: Annotated[Text, Key("Version, as PEP 440 writes it.", "1.0.0", only_in=HEAD)]
    rule_language: Annotated[
        int, Key("Version of the rule language.", 1, only_in=HEAD), Form({"type": "integer", "enum": [1]})
    ]
    title: Annotated[Text, Key("What the pack is called in lists and reports.", "Policy of our shop", only_in=HEAD)]
    builds_on: Annotated[
        Mapping[Name, Text],
        Key(
            "Packs this one builds on, with version ranges as PEP 440 writes them.",
            {"gear-train": ">=1,<2"},
            only_in=HEAD,
        ),
    ] = _NONE
    applications: Annotated[
        Named[Application],
        Key(
            "Uses an assembly can be judged for.",
            {"general": {"title": "General duty"}, "heavy": {"title": "Heavy duty with shocks", "like": "general"}},
            only_in=HEAD,
        ),
    ] = ()
    milestones: Annotated[
        Mapping[Name, Annotated[str, Form({"type": "string", "maxLength": 80, "pattern": "^before .+$"})]],
        Key(
            "Points of the build that cannot be undone cheaply, in order; each may have a title that says it in words.",
            {"shafts-in": "before the shafts go in", "gears-on": "before the gears go on"},
            only_in=HEAD,
        ),
        Form({"type": ["object", "array"], "minItems": 1, "items": {"type": "string", **_WITH_HYPHENS}}, _milestones),
    ] = _NONE
    inspection_levels: Annotated[
        Named[InspectionLevel],
        Key(
            "How much may be asked for, in rising order; a rule without a level is asked for at the lowest.",
            {"usual": {"title": "Usual build"}, "laboratory": {"title": "With laboratory readings"}},
            only_in=HEAD,
        ),
    ] = ()
    control_plan: Annotated[
        ControlPlan | None,
        Key(
            "What a shop asks for by its own policy. What is measured all the same is judged.",
            {"leaves_out": {"key-width": "keys are bought to the drawing"}},
            only_in=HEAD,
        ),
    ] = None
    cautions: Annotated[
        tuple[Text, ...],
        Key("Shown with every report.", ["Block the drive before a hand goes near a mesh."], only_in=HEAD),
    ] = ()
    irreversible: Annotated[
        tuple[Annotated[str, Form({"type": "string", "minLength": 1, "maxLength": 100})], ...],
        Key(
            "Words by which a remedy takes material off for good; such a remedy is not told for a recommendation.",
            ["grind", "file the key"],
            only_in=HEAD,
        ),
    ] = ()
    decision: Annotated[
        str,
        Key(
            "How readings near a limit are decided, unless the record or the command says otherwise.",
            "where-known",
            only_in=HEAD,
        ),
        Form({"enum": ["simple", "where-known", "guarded", "probability"]}),
    ] = ""
    probability: Annotated[
        float | None,
        Key("Least probability of conformity, with decision: probability.", 0.95, only_in=HEAD),
        Form({"minimum": 0.5, "maximum": 0.9999}),
    ] = None
    system: Annotated[
        Text,
        Key(
            "Title of the group of the rules in this file; else the name of the file.",
            "Gears and meshes",
            inherited=True,
        ),
    ] = ""
    stations: Annotated[
        Named[Stations], Key("Kinds of places where something is measured.", {"gear": {"title": "Gear", "of": "shaft"}})
    ] = ()
    layouts: Annotated[
        tuple[NamedLayout, ...],
        ByName({"minLength": 1, "maxLength": 64}),
        Key(
            "Layouts that a record may name instead of stating every count.",
            {"two shafts": {"shaft": 2, "gear": 4}},
        ),
    ] = ()
    constants: Annotated[
        Symbols[Constant],
        Key("Named numbers.", {"density_of_steel": {"value": 7850, "unit": "kg/m3", "basis": {"kind": "from memory"}}}),
    ] = ()
    materials: Annotated[
        Symbols[Material],
        Key(
            "What parts and gauges are made of, for bringing readings to 20 degrees C.",
            {"steel": {"expansion": "expansion_of_steel"}},
        ),
    ] = ()
    means: Annotated[
        tuple[Means, ...],
        ByName({"minLength": 1, "maxLength": 100}),
        Key(
            "What characteristics are read with (the words under `with`), and how uncertain that usually is.",
            {"micrometer": {"usual_uncertainty": "0.2 thou"}},
        ),
    ] = ()
    tables: Annotated[
        Symbols[Table],
        Key(
            "Graded values.",
            {
                "most_end_float": {
                    "x": {"unit": "mm"},
                    "y": {"unit": "mm"},
                    "stepped": [[10, 0.1], [30, 0.15]],
                    "up_to": 60,
                    "basis": {"kind": "common practice"},
                }
            },
        ),
    ] = ()
    characteristics: Annotated[
        Symbols[Characteristic],
        Key(
            "Measurable properties.",
            {
                "shaft_diameter": {
                    "title": "Shaft diameter",
                    "per": "shaft",
                    "unit": "mm",
                    "plausible": ["2 mm", "200 mm"],
                }
            },
        ),
    ] = ()
    rules: Annotated[
        Named[Rule],
        Key(
            "Checks.",
            {
                "key-width": {
                    "title": "Key width",
                    "before": "gears-on",
                    "judges": "key_width",
                    "limits": {"any": {"must": {"at_least": "5 mm"}}},
                    "basis": {"kind": "shop policy"},
                    "remedy": {"low": "Fit a wider key."},
                }
            },
        ),
    ] = ()
    pictures: Annotated[
        Named[Picture],
        Key(
            "Drawings of several angles together.",
            {"marks": {"title": "Marks seen from above", "kind": "clock", "of": {"keyway": "keyway_angle"}}},
        ),
    ] = ()
    amends: Annotated[
        Changed[Amendment],
        Key(
            "Changes to rules of the packs built on.",
            {
                "backlash": {
                    "because": "Our customers run them hard.",
                    "limits": {"heavy": {"must": {"at_most": 0.06}}},
                    "basis": {"kind": "shop policy"},
                }
            },
        ),
    ] = ()
    retires: Annotated[
        Changed[Retirement],
        Key("Rules of the packs built on that are dropped.", {"key-width": {"because": "We glue the joint."}}),
    ] = ()
    cases: Annotated[
        Mapping[Name, tuple[Case, ...]],
        Key(
            "Cases by rule.",
            {"key-width": [{"application": "general", "given": {"key_width": "5.1 mm"}, "verdict": "within"}]},
        ),
    ] = _NONE

    @property
    def name(self) -> str:
        return self.pack

    @property
    def is_released(self) -> bool:
        """Whether it is exactly what was released under its name and version."""
        return self.standing is Standing.RELEASED

    @property
    def remark(self) -> str:
        """What a report must say behind its name, if anything."""
        return f", {self.standing}" if self.standing is Standing.ALTERED else ""

    def __str__(self) -> str:
        return f"{self.pack} {self.version}"

    def __repr__(self) -> str:
        return f"<Pack {self}>"


HEAD_KEYS = tuple(key for key, one in keys_of(Pack).items() if one.key.only_in == HEAD)
NAMED = tuple(key for key, one in keys_of(Pack).items() if (by_name := mark_of(one.marks, ByName)) and by_name.once)
"""The sections whose names may stand once, in a pack and in all that are used together."""


def foundations(pack: Pack, packs: Mapping[str, Pack]) -> frozenset[str]:
    """The names of all packs that a pack builds on, however far down."""
    found: set[str] = set()
    waiting = list(pack.builds_on)
    while waiting:
        name = waiting.pop()
        if name not in found and name in packs:
            found.add(name)
            waiting.extend(packs[name].builds_on)
    return frozenset(found)
