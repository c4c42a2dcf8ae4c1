"""What the report as JSON says of one finding, and the forms of what it says at all.

Annotations are read (documents/keys.py), so none may be put off.
"""

from typing import Annotated, NamedTuple, TypeAlias, TypeVar

from checker.documents.keys import Form, Key
from checker.findings.finding import PRACTICE, SHEET
from checker.judging.judge import Verdict
from checker.packs.limits import BANDS, PHYSICS, SIDES

_Thing = TypeVar("_Thing")

TextOrNone = Annotated[str | None, Form({"type": ["string", "null"]})]
IntegerOrNone = Annotated[int | None, Form({"type": ["integer", "null"]})]
NumberOrNone = Annotated[float | None, Form({"type": ["number", "null"]})]
Number = Annotated[int, Form({"type": "integer", "minimum": 0})]
VerdictWord = Annotated[str, Form({"type": "string", "enum": [*map(str, Verdict)]})]
Listed: TypeAlias = Annotated[tuple[_Thing, ...], Form({"minItems": 0})]


class OriginKeys(NamedTuple):
    """The line of a pack that states something."""

    pack: Annotated[str, Key("The pack.")]
    version: Annotated[str, Key("Its version.")]
    file: Annotated[str, Key("The file, with the folder of the pack.")]
    line: Annotated[IntegerOrNone, Key("The line, counted from 1.")]


class LimitKeys(NamedTuple):
    """One limit."""

    band: Annotated[str, Form({"enum": [*BANDS]}), Key("Whether it must or should be held.")]
    side: Annotated[str, Form({"enum": ["low", "high"]}), Key("Which end of the band it is.")]
    value: Annotated[float, Key("In SI units.")]
    shown: Annotated[str, Key("As a report shows it.")]
    counts_as: Annotated[
        str,
        Form({"enum": [PHYSICS, SHEET, PRACTICE]}),
        Key("Which limit counted: physics, a part maker's sheet, or general practice."),
    ]
    part_sheet: Annotated[TextOrNone, Key("The part maker's sheet that states it; null where a pack does.")]
    basis: Annotated[TextOrNone, Key("Where it comes from.")]
    stated_at: Annotated[OriginKeys | None, Key("The line of the pack that states it; null where a part sheet does.")]


class GapKeys(NamedTuple):
    """One reading that is lacking."""

    characteristic: Annotated[str, Key("Name of the characteristic.")]
    station: Annotated[IntegerOrNone, Key("Number of the station, from 1.")]
    words: Annotated[str, Key("As a report names it.")]


class FindingKeys(NamedTuple):
    """What one rule says of one station."""

    rule: Annotated[str, Key("Name of the rule.")]
    title: Annotated[str, Key("Title of the rule.")]
    system: Annotated[str, Key("The group the rule is reported under.")]
    before: Annotated[str, Key("The milestone before which it must hold.")]
    stations: Annotated[TextOrNone, Key("Kind of station; null for the assembly.")]
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
    unit: Annotated[TextOrNone, Key("The unit it is shown in.")]
    limits: Annotated[Listed[LimitKeys], Key("The limits that count at this station.")]
    margin: Annotated[
        NumberOrNone,
        Key("How far inside the nearest limit of the band that decides the value lies, in SI units; negative outside."),
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
    basis: Annotated[TextOrNone, Key("Where the limits of the rule come from.")]
    caution: Annotated[TextOrNone, Key("What can hurt.")]
    stated_at: Annotated[OriginKeys, Key("The line of the pack that states it.")]
