"""What a rule pack says as a whole: the keys of its files, as frozen data that is still text.

A key is declared here and nowhere else (documents/keys.py says how); annotations are read, so none may be put off.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, NamedTuple

from checker.documents.document import Origin
from checker.documents.key_forms import (
    NOTHING,
    WITH_HYPHENS,
    Changed,
    DecisionName,
    Name,
    Named,
    Probability,
    Symbols,
    Text,
)
from checker.documents.keys import Around, ByName, Form, Key, Source, keys_of, mark_of
from checker.documents.tree import KeyPath
from checker.frozen import FrozenMapping
from checker.notation.counting import WORD, Counting, UnclearWord
from checker.packs.application import Application, ControlPlan, InspectionLevel
from checker.packs.case import Case
from checker.packs.characteristic import Characteristic, NamedLayout, Picture, Stations
from checker.packs.figures import Constant, Material, Means, Table
from checker.packs.released import Standing
from checker.packs.rule import Amendment, Retirement, Rule
from checker.packs.sheet_limits import SheetLimits

HEAD = "pack.yaml"
"""The file of a pack that says what it is."""


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
    ] = NOTHING
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
        Form({"type": ["object", "array"], "minItems": 1, "items": {"type": "string", **WITH_HYPHENS}}, _milestones),
    ] = NOTHING
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
    adds_load: Annotated[
        bool,
        Key(
            "Its rules are for more load than makers print their sheets for: where it states a limit for the use, a "
            "part sheet takes its place only if it is printed `for` this pack or the use.",
            True,
            only_in=HEAD,
        ),
        Form({"type": "boolean", "enum": [True]}),
    ] = False
    decision: Annotated[
        DecisionName,
        Key(
            "How readings near a limit are decided, unless the record or the command says otherwise.",
            "where-known",
            only_in=HEAD,
        ),
    ] = ""
    probability: Annotated[
        Probability | None, Key("Least probability of conformity, with decision: probability.", 0.95, only_in=HEAD)
    ] = None
    written_forms: Annotated[
        tuple[Text, ...],
        Key("Forms of plugins that the trade of this pack writes, by their names.", ["wire gauges"], only_in=HEAD),
    ] = ()
    system: Annotated[
        Text,
        Key(
            "Title of the group of the rules in this file; else the name of the file.",
            "Gears and meshes",
            inherited=True,
        ),
    ] = ""
    before: Annotated[
        Name,
        Key("Milestone before which the rules of this file must hold that state none.", "gears-on", inherited=True),
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
    ways_of_counting: Annotated[
        tuple[Counting, ...],
        ByName({"pattern": "^[a-z][a-z -]{0,63}$"}),
        Key(
            "What numbers are counted from and which way, by the words that `counted` states it with.",
            {"ahead of the mark": {"of": "angle", "counted_from": "the front mark", "words": ["ahead"]}},
        ),
    ] = ()
    unclear_words: Annotated[
        tuple[UnclearWord, ...],
        ByName({"pattern": WORD}),
        Key(
            "Words behind a number that leave its meaning open, and what they ask.",
            {"off": {"asks": "above or below the shaft?", "could_be": ["{} above", "{} below"]}},
        ),
    ] = ()
    constants: Annotated[
        Symbols[Constant],
        Key("Named numbers.", {"density_of_steel": {"value": 7850, "unit": "kg/m3", "basis": "from memory"}}),
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
                    "basis": "common practice",
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
                    "basis": "shop policy",
                    "remedy": {"low": "Fit a wider key."},
                }
            },
        ),
    ] = ()
    part_limits: Annotated[
        Symbols[SheetLimits],
        Key(
            "What the maker's own sheets say of the machines this pack is for; a sheet of the record comes first.",
            {"backlash": {"at_least": "0.06 mm", "source": "gearbox maker's manual"}},
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
                    "basis": "shop policy",
                }
            },
        ),
    ] = ()
    retires: Annotated[
        Changed[Retirement],
        Key("Rules of the packs built on that are dropped.", {"key-width": {"because": "We glue the joint."}}),
    ] = ()
    each_of: Annotated[
        Mapping[str, Any],
        Key(
            "One definition for several kinds: words in capitals with the kinds they stand for, and sections whose "
            "entries hold a word in their names; each is written out once for each kind.",
            {"SHAFT": ["input", "output"], "rules": {"SHAFT-runout": {"title": "SHAFT shaft runout"}}},
        ),
        Form({"minProperties": 2}),
    ] = NOTHING
    cases: Annotated[
        Mapping[Name, tuple[Case, ...]],
        Key(
            "Cases by rule.",
            {"key-width": [{"application": "general", "given": {"key_width": "5.1 mm"}, "verdict": "within"}]},
        ),
    ] = NOTHING
    drafts: Annotated[
        Mapping[Name, tuple[Case, ...]],
        Key(
            "Drafts of cases by rule, not run until a person has moved them under cases.",
            {"key-width": [{"application": "general", "given": {"key_width": "5.1 mm"}, "verdict": "within"}]},
        ),
    ] = NOTHING

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


HEAD_KEYS = tuple(key for key, declared in keys_of(Pack).items() if declared.key.only_in == HEAD)
NAMED = tuple(
    key for key, declared in keys_of(Pack).items() if (by_name := mark_of(declared.marks, ByName)) and by_name.once
)
"""The sections whose names may stand once, in a pack and in all that are used together."""


def foundations(pack: Pack, packs: Mapping[str, Pack]) -> frozenset[str]:
    """The names of all packs that a pack builds on, however far down."""
    names: set[str] = set()
    waiting = list(pack.builds_on)
    while waiting:
        name = waiting.pop()
        if name not in names and name in packs:
            names.add(name)
            waiting.extend(packs[name].builds_on)
    return frozenset(names)
