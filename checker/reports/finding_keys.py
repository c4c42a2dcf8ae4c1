"""What the report as JSON says of one finding, and the forms of what it says at all.

Annotations are read (documents/keys.py), so none may be put off.
"""

from typing import Annotated, NamedTuple, TypeAlias, TypeVar

from checker.documents.keys import Form, Key
from checker.findings.finding import PRACTICE, SHEET
from checker.judging.judge import Verdict
from checker.packs.limits import PHYSICS, SIDES

_Thing = TypeVar("_Thing")

TextOrNone = Annotated[str | None, Form({"type": ["string", "null"]})]
IntegerOrNone = Annotated[int | None, Form({"type": ["integer", "null"]})]
NumberOrNone = Annotated[float | None, Form({"type": ["number", "null"]})]
Number = Annotated[int, Form({"type": "integer", "minimum": 0})]
VerdictWord = Annotated[str, Form({"type": "string", "enum": [*map(str, Verdict)]})]
Listed: TypeAlias = Annotated[tuple[_Thing, ...], Form({"minItems": 0})]


class StatementKeys(NamedTuple):
    """A line of a pack that states something, and where that comes from."""

    pack: Annotated[str, Key("The pack; its version stands with the packs.")]
    file: Annotated[str, Key("The file, with the folder of the pack.")]
    line: Annotated[IntegerOrNone, Key("The line, counted from 1.")]
    basis: Annotated[IntegerOrNone, Key("Where it comes from: the place among the bases, from 0.")]


class LimitKeys(NamedTuple):
    """One limit."""

    value: Annotated[float, Key("In SI units.")]
    shown: Annotated[str, Key("As a report shows it.")]
    counts_as: Annotated[
        str,
        Form({"enum": [PHYSICS, SHEET, PRACTICE]}),
        Key("Which limit counted: physics, a part maker's sheet, or general practice."),
    ]
    part_sheet: Annotated[TextOrNone, Key("The part maker's sheet that states it; null where a pack does.")]
    stated: Annotated[IntegerOrNone, Key("Who states it: the place among the statements, from 0; null for a sheet.")]


class BandKeys(NamedTuple):
    """The two sides of a band; null is a side without a limit."""

    low: Annotated[LimitKeys | None, Key("The least value.")]
    high: Annotated[LimitKeys | None, Key("The greatest value.")]


class LimitsKeys(NamedTuple):
    """The limits that count at a station."""

    must: Annotated[BandKeys, Key("What must be held.")]
    should: Annotated[BandKeys, Key("What should be held.")]


class GapKeys(NamedTuple):
    """One reading that is lacking."""

    characteristic: Annotated[str, Key("Name of the characteristic.")]
    station: Annotated[IntegerOrNone, Key("Number of the station, from 1.")]
    words: Annotated[str, Key("As a report names it.")]


class FindingKeys(NamedTuple):
    """What one rule says of one station."""

    rule: Annotated[str, Key("Name of the rule.")]
    station: Annotated[IntegerOrNone, Key("Number of the station, from 1; null for the assembly.")]
    verdict: Annotated[VerdictWord, Key("What a rule says of one station.")]
    side: Annotated[
        str | None,
        Form({"type": ["string", "null"], "enum": [*SIDES, None]}),
        Key("On which side a limit is missed; null where none is."),
    ]
    must_open: Annotated[bool, Key("Whether a must could not be shown to hold or to be broken.")]
    at_face_value: Annotated[
        bool, Key("Whether it is within, but nearer to a limit than readings without an instrument are usually sure.")
    ]
    value: Annotated[NumberOrNone, Key("What was judged, in SI units; null where it is not known or is no number.")]
    shown: Annotated[TextOrNone, Key("The value as a report shows it.")]
    unit: Annotated[TextOrNone, Key("The unit it is shown in, by its name among the units.")]
    limits: Annotated[LimitsKeys | None, Key("The limits that count at this station; null for a demand.")]
    margin: Annotated[
        NumberOrNone,
        Key(
            "How far inside the nearest limit the value lies, or beyond that which decides, in SI units; negative "
            "outside; null for a demand."
        ),
    ]
    written: Annotated[TextOrNone, Key("What was written down, where it looks different from the value shown.")]
    expanded_uncertainty: Annotated[NumberOrNone, Key("Expanded uncertainty of the margin, k = 2, in SI units.")]
    needed_uncertainty: Annotated[
        NumberOrNone,
        Key("Expanded uncertainty with which an undecided value would be told, in SI; zero where none would do."),
    ]
    remedy: Annotated[TextOrNone, Key("What to do about it.")]
    missing: Annotated[Listed[GapKeys], Key("Readings that are lacking.")]
    remarks: Annotated[
        Listed[str], Key("Why the verdict is what it is, and where other sources would decide otherwise.")
    ]
    concession: Annotated[TextOrNone, Key("Who accepted it, when and why.")]
