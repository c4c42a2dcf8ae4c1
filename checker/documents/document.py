"""Reads YAML and JSON files strictly: one meaning or none, and every value keeps its place.

What is read: one file at most MOST_BYTES long, UTF-8, printable. The same bytes are parsed and hashed.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from checker.documents.printable import printable
from checker.documents.tree import (
    Findings,
    KeyPath,
    Position,
    Tree,
    character_name,
    dotted,
    first_forbidden,
    first_forbidden_in_lines,
)
from checker.documents.yaml_events import read_yaml
from checker.errors import InputError, Place, Problem, nearest
from checker.frozen import frozen

MOST_BYTES = 2_000_000

_OPEN_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)  # a pipe must not hang the open
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class Document:
    """The data of one file, with the place of each value and how it was written; the same where the bytes are."""

    data: Any = field(repr=False, compare=False)
    source: str
    digest: str
    _positions: Mapping[KeyPath, Position] = field(repr=False, compare=False)
    _texts: Mapping[KeyPath, str] = field(repr=False, compare=False)
    _cells: Mapping[KeyPath, str] = field(default_factory=dict, repr=False, compare=False)

    def place(self, *path: str | int) -> Place:
        """Where the value at this path stands, or else what encloses it; an entry stands at its key."""
        known = path
        while known not in self._positions:
            known = known[:-1]
        return Place(self.source, *self._positions[known], dotted(path), self._cells.get(known, ""))

    def written(self, *path: str | int) -> str:
        """The scalar at this path as it was written, without quotes; raises KeyError where there is none."""
        if path in self._texts:
            return self._texts[path]
        value = self.data
        for step in path:
            value = value[step]
        if not isinstance(value, str):
            raise KeyError(path)
        return value

    def rewritten(self, data: Any, came_from: Mapping[KeyPath, KeyPath]) -> Document:
        """The same file with other data, of each path of which is told where in the file it was written."""
        positions = {path: self._positions[source] for path, source in came_from.items()}
        texts = {path: self._texts[source] for path, source in came_from.items() if source in self._texts}
        return Document(frozen(data), self.source, self.digest, positions, texts)


class Origin(NamedTuple):
    """Where something is stated: a path in a document, and the pack and version that state it, where one does."""

    document: Document
    path: KeyPath
    pack: str = ""
    version: str = ""

    @property
    def place(self) -> Place:
        """Where it stands; asked for only in messages and reports, which is far more seldom than it is stated."""
        return self.document.place(*self.path)

    def at(self, *steps: str | int) -> Place:
        """Where something in it stands, or else what encloses that."""
        return self.document.place(*self.path, *steps)

    def __str__(self) -> str:
        return f"{self.pack} {self.version}, {self.place.file}:{self.place.line}"


def read_document(path: Path, shown_as: str | None = None) -> Document:
    """Reads a .yaml, .yml or .json file."""
    source = shown_as or str(path)
    parse = PARSERS.get(path.suffix.lower())
    if parse is None:
        place = Place(printable(source))
        raise InputError(Problem("not a kind of file that is read", place, "name it .yaml, .yml or .json"))
    return parse(read_bytes(path, shown_as), printable(source))


def read_bytes(path: Path, shown_as: str | None = None, most: int = MOST_BYTES) -> bytes:
    """The bytes of a regular file, and one more than `most` of a longer one."""
    try:
        return _read_regular(path, most)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        near = _file_nearby(path) if isinstance(error, FileNotFoundError) else ""
        raise InputError(Problem(f"cannot be read: {reason}", Place(printable(shown_as or str(path))), near)) from None


def _file_nearby(path: Path) -> str:
    """The file whose name is nearest to that of one that is not there."""
    try:
        return printable(nearest(path.name, [each.name for each in path.parent.iterdir() if each.is_file()]))
    except OSError:
        return ""


def read_text(path: Path) -> str:
    """The text of a file: UTF-8 and nothing in it that cannot be seen; raises InputError where it is anything else."""
    return decode(read_bytes(path), Findings(printable(str(path))))


def digest_of(raw: bytes) -> str:
    """SHA-256 of the bytes of a file."""
    return hashlib.sha256(raw).hexdigest()


def parse_yaml(raw: bytes, source: str) -> Document:
    """Reads the bytes of a YAML file."""
    return _parse(raw, source, read_yaml)


def parse_json(raw: bytes, source: str) -> Document:
    """Reads the bytes of a JSON file."""
    from checker.documents.json_text import read_json  # few files are JSON

    return _parse(raw, source, read_json)


def known_document(source: str, digest: str, known: Mapping[str, Any]) -> Document:
    """The document of a file whose content, as `content_of` gives it, is known without parsing."""
    data = frozen(known["data"])
    not_texts = {tuple(path): text for path, text in known["not_texts"]}
    return Document(data, source, digest, _Positions(data, known["positions"]), not_texts)


def content_of(document: Document) -> dict[str, Any]:
    """All there is to know of a document: its data, how its scalars were written that are no texts, and positions.

    The positions, line:column, are in reading order, which is also that of the data.
    """
    positions = " ".join(
        f"{line}:{column}" for line, column in map(document._positions.__getitem__, _paths(document.data))
    )
    return {"data": document.data, "not_texts": list(document._texts.items()), "positions": positions}


PARSERS = {".yaml": parse_yaml, ".yml": parse_yaml, ".json": parse_json}
"""What reads a file, by the suffix of its name."""


class _Positions(Mapping[KeyPath, Position]):
    """Where the values of known data stand; sorted out when first asked for, which is in messages and reports."""

    def __init__(self, data: Any, in_order: str) -> None:
        self._data = data
        self._in_order = in_order

    @cached_property
    def _by_path(self) -> Mapping[KeyPath, Position]:
        positions = (position.split(":") for position in self._in_order.split())
        return {
            path: (int(line), int(column)) for path, (line, column) in zip(_paths(self._data), positions, strict=True)
        }

    def __getitem__(self, path: KeyPath) -> Position:
        return self._by_path[path]

    def __iter__(self) -> Iterator[KeyPath]:
        return iter(self._by_path)

    def __len__(self) -> int:
        return len(self._by_path)


def _paths(data: Any) -> list[KeyPath]:
    """The path of plain data and of everything in it, in reading order."""
    paths: list[KeyPath] = []

    def add(data: Any, path: KeyPath) -> None:
        paths.append(path)
        if isinstance(data, dict | list):
            for step, inner in data.items() if isinstance(data, dict) else enumerate(data):
                add(inner, (*path, step))

    add(data, ())
    return paths


def _parse(raw: bytes, source: str, read: Callable[[str, Tree], None]) -> Document:
    findings = Findings(source)
    text = decode(raw, findings)
    tree = Tree(findings)
    read(text, tree)
    findings.settle()
    if tree.data is None:
        findings.stop("the file holds no data", (1, 1))
    return Document(frozen(tree.data), source, digest_of(raw), tree.positions, tree.texts)


def decode(raw: bytes, findings: Findings) -> str:
    """The text of a file, when it is UTF-8 and holds nothing that cannot be seen."""
    if len(raw) > MOST_BYTES:
        findings.stop(f"more than {MOST_BYTES} bytes", (1, 1))
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        kind = "UTF-16" if raw.startswith(_UTF16_MARKS) else "not UTF-8"
        findings.stop(f"the file is {kind}", (line, 1), (), "save it as UTF-8")
    if first_forbidden_in_lines(text) is None:
        return text
    for number, line_text in enumerate(text.split("\n"), 1):
        index = first_forbidden(line_text.removesuffix("\r").replace("\t", " "))
        if index is not None:
            name = character_name(line_text[index])
            findings.add(f"the character {name} may not stand in the file", (number, index + 1))
    findings.settle()
    return text


def _read_regular(path: Path, most: int) -> bytes:
    descriptor = os.open(path, _OPEN_FLAGS)
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise OSError(0, "not a regular file")
    with os.fdopen(descriptor, "rb") as file:
        return file.read(most + 1)
