"""What is measured, where, and how it is drawn: characteristics, kinds of stations and pictures.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, NamedTuple

from checker.documents.document import Origin
from checker.documents.key_forms import NOTHING, AsWritten, Count, Label, Name, Symbol, Text
from checker.documents.keys import Form, Key, OneOrMore, Whole

ELSE = "else"
"""Stands for the choices of a fact that are not named."""


class Derivation(NamedTuple):
    """How a value is computed: by one expression, or by a fact, with an expression for each of its choices."""

    expression: Annotated[
        Text, Key("What computes it, whatever the facts.", "housing_diameter - shaft_diameter", is_whole=True)
    ] = ""
    by_fact: Annotated[
        Mapping[Symbol, Annotated[Mapping[str, AsWritten], Form({"minProperties": 2})]],
        Whole(),
        Form({"maxProperties": 1}),
    ] = NOTHING

    def __str__(self) -> str:
        """As one expression; the last choice named is what is left."""
        for fact, values in self.by_fact.items():
            *named, (_, left) = values.items()
            return " ".join([*(f'({value}) if {fact} is "{choice}" else' for choice, value in named), f"({left})"])
        return self.expression


class Characteristic(NamedTuple):
    """A measurable property: of the assembly, or at every station of one kind."""

    name: str
    origin: Origin
    system: str
    title: Annotated[Text, Key("What it is called in reports and on sheets.", "Shaft diameter")]
    per: Annotated[
        Name | None, Key("The kind of station it is measured at; absent for one value of the assembly.", "shaft")
    ] = None
    unit: Annotated[
        Text | None, Key("Unit to show, which also says what kind of quantity it is; absent for a plain number.", "mm")
    ] = None
    choices: Annotated[
        tuple[Text, ...], Key("The words it can be, in place of a unit.", ["steel", "bronze"]), Form({"minItems": 2})
    ] = ()
    plausible: Annotated[
        tuple[AsWritten, AsWritten] | None,
        Key("What is possible at all; anything else is refused.", ["2 mm", "200 mm"]),
    ] = None
    derived: Annotated[
        Derivation | None,
        Key(
            "How to compute it where it was not measured: an expression, or by a fact, as in {key_material: {steel: "
            "0.8*shaft_torque, bronze: 0.5*shaft_torque}}, which names every choice or ends with else. Of choices, one "
            "of them or as conditions say one of several.",
            "housing_diameter - shaft_diameter",
        ),
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
    made_of: Annotated[
        tuple[Symbol, ...],
        OneOrMore(),
        Key(
            "The material of what a length is measured on, or the facts whose words are materials: by it a warm "
            "reading is brought to 20 degrees C. Of several it may be any, or of all of them.",
            "key_material",
        ),
    ] = ()
    how: Annotated[Text, Key("How and where to measure it.", "Across the flats, at both ends.")] = ""
    with_: Annotated[Text, Key("The usual instrument.", "micrometer", written="with")] = ""
    follows: Annotated[
        tuple[Symbol, ...], Key("Characteristics whose change makes this reading stale.", ["shaft_diameter"])
    ] = ()
    series: Annotated[bool, Key("The order of the readings at one station counts.", True)] = False
    counted: Annotated[
        Text,
        Key(
            "What the number is counted from and which way, or as what. Words and forms of the trade are read "
            "where they "
            "fit it, turned round where they count the other way, and refused elsewhere.",
            "clockwise",
        ),
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
        Mapping[Label, Text], Key("Directions to find one's way by.", {"front": "0 deg"}), Form({"maxProperties": 12})
    ] = NOTHING


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
    differ: Annotated[
        bool, Key("They differ by nature, as points of a curve do: a value far from the others is no slip.", True)
    ] = False


class NamedLayout(NamedTuple):
    """How many stations of each kind an assembly has that is laid out so: the numbers there may be, the usual first."""

    name: str
    origin: Origin
    counts: Annotated[Mapping[Name, Annotated[tuple[Count, ...], OneOrMore()]], Whole()]
