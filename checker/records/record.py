"""A record of measurements as written: its structure is checked, its words are not yet understood."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

from checker.documents.document import Document, parse_json, parse_yaml, read_document
from checker.documents.printable import printable
from checker.documents.schemas import problems as schema_problems
from checker.errors import InputError, Place, Problem, require
from checker.frozen import FrozenMapping
from checker.packs.versions import is_range
from checker.records.notes import FACTS, Note, notes_in


class Record(NamedTuple):
    """What was built and what was written down about it; `earlier` is what has been measured anew since.

    Empty are the application that nobody named, and a milestone (`before`) or an inspection level as None; `rule_packs`
    gives names of packs their version ranges. `read_by` is the suffix of a file that a plugin's reader read.
    """

    document: Document
    assembly: str
    application: str
    before: str | None
    inspection: str | None
    rule_packs: Mapping[str, str]
    notes: tuple[Note, ...]
    earlier: tuple[Note, ...] = ()
    read_by: str = ""

    @property
    def digest(self) -> str:
        """SHA-256 of the file."""
        return self.document.digest

    @property
    def source(self) -> str:
        """The file as it was named."""
        return self.document.source

    def __repr__(self) -> str:
        return f"<Record {self.source}>"

    def section(self, name: str) -> Any:
        """A section of the file as plain data; empty when absent."""
        return self.document.data.get(name, {})

    def as_it_was(self) -> Record:
        """The record with its earlier readings in the place of those that count now, before any part was changed."""
        since = ("parts", "part_limits", "concessions", "seen")
        data = {key: value for key, value in self.document.data.items() if key not in since}
        return self._replace(document=replace(self.document, data=FrozenMapping(data)), notes=self.earlier, earlier=())


RecordReader: TypeAlias = Callable[[Path], Record]


def read_record(path: str | Path, readers: Mapping[str, RecordReader] | None = None) -> Record:
    """Read a record file: YAML or JSON, or another kind with the readers of plugins, by the suffix of its name.

    Raises InputError naming every problem found in its structure.
    """
    file = Path(path)
    if readers is None:
        return record_from(read_document(file))
    reader = readers.get(file.suffix.lower())
    if reader is None:
        place = Place(printable(str(file)))
        raise InputError(Problem("not a kind of file that is read", place, f"known kinds: {', '.join(readers)}"))
    return reader(file)


def record_from_text(text: str | bytes, source: str = "record.yaml") -> Record:
    """The record in a text: YAML, or JSON where the name of its source ends in .json.

    Raises InputError naming every problem found in its structure, TypeError for what is no text.
    """
    require(text, 'data goes by way of text, as in record_from_text(json.dumps(data), "record.json")', str, bytes)
    raw = text.encode(errors="surrogatepass") if isinstance(text, str) else text
    parse = parse_json if source.lower().endswith(".json") else parse_yaml
    return record_from(parse(raw, printable(source)))


def record_from(document: Document) -> Record:
    """The record in a document that was read elsewhere; a section that is still empty counts as absent."""
    problems = schema_problems(document, "record")
    if problems:
        raise InputError(problems)
    data = FrozenMapping({key: given for key, given in document.data.items() if given is not None})
    document = replace(document, data=data)
    rule_packs = data.get("rule_packs", FrozenMapping())
    for name, allowed in rule_packs.items():
        if not is_range(allowed):
            problems.append(Problem("not a version range such as '>=1,<2'", document.place("rule_packs", name)))
    facts, readings, earlier = (
        tuple(notes_in(document, section, problems)) for section in (FACTS, "readings", "earlier")
    )
    for note in _in_both(facts, readings):
        problems.append(Problem(f"{note.characteristic} stands under facts too", note.place))
    if problems:
        raise InputError(problems)
    return Record(
        document=document,
        assembly=data["assembly"],
        application=data["application"],
        before=data.get("before"),
        inspection=data.get("inspection"),
        rule_packs=rule_packs,
        notes=_dated((*facts, *readings), data.get("taken")),
        earlier=earlier,
    )


def bare_record(document: Document, assembly: str) -> Record:
    """Readings alone, as a gauge writes them: the use and the rule packs are named by whoever judges them."""
    problems: list[Problem] = []
    notes = tuple(notes_in(document, "readings", problems))
    if problems:
        raise InputError(problems)
    return Record(document, assembly, "", None, None, FrozenMapping(), notes)


def _in_both(facts: Iterable[Note], readings: Iterable[Note]) -> list[Note]:
    known = {note.characteristic for note in facts}
    return list({note.characteristic: note for note in readings if note.characteristic in known}.values())


def _dated(notes: tuple[Note, ...], taken: str | None) -> tuple[Note, ...]:
    """Notes with the day of the whole record, where they state none of their own."""
    if taken is None:
        return notes
    return tuple(note._replace(circumstances=FrozenMapping({"taken": taken, **note.circumstances})) for note in notes)
