"""Figures that rules rest on: constants, tables, materials, and the usual uncertainty of means of measuring.

Annotations are read (documents/keys.py), so none may be put off.
"""

from typing import Annotated, NamedTuple, TypeAlias

from checker.documents.document import Origin
from checker.documents.key_forms import NOTHING, Symbol, Text, as_written
from checker.documents.keys import Form, Key, OneOrMore
from checker.packs.limits import Basis

Rows: TypeAlias = tuple[tuple[float, float], ...]


class Axis(NamedTuple):
    """What one column of a table is measured in."""

    unit: Annotated[Text, Key("Unit of the numbers in the rows; without one they are plain numbers.", "mm")] = "1"
    title: Annotated[Text, Key("What the column holds.", "Shaft diameter")] = ""


class Table(NamedTuple):
    """A graded value, called like a function: steps, or straight lines between points; nothing beyond its ends."""

    name: str
    origin: Origin
    basis: Annotated[Basis, Key("Where the figures come from.", "common practice")]
    x: Annotated[Axis, Key("What it is graded by; absent for plain numbers.", {"unit": "mm"})] = Axis()
    y: Annotated[Axis, Key("What it gives; absent for plain numbers.", {"unit": "mm"})] = Axis()
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
    basis: Annotated[Basis, Key("Where the number comes from.", "from memory")]
    unit: Annotated[Text, Key("Unit of the number; without one it is a plain number.", "kg/m3")] = "1"
    title: Annotated[Text, Key("What it is.", "Density of steel")] = ""


class Material(NamedTuple):
    """What parts and gauges are made of, and how it grows with heat."""

    name: str
    origin: Origin
    expansion: Annotated[Symbol, Key("The constant that gives its linear expansion, per K.", "expansion_of_steel")]
    of_gauges: Annotated[
        bool, Key("Usual gauges, and the standards they are set with, are made of it: what counts unless stated.", True)
    ] = False


class Means(NamedTuple):
    """A means of measuring, and its usual uncertainty."""

    name: str
    origin: Origin
    usual_uncertainty: Annotated[
        tuple[Annotated[Text, Form(NOTHING, as_written)], ...],
        OneOrMore(),
        Key("Expanded (k = 2), with its unit; a list where it reads several kinds of quantity.", "0.2 thou"),
    ]
