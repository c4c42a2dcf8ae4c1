"""Reads YAML and JSON files strictly: one meaning or none, and every value keeps its place.

What is read: one file at most MOST_BYTES long, UTF-8, printable. The same bytes are parsed and hashed.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

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
from checker.errors import InputError, Place, Problem

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
        """The scalar at this path as it was written, without quotes."""
        return self._texts[path]


def read_document(path: Path, shown_as: str | None = None) -> Document:
    """Reads a .yaml, .yml or .json file."""
    source = shown_as or str(path)
    parse = _PARSERS.get(path.suffix.lower())
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
        raise InputError(Problem(f"cannot be read: {reason}", Place(printable(shown_as or str(path))))) from None


def parse_yaml(raw: bytes, source: str) -> Document:
    """Reads the bytes of a YAML file."""
    return _parse(raw, source, read_yaml)


def parse_json(raw: bytes, source: str) -> Document:
    """Reads the bytes of a JSON file."""
    from checker.documents.json_text import read_json  # few files are JSON

    return _parse(raw, source, read_json)


_PARSERS = {".yaml": parse_yaml, ".yml": parse_yaml, ".json": parse_json}


def _parse(raw: bytes, source: str, read: Callable[[str, Tree], None]) -> Document:
    findings = Findings(source)
    text = decode(raw, findings)
    tree = Tree(findings)
    read(text, tree)
    findings.settle()
    if tree.data is None:
        findings.stop("the file holds no data", (1, 1))
    return Document(tree.data, source, hashlib.sha256(raw).hexdigest(), tree.positions, tree.texts)


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
