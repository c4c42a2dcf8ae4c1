"""Reading a pack folder into frozen data; every error in it is found before any is raised."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

from checker.documents.document import Document, Origin
from checker.documents.keys import Source
from checker.documents.structure import stated
from checker.errors import PackError, Problem
from checker.packs.files import read_pack_files
from checker.packs.pack import NAMED, Pack


def read_pack(folder: Path) -> Pack:
    """Read the pack in a folder; its cases/ folder is left alone.

    Raises PackError naming every problem of every file.
    """
    files = read_pack_files(folder)
    name, version = files.head.data["pack"], str(files.head.data["version"])
    values: dict[str, Any] = {}
    problems: list[Problem] = []
    for document in files.documents:
        for section, entries in keys_in(document, name, version, problems).items():
            values[section] = _joined(values[section], entries) if section in values else entries
    origin = Origin(files.head, (), name, version)
    pack = Pack(origin=origin, folder=files.folder, digest=files.digest, standing=files.standing, **values)
    problems.extend(_repeated(pack))
    if problems:
        raise PackError(problems)
    return pack


def keys_in(document: Document, pack: str, version: str, problems: list[Problem]) -> dict[str, Any]:
    """What one file of a pack states, by attribute of Pack; what is wrong is added to the problems."""
    source = Source(document, partial(Origin, document, pack=pack, version=version), problems)
    return stated(Pack, source, (), document.data, {"system": _system_of(document)})


def _system_of(document: Document) -> str:
    """The system that a file is about where it names none: its own name."""
    stem = document.source.rsplit("/", 1)[-1].removesuffix(".yaml")
    return stem.replace("_", " ").capitalize()


def _joined(one: Any, other: Any) -> Any:
    """What two files state of one section."""
    if isinstance(one, tuple):
        return (*one, *other)
    if isinstance(one, dict):
        return one | {name: _joined(one[name], value) if name in one else value for name, value in other.items()}
    return one


def _repeated(pack: Pack) -> Iterator[Problem]:
    for section in NAMED:
        seen: dict[str, Origin] = {}
        for thing in getattr(pack, section):
            if thing.name in seen:
                hint = f"first at {seen[thing.name].place.file}:{seen[thing.name].place.line}"
                yield Problem(f"{thing.name!r} is stated twice", thing.origin.place, hint)
            seen[thing.name] = thing.origin
