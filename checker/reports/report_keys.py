"""What the report as JSON says: each key declared once, in the order in which it is written.

Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, Literal, NamedTuple, TypeAlias, get_args

from checker.documents.key_forms import DecisionName
from checker.documents.keys import Form, Key
from checker.packs.released import Standing
from checker.reports.finding_keys import (
    FindingKeys,
    IntegerOrNone,
    Listed,
    Number,
    NumberOrNone,
    StatementKeys,
    TextOrNone,
    VerdictWord,
)

FORM = 2

Part: TypeAlias = Literal["within", "open", "idle", "readings"]
PARTS: tuple[Part, ...] = get_args(Part)
"""What is told besides what is missed: the findings that are within, those that are open (not measured, not covered,
seen), those that are idle (not asked, not applicable), and every reading."""


class FlagKeys(NamedTuple):
    """One reading that looks wrong."""

    characteristic: Annotated[str, Key("Name of the characteristic.")]
    where: Annotated[TextOrNone, Key("Its station in words.")]
    written: Annotated[str, Key("As it stands in the record.")]
    message: Annotated[str, Key("What is wrong with it.")]
    refused: Annotated[
        bool, Key("Whether it was left out, because it is impossible or older than a part it depends on.")
    ]
    file: Annotated[str, Key("The record.")]
    line: Annotated[IntegerOrNone, Key("The line, counted from 1.")]


class ReadingKeys(NamedTuple):
    """One value of a record."""

    characteristic: Annotated[str, Key("Name of the characteristic.")]
    station: Annotated[int, Key("The station, counted from 1; 1 for the assembly.")]
    written: Annotated[str, Key("The value as it was written.")]
    low: Annotated[NumberOrNone, Key("Least value in SI; nothing where that end is open.")]
    high: Annotated[NumberOrNone, Key("Greatest value in SI; nothing where that end is open.")]
    with_: Annotated[TextOrNone, Key("The instrument.", written="with")]
    taken: Annotated[TextOrNone, Key("The day it was taken.")]
    temperature: Annotated[NumberOrNone, Key("Of the part when measured, in kelvin.")]
    correction: Annotated[
        NumberOrNone, Key("What was added to bring it to 20 degrees C, in SI; nothing where that was not done.")
    ]
    set_aside: Annotated[TextOrNone, Key("Why it does not count as measured.")]
    file: Annotated[str, Key("The file it stands in.")]
    line: Annotated[IntegerOrNone, Key("The line it stands in.")]


class ConcessionKeys(NamedTuple):
    """A named, dated, reasoned permission."""

    rule: Annotated[str, Key("The rule it is for.")]
    station: Annotated[IntegerOrNone, Key("The station it is for; nothing for all.")]
    by: Annotated[str, Key("Who gave it.")]
    dated: Annotated[str, Key("The day it was given.")]
    until: Annotated[TextOrNone, Key("The last day on which it counts.")]
    because: Annotated[str, Key("Why it was given.")]
    standing: Annotated[str, Key("Whether it counts, and if not, why.")]


class RecordKeys(NamedTuple):
    """The record that was judged."""

    source: Annotated[str, Key("The file.")]
    sha256: Annotated[str, Key("SHA-256 of the file.")]


class ProgramKeys(NamedTuple):
    """What judged."""

    name: Annotated[str, Key("Its distribution.")]
    version: Annotated[str, Key("Its version.")]


class MilestoneKeys(NamedTuple):
    """One milestone."""

    name: Annotated[str, Key("Its name.")]
    title: Annotated[str, Key("In words, as in: before the gears go on.")]


class UnitKeys(NamedTuple):
    """One unit; a value in SI is factor times the value in this unit, and offset added."""

    kind: Annotated[str, Key("What it measures.")]
    factor: Annotated[float, Key("Times a value in this unit.")]
    offset: Annotated[float, Key("Added to that.")]


class RuleKeys(NamedTuple):
    """One rule, with what it says of its stations."""

    title: Annotated[str, Key("Title of the rule.")]
    system: Annotated[str, Key("The group the rule is reported under.")]
    before: Annotated[str, Key("The milestone before which it must hold.")]
    stations: Annotated[TextOrNone, Key("Kind of station; null for the assembly.")]
    stated: Annotated[int, Key("Who states it: the place among the statements, from 0.")]
    caution: Annotated[TextOrNone, Key("What can hurt.")]
    values: Annotated[
        Listed[NumberOrNone],
        Key("What was judged, by station, in SI units; null where it is not known. None for a demand."),
    ]


class PackKeys(NamedTuple):
    """One pack."""

    pack: Annotated[str, Key("Its name.")]
    version: Annotated[str, Key("Its version.")]
    sha256: Annotated[str, Key("SHA-256 of its files, cases left out.")]
    standing: Annotated[
        str,
        Form({"enum": [*map(str, Standing)]}),
        Key("How its content compares with what was released under its name and version."),
    ]


class PluginKeys(NamedTuple):
    """One plugin."""

    plugin: Annotated[str, Key("Its name.")]
    version: Annotated[str, Key("Version of its distribution; empty where it has none.")]
    distribution: Annotated[str, Key("Distribution that it was installed with; empty where it has none.")]
    used: Annotated[
        Mapping[str, Listed[str]],
        Form({"minProperties": 0}),
        Key("What of it was used, by the kind of thing: functions, record_readers, rule_packs, written_forms."),
    ]


class LeftOutKeys(NamedTuple):
    """One rule with a must."""

    rule: Annotated[str, Key("Its name.")]
    title: Annotated[str, Key("Its title.")]
    pack: Annotated[str, Key("The pack whose control plan leaves it out.")]
    because: Annotated[str, Key("Why.")]


class InspectionKeys(NamedTuple):
    """What was asked for."""

    level: Annotated[TextOrNone, Key("The inspection level; null where the packs state none.")]
    title: Annotated[TextOrNone, Key("What it is called.")]
    scope: Annotated[
        Listed[str], Key("The systems that the job is about; empty where it is about all of the assembly.")
    ]
    words: Annotated[TextOrNone, Key("How much was asked, in words.")]
    left_out: Annotated[Listed[LeftOutKeys], Key("What a control plan leaves out.")]


class DecisionKeys(NamedTuple):
    """How a value near its limit was decided."""

    rule: Annotated[DecisionName, Key("Its name.")]
    words: Annotated[str, Key("The same in words.")]


class SeenKeys(NamedTuple):
    """One inspection by eye."""

    rule: Annotated[str, Key("The rule that was judged by eye.")]
    station: Annotated[IntegerOrNone, Key("Where; null for all stations.")]
    by: Annotated[str, Key("Who looked.")]
    dated: Annotated[str, Key("The day.")]
    clear: Annotated[bool, Key("Whether it was as it must be.")]


class RetiredKeys(NamedTuple):
    """One such rule."""

    rule: Annotated[str, Key("Its name.")]
    title: Annotated[str, Key("What it is about.")]
    system: Annotated[str, Key("The group of rules it belongs to.")]
    because: Annotated[str, Key("Why it was dropped.")]
    stated: Annotated[int, Key("The line that drops it: the place among the statements, from 0.")]


class ReportKeys(NamedTuple):
    """The verdicts on one record, as written by the form json. What is described here stays: as
    long as `report` is 2, keys may be added, and none is taken away or comes to mean something else.
    """

    report: Annotated[int, Form({"enum": [FORM]}), Key("Version of this form.")]
    program: Annotated[ProgramKeys, Key("What judged.")]
    assembly: Annotated[str, Key("Name of the assembly.")]
    record: Annotated[RecordKeys, Key("The record that was judged.")]
    packs: Annotated[Listed[PackKeys], Key("The rule packs it was judged by.")]
    pack_choice: Annotated[TextOrNone, Key("Why these packs were taken, where the record names none.")]
    plugins: Annotated[
        Listed[PluginKeys],
        Key("The plugins whose functions, reader or packs made the verdicts, without what comes with the checker."),
    ]
    application: Annotated[str, Key("The use it was judged for.")]
    derived_facts: Annotated[
        Mapping[str, str],
        Form({"minProperties": 0}),
        Key("The facts that follow from readings, such as a class, by name, none in doubt; one that is stated counts."),
    ]
    before: Annotated[TextOrNone, Key("The milestone about to be passed; null when all were judged.")]
    milestones: Annotated[Listed[MilestoneKeys], Key("The milestones of a build, in order.")]
    inspection: Annotated[InspectionKeys, Key("What was asked for.")]
    on: Annotated[str, Key("The day of judging.")]
    decision: Annotated[DecisionKeys, Key("How a value near its limit was decided.")]
    status: Annotated[
        int,
        Form({"enum": [0, 1, 3]}),
        Key("0 every must judged and held, 1 a must broken, 3 nothing broken but a must not judged."),
    ]
    answer: Annotated[str, Key("The headline.")]
    counts: Annotated[
        Mapping[VerdictWord, Number], Form({"minProperties": 0}), Key("How many findings there are of each verdict.")
    ]
    at_face_value: Annotated[
        Number,
        Key("How many of the findings within are so only if readings without an instrument are taken at face value."),
    ]
    parts: Annotated[
        Listed[Annotated[str, Form({"enum": [*PARTS]})]],
        Key("What was asked for besides the findings that are outside, undecided or advisory."),
    ]
    findings: Annotated[
        Listed[FindingKeys], Key("What a rule says of a station: what is missed, and what else was asked for.")
    ]
    suspect_sheets: Annotated[
        Listed[FlagKeys], Key("Part sheets that can hardly be meant as they stand; nothing is within by one.")
    ]
    verdicts: Annotated[
        Mapping[str, Listed[VerdictWord]],
        Form({"minProperties": 0}),
        Key("By rule what it says of each station; one word where it says the same of all."),
    ]
    rules: Annotated[
        Mapping[str, RuleKeys],
        Form({"minProperties": 0}),
        Key("The rules that judged a value, and those of the findings, by name."),
    ]
    statements: Annotated[Listed[StatementKeys], Key("The lines of packs that others here name by their place.")]
    bases: Annotated[Listed[str], Key("Where statements come from.")]
    units: Annotated[Mapping[str, UnitKeys], Form({"minProperties": 0}), Key("The units that values are shown in.")]
    readings_in_doubt: Annotated[Listed[FlagKeys], Key("Readings that look wrong.")]
    notes: Annotated[
        Listed[FlagKeys], Key("How readings were understood, where that is not plain from how they are written.")
    ]
    readings: Annotated[
        Listed[ReadingKeys], Key("Every reading as written and as understood, where that part was asked for.")
    ]
    concessions: Annotated[
        Listed[ConcessionKeys], Key("Permissions to use what does not conform, and whether each counts.")
    ]
    seen: Annotated[Listed[SeenKeys], Key("What was looked at instead of measured.")]
    later_rules: Annotated[Listed[str], Key("Rules of later milestones, not judged.")]
    retired_rules: Annotated[
        Listed[RetiredKeys], Key("Rules that are not asked here, by policy: a pack has dropped them.")
    ]
    cautions: Annotated[Listed[str], Key("What can hurt, whatever the verdicts.")]
