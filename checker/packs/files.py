"""The files of a pack folder: found, read and held to the schema."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

from checker.documents.document import Document, digest_of, known_document, parse_yaml, read_bytes
from checker.documents.keys import keys_of
from checker.documents.printable import printable
from checker.documents.schemas import problems as schema_problems
from checker.documents.write import one_line
from checker.errors import CheckerError, PackError, Place, Problem
from checker.packs.contents import CONTENTS
from checker.packs.pack import HEAD, HEAD_KEYS, Pack
from checker.packs.released import Release, Releases, Standing, release_of, releases, standing
from checker.packs.versions import is_range, is_version

MOST_FILES = 200
_NAMED = "small letters, digits, - and _, then .yaml, as in policy.yaml"
CASES, DRAFTS = "cases", "drafts"
"""The folder of a pack whose files hold cases alone, and what stands in them of cases that nobody has accepted yet."""
_YAML = (".yaml", ".yml")
_FILE_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,63}\.yaml")
DEVICE_NAMES = frozenset({"con", "prn", "aux", "nul"} | {f"{kind}{n}" for kind in ("com", "lpt") for n in range(1, 10)})
"""Names that Windows keeps for devices: no folder can be called so there, and a pack is called as its folder is."""


class PackFiles(NamedTuple):
    """The documents of one pack; `digest` is that of all of them, `standing` how it compares with what was released."""

    folder: Path
    head: Document
    documents: tuple[Document, ...]
    digest: str
    standing: Standing


def read_pack_files(folder: Path) -> PackFiles:
    """Read every file of a pack but its cases; raises PackError naming every problem of every file.

    What was checked when it was released is not checked again.
    """
    problems: list[Problem] = []
    files = dict(_read(folder, problems))
    digests = {name: digest_of(raw) for name, raw in files.items()}
    digest = digest_of("".join(f"{name} {each}\n" for name, each in sorted(digests.items())).encode())
    released = release_of(digest, _shipped_releases())
    documents = _from_contents(folder, digests, released) if released else {}
    documents = documents or dict(_parsed(folder, files, problems))
    head = documents.get(HEAD)
    data = head.data if head and isinstance(head.data, dict) else {}
    release = standing(str(data.get("pack")), str(data.get("version")), digest, _shipped_releases())
    if problems or release is not Standing.RELEASED:
        for name, document in documents.items():
            problems.extend(document_problems(document, is_head=name == HEAD))
    if problems or head is None:
        raise PackError(problems)
    return PackFiles(folder, head, tuple(documents.values()), digest, release)


def parsed_files(folder: Path) -> Mapping[str, Document]:
    """The files of a sound pack by name, as their YAML reads, whatever was released."""
    problems: list[Problem] = []
    documents = dict(_parsed(folder, dict(_read(folder, problems)), problems))
    if problems:
        raise PackError(problems)
    return documents


def case_files(folder: Path) -> list[Path]:
    """The files with cases of a pack; raises PackError where one has the name of another kind."""
    paths = sorted(path for path in (folder / CASES).glob("*") if path.suffix.lower() in _YAML)
    strange = [shown_path(folder, f"{CASES}/{path.name}") for path in paths if path.suffix != _YAML[0]]
    if strange:
        raise PackError([Problem("this is not read", Place(name), "let its name end in .yaml") for name in strange])
    return paths


def unread_files(folder: Path) -> Iterator[Path]:
    """Files in folders below a pack's that would be some of its own if they stood where those are read."""
    for parent, folders, names in os.walk(folder):
        here = Path(parent)
        folders[:] = sorted(name for name in folders if name[0] != "." and not (here / name / HEAD).exists())
        for path in (here / name for name in sorted(names) if here not in (folder, folder / CASES)):
            if path.suffix.lower() in _YAML and _is_of_pack(path):
                yield path


def _is_of_pack(path: Path) -> bool:
    try:
        return not document_problems(parse_yaml(read_bytes(path), str(path)), is_head=False)
    except CheckerError:
        return False


