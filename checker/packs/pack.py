"""What a rule pack says, as frozen data: still text, not yet checked against other packs."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from checker.documents.document import Document
from checker.documents.tree import KeyPath
from checker.errors import Place
from checker.notation.counting import Counting, UnclearWord
from checker.packs.released import Standing

ANY = "any"
BANDS = ("must", "should")
SIDES = ("low", "high", "broken")
ALWAYS = "always"
"""The occasion of a rule that is asked for on every build."""
EACH = "each"
"""The sample of a rule that is asked for at every station."""


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

    def __str__(self) -> str:
        return f"{self.pack} {self.version}, {self.place.file}:{self.place.line}"


class Basis(NamedTuple):
    """Where a limit comes from and how well that is known."""

    kind: str
    evidence: str = ""
    source: str = ""
    note: str = ""

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


class Entry(NamedTuple):
    """The limits stated for one application, perhaps only when a condition holds.

    What an amendment states of any use comes before what the packs named in `above` state of one.
    """

    application: str
    when: str | None
    limits: tuple[Limit, ...]
    origin: Origin
    basis: Basis | None
    above: frozenset[str] = frozenset()


class OtherLimits(NamedTuple):
    """Limits that do not count, kept so that a report can say where they would decide otherwise."""

    title: str
    entries: tuple[Entry, ...]
    basis: Basis | None


class Rule(NamedTuple):
    """One check: what it judges, against which limits, and what to do about it.

    It is asked for from an inspection `level` on (the lowest where none is stated), on an `occasion`, and on a
    `sample` of its stations; `by_eye` says what to look at where looking may stand in for measuring.
    """

    name: str
    title: str
    system: str
    before: str
    judges: str
    origin: Origin
    basis: Basis | None
    entries: tuple[Entry, ...]
    unit: str | None = None
    per_unit_of: str | None = None
    when: str | None = None
    unless: str | None = None
    not_for: Mapping[str, str] = MappingProxyType({})
    others: tuple[OtherLimits, ...] = ()
    remedies: Mapping[str, str] = MappingProxyType({})
    caution: str = ""
    concession_allowed: bool = True
    picture: str | None = None
    level: str | None = None
    occasion: str | None = None
    sample: str = EACH
    by_eye: str = ""
    places: Mapping[str, Place] = MappingProxyType({})
    amended: tuple[Amendment, ...] = ()


class Amendment(NamedTuple):
    """What one pack changes in a rule of another, and why."""

    rule: str
    because: str
    changes: Mapping[str, Any]
    origin: Origin


class Retirement(NamedTuple):
    """A rule of another pack that a pack drops, and why."""

    rule: str
    because: str
    origin: Origin


class Characteristic(NamedTuple):
    """A measurable property: of the assembly, or at every station of one kind."""

    name: str
    title: str
    origin: Origin
    per: str | None = None
    unit: str | None = None
    choices: tuple[str, ...] = ()
    plausible: tuple[str, str] | None = None
    derived: str | None = None
    taken_directly: bool = False
    agrees_within: str = ""
    usual_uncertainty: str = ""
    how: str = ""
    instrument: str = ""
    follows: tuple[str, ...] = ()
    series: bool = False
    counted: str = ""
    system: str = ""
    places: Mapping[str, Place] = MappingProxyType({})


class StatedWay(NamedTuple):
    """A way of counting with its words, and where a pack states it."""

    name: str
    way: Counting
    origin: Origin
    places: Mapping[str, Place] = MappingProxyType({})


class StatedUnclearWord(NamedTuple):
    """A word that leaves its meaning open, and where a pack states it."""

    name: str
    word: UnclearWord
    origin: Origin
    places: Mapping[str, Place] = MappingProxyType({})


class Picture(NamedTuple):
    """A drawing of several angles together: by label the expressions of an angle, or of both ends of a span."""

    name: str
    title: str
    kind: str
    system: str
    angles: Mapping[str, tuple[str, ...]]
    marks: Mapping[str, str]
    origin: Origin
    places: Mapping[str, Place] = MappingProxyType({})


class Table(NamedTuple):
    """A graded value: steps, or straight lines between points; nothing beyond its ends."""

    name: str
    title: str
    argument_unit: str
    result_unit: str
    rows: tuple[tuple[float, float], ...]
    stepped: bool
    up_to: float | None
    basis: Basis
    origin: Origin


class Constant(NamedTuple):
    """A named number with a unit and a basis of its own."""

    name: str
    value: float
    unit: str
    basis: Basis
    origin: Origin


class Material(NamedTuple):
    """What parts and gauges are made of; `expansion` names the constant that says how it grows with heat."""

    name: str
    expansion: str
    origin: Origin


class Means(NamedTuple):
    """What characteristics are read with; of each kind of quantity how uncertain that usually is, expanded (k = 2)."""

    name: str
    usual_uncertainty: tuple[str, ...]
    origin: Origin


class Stations(NamedTuple):
    """A kind of place where something is measured, perhaps belonging to another kind.

    `each` says how many of it each of those has, the usual number first; `as_many_as` names a kind as numerous.
    """

    name: str
    title: str
    parent: str | None
    origin: Origin
    each: tuple[int, ...] = ()
    as_many_as: str | None = None


class NamedLayout(NamedTuple):
    """How many stations of each kind an assembly has that is laid out so: the numbers there may be, the usual first."""

    name: str
    counts: Mapping[str, tuple[int, ...]]
    origin: Origin


class Application(NamedTuple):
    """A use the assembly is judged for; it inherits what it does not state."""

    name: str
    title: str
    like: str | None
    origin: Origin
    inspection: str | None = None


class InspectionLevel(NamedTuple):
    """How much is asked for; a pack states its levels in rising order."""

    name: str
    title: str
    origin: Origin


class ControlPlan(NamedTuple):
    """A shop's own plan: the only rules that are asked for, if any are named, and those left out, with the reason."""

    asks: tuple[str, ...]
    leaves_out: Mapping[str, str]
    origin: Origin


class Pack(NamedTuple):
    """A versioned folder of rules."""

    name: str
    version: str
    title: str
    folder: Path
    digest: str
    standing: Standing
    builds_on: Mapping[str, str]
    applications: tuple[Application, ...]
    milestones: Mapping[str, str]
    cautions: tuple[str, ...]
    stations: tuple[Stations, ...]
    layouts: tuple[NamedLayout, ...]
    constants: tuple[Constant, ...]
    tables: tuple[Table, ...]
    characteristics: tuple[Characteristic, ...]
    rules: tuple[Rule, ...]
    pictures: tuple[Picture, ...]
    materials: tuple[Material, ...]
    means: tuple[Means, ...]
    amendments: tuple[Amendment, ...]
    retirements: tuple[Retirement, ...]
    places: Mapping[str, Place] = MappingProxyType({})
    decision: str = ""
    probability: float | None = None
    inspection_levels: tuple[InspectionLevel, ...] = ()
    control_plan: ControlPlan | None = None
    ways_of_counting: tuple[StatedWay, ...] = ()
    unclear_words: tuple[StatedUnclearWord, ...] = ()
    written_forms: tuple[str, ...] = ()

    @property
    def is_released(self) -> bool:
        """Whether it is exactly what was released under its name and version."""
        return self.standing is Standing.RELEASED

    @property
    def remark(self) -> str:
        """What a report must say behind its name, if anything."""
        return f", {self.standing}" if self.standing is Standing.ALTERED else ""

    def __str__(self) -> str:
        return f"{self.name} {self.version}"

    def __repr__(self) -> str:
        return f"<Pack {self}>"


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
