"""Reading a pack folder into frozen data; every error in it is found before any is raised."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from checker.documents.document import Document
from checker.errors import PackError, Place, Problem
from checker.notation.counting import Counting, UnclearWord
from checker.packs.files import PackFiles, read_pack_files
from checker.packs.pack import (
    ALWAYS,
    BANDS,
    Amendment,
    Application,
    Basis,
    Characteristic,
    Constant,
    ControlPlan,
    Entry,
    InspectionLevel,
    Limit,
    Material,
    Means,
    NamedLayout,
    Origin,
    OtherLimits,
    Pack,
    Picture,
    Retirement,
    Rule,
    StatedUnclearWord,
    StatedWay,
    Stations,
    Table,
)

_SIDE_OF = {"at_least": "low", "at_most": "high", "one_of": "broken", "holds": "broken"}


def read_pack(folder: Path) -> Pack:
    """Read the pack in a folder; its cases/ folder is left alone.

    Raises PackError naming every problem of every file.
    """
    files = read_pack_files(folder)
    head = files.head.data
    pack = _Building(files, head["pack"], str(head["version"])).pack()
    _refuse_repeats(pack)
    return pack


def _milestones(stated: Sequence[str] | Mapping[str, str]) -> Mapping[str, str]:
    """The milestones by name, each with how people say it: "before the gears go on"."""
    return stated if isinstance(stated, Mapping) else {name: f"before {name}" for name in stated}


class _Building(NamedTuple):
    """The files of one pack on their way to a Pack."""

    files: PackFiles
    name: str
    version: str

    def pack(self) -> Pack:
        head = self.files.head
        data = head.data
        return Pack(
            name=self.name,
            version=self.version,
            title=data["title"],
            folder=self.files.folder,
            digest=self.files.digest,
            standing=self.files.standing,
            builds_on=data.get("builds_on", {}),
            applications=tuple(self.each("applications", _application)),
            milestones=_milestones(data.get("milestones", ())),
            cautions=tuple(data.get("cautions", ())),
            stations=tuple(self.each("stations", _stations)),
            layouts=tuple(self.each("layouts", _layout)),
            constants=tuple(self.each("constants", _constant)),
            tables=tuple(self.each("tables", _table)),
            characteristics=tuple(self.each("characteristics", _characteristic)),
            rules=tuple(self.each("rules", _rule)),
            pictures=tuple(self.each("pictures", _picture)),
            materials=tuple(self.each("materials", _material)),
            means=tuple(self.each("means", _means)),
            amendments=tuple(self.each("amends", _amendment)),
            retirements=tuple(self.each("retires", _retirement)),
            places=Places(head, (), data),
            decision=data.get("decision", ""),
            probability=data.get("probability"),
            inspection_levels=tuple(self.each("inspection_levels", _inspection_level)),
            control_plan=self.control_plan(),
            ways_of_counting=tuple(self.each("ways_of_counting", _way_of_counting)),
            unclear_words=tuple(self.each("unclear_words", _unclear_word)),
            written_forms=tuple(data.get("written_forms", ())),
        )

    def control_plan(self) -> ControlPlan | None:
        given = self.files.head.data.get("control_plan")
        if given is None:
            return None
        origin = self.origin(self.files.head, "control_plan")
        return ControlPlan(tuple(given.get("asks", ())), given.get("leaves_out", {}), origin)

    def origin(self, document: Document, *path: str | int) -> Origin:
        return Origin(self.name, self.version, document, path)

    def each(self, section: str, build: Any) -> Iterator[Any]:
        for document in self.files.documents:
            system = _system_of(document)
            for name, data in document.data.get(section, {}).items():
                yield build(_Section(self, document, system, (section, name), data))


class Places(Mapping[str, Place]):
    """The place of each key of one mapping in a document; of an inner one as "remedy low"."""

    def __init__(self, document: Document, path: tuple[str | int, ...], data: Mapping[str, Any]) -> None:
        self._document = document
        self._path = path
        self._data = data

    def __getitem__(self, key: str) -> Place:
        steps = key.split(" ")
        if not self._has(steps):
            raise KeyError(key)
        return self._document.place(*self._path, *steps)

    def __iter__(self) -> Iterator[str]:
        yield from self._data
        yield from (
            f"{key} {inner}" for key, value in self._data.items() if isinstance(value, Mapping) for inner in value
        )

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _has(self, steps: Sequence[str]) -> bool:
        value: Any = self._data
        for step in steps:
            if not isinstance(value, Mapping) or step not in value:
                return False
            value = value[step]
        return True


class _Section(NamedTuple):
    """One named thing in one file, with the way to it."""

    pack: _Building
    document: Document
    system: str
    path: tuple[str | int, ...]
    data: Any

    @property
    def name(self) -> str:
        return str(self.path[-1])

    @property
    def origin(self) -> Origin:
        return self.pack.origin(self.document, *self.path)

    def under(self, step: str | int) -> _Section:
        return _Section(self.pack, self.document, self.system, (*self.path, step), self.data[step])

    def written(self, *steps: str | int) -> str:
        return self.document.written(*self.path, *steps)

    @property
    def places(self) -> Places:
        """The place of every key of this mapping."""
        return Places(self.document, self.path, self.data)


def _system_of(document: Document) -> str:
    """The system that a file is about: the one it names, else its own name."""
    stem = document.source.rsplit("/", 1)[-1].removesuffix(".yaml")
    return str(document.data.get("system", stem.replace("_", " ").capitalize()))


def _application(section: _Section) -> Application:
    given = section.data
    return Application(section.name, given["title"], given.get("like"), section.origin, given.get("inspection"))


def _inspection_level(section: _Section) -> InspectionLevel:
    return InspectionLevel(section.name, section.data["title"], section.origin)


def _stations(section: _Section) -> Stations:
    given = section.data
    each = _numbers(given["each"]) if "each" in given else ()
    return Stations(section.name, given["title"], given.get("of"), section.origin, each, given.get("as_many_as"))


def _layout(section: _Section) -> NamedLayout:
    return NamedLayout(section.name, {name: _numbers(given) for name, given in section.data.items()}, section.origin)


def _numbers(given: Any) -> tuple[int, ...]:
    """Whole numbers, which may be written with a point."""
    return tuple(map(int, given if isinstance(given, list) else [given]))


def _material(section: _Section) -> Material:
    return Material(section.name, section.data["expansion"], section.origin)


def _means(section: _Section) -> Means:
    stated = section.data["usual_uncertainty"]
    steps = range(len(stated)) if isinstance(stated, list) else ()
    texts = tuple(section.written("usual_uncertainty", step) for step in steps)
    return Means(section.name, texts or (section.written("usual_uncertainty"),), section.origin)


def _constant(section: _Section) -> Constant:
    given = section.data
    return Constant(
        section.name, float(given["value"]), str(given.get("unit", "1")), _basis(given["basis"]), section.origin
    )


def _table(section: _Section) -> Table:
    given = section.data
    stepped = "stepped" in given
    rows = tuple((float(x), float(y)) for x, y in given["stepped" if stepped else "linear"])
    title = given.get("title", section.name.replace("_", " "))
    units = str(given["x"]["unit"]), str(given["y"]["unit"])
    return Table(section.name, title, *units, rows, stepped, given.get("up_to"), _basis(given["basis"]), section.origin)


def _characteristic(section: _Section) -> Characteristic:
    given = section.data
    plausible = given.get("plausible")
    return Characteristic(
        name=section.name,
        title=given["title"],
        origin=section.origin,
        per=given.get("per"),
        unit=given.get("unit"),
        choices=tuple(given.get("choices", ())),
        plausible=(section.written("plausible", 0), section.written("plausible", 1)) if plausible else None,
        derived=given.get("derived"),
        taken_directly=given.get("taken_directly", False),
        agrees_within=section.written("agrees_within") if "agrees_within" in given else "",
        usual_uncertainty=section.written("usual_uncertainty") if "usual_uncertainty" in given else "",
        how=given.get("how", ""),
        instrument=given.get("with", ""),
        follows=tuple(given.get("follows", ())),
        series=given.get("series", False),
        counted=given.get("counted", ""),
        system=section.system,
        places=section.places,
    )


def _way_of_counting(section: _Section) -> StatedWay:
    given = section.data
    plain = {key: given[key] for key in ("of", "counted_from", "unit", "whole_numbers", "minus_asks") if key in given}
    way = Counting(
        name=section.name,
        sign=-1 if given.get("sign") == "minus" else 1,
        words=tuple(given.get("words", ())),
        words_in_front=tuple(given.get("words_in_front", ())),
        names_it=given.get("names_it", False),
        gives_the_sign=given.get("gives_the_sign", False),
        forms=tuple(given.get("forms", ())),
        **plain,
    )
    return StatedWay(section.name, way, section.origin, section.places)


def _unclear_word(section: _Section) -> StatedUnclearWord:
    given = section.data
    nought = given.get("nought", {})
    word = UnclearWord(
        section.name,
        given["asks"],
        tuple(given["could_be"]),
        given.get("counted_from", ""),
        section.written("nought", "within") if nought else "",
        nought.get("because", ""),
    )
    return StatedUnclearWord(section.name, word, section.origin, section.places)


def _picture(section: _Section) -> Picture:
    given = section.data
    angles = {label: tuple(ends) if isinstance(ends, list) else (ends,) for label, ends in given["of"].items()}
    return Picture(
        name=section.name,
        title=given["title"],
        kind=given["kind"],
        system=section.system,
        angles=angles,
        marks=given.get("marks", {}),
        origin=section.origin,
        places=section.places,
    )


def _rule(section: _Section) -> Rule:
    given = section.data
    parts = {"basis": None} | _rule_parts(section) | {key: given[key] for key in ("title", "before", "judges")}
    return Rule(name=section.name, system=section.system, origin=section.origin, **parts)


def _rule_parts(section: _Section) -> dict[str, Any]:
    """The parts of a rule that an amendment may state too, by attribute of Rule."""
    given = section.data
    parts: dict[str, Any] = {key: given[key] for key in _PLAIN_PARTS if key in given}
    parts |= given.get("inspection", {})
    if parts.get("occasion") == ALWAYS:
        parts["occasion"] = None
    if "basis" in given:
        parts["basis"] = _basis(given["basis"])
    if "limits" in given:
        parts["entries"] = tuple(_entries(section.under("limits"), parts.get("basis")))
    if "remedy" in given:
        parts["remedies"] = given["remedy"]
    if "concession" in given:
        parts["concession_allowed"] = False
    if "alternatives" in given:
        parts["others"] = tuple(
            _alternative(section.under("alternatives").under(number)) for number in range(len(given["alternatives"]))
        )
    parts["places"] = section.places
    return parts


_PLAIN_PARTS = ("unit", "per_unit_of", "when", "unless", "not_for", "caution", "picture")


def _alternative(section: _Section) -> OtherLimits:
    basis = _basis(section.data["basis"]) if "basis" in section.data else None
    return OtherLimits(section.data["title"], tuple(_entries(section.under("limits"), basis)), basis)


def _amendment(section: _Section) -> Amendment:
    changes = _rule_parts(section)
    changes |= {key: section.data[key] for key in ("title", "before", "judges") if key in section.data}
    return Amendment(section.name, section.data["because"], changes, section.origin)


def _retirement(section: _Section) -> Retirement:
    return Retirement(section.name, section.data["because"], section.origin)


def _entries(section: _Section, basis: Basis | None) -> Iterator[Entry]:
    given = section.data
    steps: list[str | int] = list(given) if isinstance(given, Mapping) else list(range(len(given)))
    for step in steps:
        entry = section.under(step)
        data = entry.data
        application = data.get("application", step) if isinstance(step, int) else step
        entry_basis = _basis(data["basis"]) if "basis" in data else basis
        limits = tuple(
            limit for band in BANDS if band in data for limit in _limits(entry.under(band), band, entry_basis)
        )
        yield Entry(application, data.get("when"), limits, entry.origin, entry_basis)


def _limits(section: _Section, band: str, basis: Basis | None) -> Iterator[Limit]:
    for key, value in section.data.items():
        choices = tuple(value) if key == "one_of" else ()
        written = value if isinstance(value, str) else ", ".join(choices) or section.written(key)
        number = float(value) if isinstance(value, int | float) and key != "holds" else None
        origin = section.pack.origin(section.document, *section.path, key)
        yield Limit(band, _SIDE_OF[key], written, number, choices, origin, basis)


def _basis(given: Mapping[str, str]) -> Basis:
    return Basis(**given)


def _refuse_repeats(pack: Pack) -> None:
    problems = []
    for things in (
        pack.stations,
        pack.layouts,
        pack.constants,
        pack.tables,
        pack.characteristics,
        pack.rules,
        pack.pictures,
        pack.materials,
        pack.means,
    ):
        seen: dict[str, Origin] = {}
        for thing in things:
            if thing.name in seen:
                hint = f"first at {seen[thing.name].place.file}:{seen[thing.name].place.line}"
                problems.append(Problem(f"{thing.name!r} is stated twice", thing.origin.place, hint))
            seen[thing.name] = thing.origin
    if problems:
        raise PackError(problems)
