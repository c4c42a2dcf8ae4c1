"""Reading a pack folder into frozen data; every error in it is found before any is raised."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from checker.document import Document, read_document
from checker.errors import CheckerError, PackError, Place, Problem
from checker.pack import (
    ANY,
    BANDS,
    Amendment,
    Application,
    Basis,
    Characteristic,
    Constant,
    Entry,
    Limit,
    Origin,
    OtherLimits,
    Pack,
    Retirement,
    Rule,
    Stations,
    Table,
)
from checker.schemas import problems as schema_problems
from checker.versions import is_range, is_version

HEAD = "pack.yaml"
HEAD_KEYS = ("pack", "version", "rule_language", "title", "builds_on", "applications", "milestones", "cautions")
REQUIRED_HEAD_KEYS = ("pack", "version", "rule_language", "title")
MOST_FILES = 200
_FILE_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,63}\.yaml")
_DEVICE_NAMES = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{kind}{n}" for kind in ("com", "lpt") for n in range(1, 10)}
)
_SIDE_OF = {"at_least": "low", "at_most": "high", "one_of": "broken", "holds": "broken"}


def read_pack(folder: Path) -> Pack:
    """Read the pack in a folder; its cases/ folder is left alone.

    Raises PackError naming every problem of every file.
    """
    head, files = _documents(folder)
    return _PackFiles(folder, head, files).pack()


def _documents(folder: Path) -> tuple[Document, list[Document]]:
    if not (folder / HEAD).is_file():
        raise PackError(Problem(f"no rule pack in {folder.name!r}: it has no {HEAD}"))
    paths = sorted(path for path in folder.iterdir() if path.suffix == ".yaml")
    problems = [
        Problem(f"{path.name!r} is not a usable file name in a pack")
        for path in paths
        if not _FILE_NAME.fullmatch(path.name) or path.is_symlink()
    ]
    if len(paths) > MOST_FILES:
        problems.append(Problem(f"{len(paths)} files in a pack; at most {MOST_FILES} are read"))
    documents = [] if problems else list(_read_all(paths, folder, problems))
    if problems:
        raise PackError(problems)
    heads = [document for path, document in zip(paths, documents, strict=True) if path.name == HEAD]
    return heads[0], documents


def _read_all(paths: list[Path], folder: Path, problems: list[Problem]) -> Iterator[Document]:
    for path in paths:
        try:
            document = read_document(path, shown_as=f"{folder.name}/{path.name}")
        except CheckerError as error:
            problems.extend(error.problems)
            continue
        found = schema_problems(document, "pack")
        problems.extend(found or [*_head_problems(document, path.name == HEAD), *_table_problems(document)])
        yield document


def _head_problems(document: Document, is_head: bool) -> Iterator[Problem]:
    if is_head:
        for key in REQUIRED_HEAD_KEYS:
            if key not in document.data:
                yield Problem(f"{key!r} is missing", document.place())
        if document.data.get("pack") in _DEVICE_NAMES:
            yield Problem("this name cannot be used for a pack", document.place("pack"))
        if not is_version(str(document.data.get("version", "0"))):
            yield Problem("not a version number such as 1.0.0", document.place("version"))
        for name, allowed in document.data.get("builds_on", {}).items():
            if not is_range(allowed):
                yield Problem("not a version range such as '>=1,<2'", document.place("builds_on", name))
        return
    for key in HEAD_KEYS:
        if key in document.data:
            yield Problem(f"{key!r} belongs in {HEAD}", document.place(key))


def _table_problems(document: Document) -> Iterator[Problem]:
    for name, given in document.data.get("tables", {}).items():
        place = document.place("tables", name)
        rows = given.get("stepped", given.get("linear", ()))
        if ("stepped" in given) == ("linear" in given):
            yield Problem("a table is either stepped or linear", place)
        if any(after[0] <= before[0] for before, after in pairwise(rows)):
            yield Problem("the rows of a table must rise in x", place)
        if "stepped" in given and given.get("up_to", float("-inf")) < rows[-1][0]:
            yield Problem("a stepped table says up_to where its last step ends", place)


@dataclass(frozen=True, slots=True)
class _PackFiles:
    """The files of one pack, schema-checked, on their way to a Pack."""

    folder: Path
    head: Document
    files: list[Document]

    def pack(self) -> Pack:
        data = self.head.data
        digest = hashlib.sha256("".join(sorted(document.digest for document in self.files)).encode()).hexdigest()
        pack = Pack(
            name=data["pack"],
            version=str(data["version"]),
            title=data["title"],
            folder=self.folder,
            digest=digest,
            builds_on=data.get("builds_on", {}),
            applications=tuple(
                Application(name, given["title"], given.get("like"), self.origin(self.head, "applications", name))
                for name, given in data.get("applications", {}).items()
            ),
            milestones=tuple(data.get("milestones", ())),
            cautions=tuple(data.get("cautions", ())),
            stations=tuple(self.each("stations", _stations)),
            constants=tuple(self.each("constants", _constant)),
            tables=tuple(self.each("tables", _table)),
            characteristics=tuple(self.each("characteristics", _characteristic)),
            rules=tuple(self.each("rules", _rule)),
            amendments=tuple(self.each("amends", _amendment)),
            retirements=tuple(self.each("retires", _retirement)),
        )
        _refuse_repeats(pack)
        return pack

    def origin(self, document: Document, *path: str | int) -> Origin:
        return Origin(self.head.data["pack"], str(self.head.data["version"]), document.place(*path))

    def each(self, section: str, build: Any) -> Iterator[Any]:
        for document in self.files:
            for name in document.data.get(section, {}):
                yield build(_Section(self, document, (section, name)))


@dataclass(frozen=True, slots=True)
class _Section:
    """One named thing in one file, with the way to it."""

    pack: _PackFiles
    document: Document
    path: tuple[str | int, ...]

    @property
    def data(self) -> Any:
        value = self.document.data
        for step in self.path:
            value = value[step]
        return value

    @property
    def name(self) -> str:
        return str(self.path[-1])

    @property
    def origin(self) -> Origin:
        return self.pack.origin(self.document, *self.path)

    def under(self, *steps: str | int) -> _Section:
        return replace(self, path=self.path + steps)

    def written(self, *steps: str | int) -> str:
        return self.document.written(*self.path, *steps)

    @property
    def places(self) -> dict[str, Place]:
        """The place of every key of this mapping, and of every remedy."""
        found = {key: self.document.place(*self.path, key) for key in self.data}
        for side in self.data.get("remedy", {}):
            found[f"remedy {side}"] = self.document.place(*self.path, "remedy", side)
        return found

    @property
    def system(self) -> str:
        stem = self.document.source.rsplit("/", 1)[-1].removesuffix(".yaml")
        return str(self.document.data.get("system", stem.replace("_", " ").capitalize()))


def _stations(section: _Section) -> Stations:
    return Stations(section.name, section.data["title"], section.data.get("of"), section.origin)


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
        how=given.get("how", ""),
        instrument=given.get("with", ""),
        follows=tuple(given.get("follows", ())),
        series=given.get("series", False),
        system=section.system,
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
            _alternative(section.under("alternatives", number)) for number in range(len(given["alternatives"]))
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
        written = ", ".join(choices) if choices else section.written(key)
        number = float(value) if isinstance(value, int | float) and key != "holds" else None
        origin = section.under(key).origin
        yield Limit(band, _SIDE_OF[key], written, number, choices, origin, basis)


def _basis(given: Mapping[str, str]) -> Basis:
    return Basis(**given)


def _refuse_repeats(pack: Pack) -> None:
    problems = []
    for things in (pack.stations, pack.constants, pack.tables, pack.characteristics, pack.rules):
        seen: dict[str, Origin] = {}
        for thing in things:
            if thing.name in seen:
                hint = f"first at {seen[thing.name].place.file}:{seen[thing.name].place.line}"
                problems.append(Problem(f"{thing.name!r} is stated twice", thing.origin.place, hint))
            seen[thing.name] = thing.origin
        if ANY in seen:
            problems.append(Problem("'any' stands for every application", seen[ANY].place))
    if problems:
        raise PackError(problems)