def document_problems(document: Document, is_head: bool) -> Sequence[Problem]:
    """What is wrong with one file of a pack, looked at by itself."""
    faults = schema_problems(document, "pack")
    return faults or [*_head_problems(document, is_head), *_table_problems(document)]


@cache
def _shipped_releases() -> Releases:
    return releases()


def _paths(folder: Path) -> list[Path]:
    if not (folder / HEAD).is_file():
        raise PackError(Problem(f"no rule pack in {folder.name!r}: it has no {HEAD}"))
    paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in _YAML)
    problems = [
        Problem(f"{path.name!r} is not a usable file name in a pack", hint=_NAMED)
        for path in paths
        if not _FILE_NAME.fullmatch(path.name) or path.is_symlink()
    ]
    if len(paths) > MOST_FILES:
        problems.append(Problem(f"{len(paths)} files in a pack; at most {MOST_FILES} are read"))
    if problems:
        raise PackError(problems)
    return paths


def _read(folder: Path, problems: list[Problem]) -> Iterator[tuple[str, bytes]]:
    for path in _paths(folder):
        try:
            yield path.name, read_bytes(path, shown_path(folder, path.name))
        except CheckerError as error:
            problems.extend(error.problems)


def _parsed(folder: Path, files: Mapping[str, bytes], problems: list[Problem]) -> Iterator[tuple[str, Document]]:
    from checker.documents.each_of import written_out  # of released packs it is known already

    for name, raw in files.items():
        try:
            yield name, written_out(parse_yaml(raw, shown_path(folder, name)))
        except CheckerError as error:
            problems.extend(error.problems)


def _from_contents(folder: Path, digests: Mapping[str, str], released: Release) -> dict[str, Document]:
    """The documents of files with these digests; nothing where the contents are not those that were released."""
    try:
        contents = read_bytes(folder / CONTENTS)
    except CheckerError:
        return {}
    if digest_of(contents) != released.contents:
        return {}
    known = json.loads(contents)
    return {name: known_document(shown_path(folder, name), digest, known[name]) for name, digest in digests.items()}


def shown_path(folder: Path, name: str) -> str:
    """A file of a pack as messages name it: as its folder was given, of a whole path the last part only.

    So that a report says the same on every machine.
    """
    return printable((Path(folder.name if folder.is_absolute() else folder) / name).as_posix())


def _head_problems(document: Document, is_head: bool) -> Iterator[Problem]:
    if is_head:
        keys = keys_of(Pack)
        for key in HEAD_KEYS:
            if keys[key].is_required and key not in document.data:
                hint = f"as in {key}: {one_line(keys[key].key.example)}"
                yield Problem(f"{key!r} is missing", document.place(), hint)
        name = document.data.get("pack")
        if hint := device_hint(name):
            yield Problem(f"a pack cannot be called {name!r}", document.place("pack"), hint)
        version = str(document.data.get("version", "0"))
        if not is_version(version):
            yield Problem(f"{version!r} is not a version number such as 1.0.0", document.place("version"))
        for name, allowed in document.data.get("builds_on", {}).items():
            if not is_range(allowed):
                yield Problem(f"{allowed!r} is not a version range such as '>=1,<2'", document.place("builds_on", name))
        return
    for key in HEAD_KEYS:
        if key in document.data:
            yield Problem(f"{key!r} belongs in {HEAD}", document.place(key))


def device_hint(name: object) -> str:
    """What to call a pack instead, where Windows keeps its name for a device."""
    return f"Windows keeps this name for a device; as in {name}-policy" if name in DEVICE_NAMES else ""


def _table_problems(document: Document) -> Iterator[Problem]:
    for name, given in document.data.get("tables", {}).items():
        place = document.place("tables", name)
        if ("stepped" in given) == ("linear" in given):
            yield Problem("a table is either stepped or linear", place)
