"""A record of measurements as written: its structure is checked, its words are not yet understood.

Annotations are read (documents/keys.py), so none may be put off.
"""

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Annotated, Any, NamedTuple, TypeAlias, TypedDict

from checker.documents.document import PARSERS, Document, Origin, digest_of, parse_json, parse_yaml, read_document
from checker.documents.key_forms import (
    NOTHING,
    WITH_HYPHENS,
    WITH_UNDERSCORES,
    Day,
    DecisionName,
    Name,
    Probability,
    Text,
)
from checker.documents.keys import Around, ByName, Form, Key, OneOrMore, Source
from checker.documents.printable import printable
from checker.documents.schemas import problems as schema_problems
from checker.documents.structure import stated
from checker.documents.tree import KeyPath
from checker.errors import InputError, Place, Problem, nearest, nearest_name, require
from checker.frozen import FrozenMapping
from checker.packs.sheet_limits import SheetLimits
from checker.packs.versions import is_range
from checker.records.notes import ASSEMBLY, FACTS, SECTIONS, Note, Notes, earlier_notes_in
from checker.records.plain_data import document_of
from checker.records.reading_keys import ALL
from checker.records.sections import (
    FittedPart,
    GivenConcession,
    ListedInstrument,
    SeenByEye,
    StationCount,
    Temperatures,
)

_UNDERSTOOD_BY = frozenset({"record", "rule_packs", "units", "layout", "stations", "instruments"})
"""The keys by which what stands under others is understood."""
_ANY_INSTRUMENT = FrozenMapping({"expanded_uncertainty": "1 %"})
"""Stands for one whose entry is at fault: it suits whatever was measured with it."""

_MAY_BE_EMPTY = Form({"type": ["object", "null"], "minProperties": 0})
"""A section whose heading is there and whose content is still to come."""


def _ranges(source: Source, path: KeyPath, stated: Any, _around: Around) -> Mapping[str, str]:
    for name, allowed in stated.items():
        if not is_range(allowed):
            message = f"{allowed!r} is not a version range such as '>=1,<2'"
            source.problems.append(Problem(message, source.document.place(*path, name)))
    return FrozenMapping(stated)


class Details(TypedDict, total=False):
    """What is told beside a value: with what it was measured, when and by whom, a note, how warm the part was."""

    instrument: str | None
    taken: str | date | None
    by: str | None
    note: str | None
    temperature: Any


class Record(NamedTuple):
    """What was built and what was measured on it.

    `earlier` is what has been measured anew since. Empty is the application that nobody named. `read_by` is the suffix
    of a file that a plugin's reader read.
    """

    document: Document
    form: Annotated[int, Key("Version of this form.", 1, written="record"), Form({"type": "integer", "enum": [1]})]
    assembly: Annotated[Text, Key("Name of the assembly.", "Training train 3")]
    application: Annotated[Name, Key("The use it is judged for.", "general")]
    shop: Annotated[Text, Key("Who builds it, as the hand-over names them.", "Train works")] = ""
    serial_number: Annotated[Text, Key("The number stamped on it.", "TT-0003")] = ""
    inspection: Annotated[
        Name | None, Key("The inspection level it is judged at, when not that of its application.", "usual")
    ] = None
    scope: Annotated[
        tuple[Text, ...],
        OneOrMore(),
        Key(
            "The systems that the job is about, where it is about a part of the assembly: nothing else is asked.",
            "gears",
        ),
    ] = ()
    before: Annotated[
        Name | None, Key("The milestone the build is about to pass; later rules are not yet due.", "gears-on")
    ] = None
    taken: Annotated[
        Day, Key("When the readings were taken, where it is not stated with them.", "2026-05-02", inherited=True)
    ] = ""
    rule_packs: Annotated[
        Mapping[Name, Text],
        Key("Rule packs with version ranges as PEP 440 writes them.", {"gear-train": ">=1,<2"}),
        Form({}, _ranges),
    ] = NOTHING
    decision: Annotated[
        DecisionName,
        Key(
            "How a reading near its limit is decided: at face value, guarded by its uncertainty (ISO 14253-1) where "
            "that is known or everywhere, or by probability of conformity (JCGM 106).",
            "guarded",
        ),
    ] = ""
    probability: Annotated[
        Probability | None, Key("Least probability of conformity, with decision: probability.", 0.95)
    ] = None
    remarks: Annotated[
        tuple[Text, ...],
        OneOrMore(),
        Key("Remarks.", "second build of this case", written="notes"),
        Form({"pattern": r"^[\s\S]*$", "minItems": 0}),
    ] = ()
    units: Annotated[
        Mapping[Annotated[str, Form({"pattern": "^[a-z][a-z ]{0,39}$"})], Text],
        Key("Unit of bare numbers, by kind of quantity.", {"length": "in", "torque": "lb-ft", "volume": "cc"}),
        Form({"minProperties": 0}),
    ] = NOTHING
    layout: Annotated[
        str,
        Key("The layout of the rule packs that says how many stations there are.", "two shafts"),
        Form({"type": "string", "minLength": 1, "maxLength": 64}),
    ] = ""
    stations: Annotated[
        tuple[StationCount, ...],
        ByName(WITH_HYPHENS),
        Key("How many stations of each kind.", {"shaft": 2, "gear": 4}),
        _MAY_BE_EMPTY,
    ] = ()
    instruments: Annotated[
        tuple[ListedInstrument, ...],
        ByName(WITH_HYPHENS),
        Key("Instruments and how far each can be trusted.", {"micrometer": {"expanded_uncertainty": "0.005 mm"}}),
        _MAY_BE_EMPTY,
    ] = ()
    facts: Annotated[Notes, Key("What is known of the parts without measuring.", {"key_material": "steel"})] = ()
    parts: Annotated[
        tuple[FittedPart, ...],
        ByName({}),
        Key(
            "Parts with the date each was fitted or last changed.",
            {"wheel": {"fitted": "2026-05-02", "bears_on": ["backlash"]}},
        ),
        Form({"minProperties": 0, "maxProperties": 200}),
    ] = ()
    part_limits: Annotated[
        tuple[SheetLimits, ...],
        ByName(WITH_UNDERSCORES),
        Key(
            "What the part maker's own sheet asks for: it counts in place of what the packs ask for, physics excepted.",
            {"backlash": {"at_least": "0.06 mm", "source": "wheel maker's sheet"}},
        ),
        Form({"minProperties": 0}),
    ] = ()
    temperatures: Annotated[
        Temperatures | None,
        Key("Temperature of the parts when measured, where not stated with a reading.", {"parts": "22 degC"}),
    ] = None
    readings: Annotated[
        Notes,
        Key(
            "Readings by characteristic: one value, a list by station, or a mapping of station to value; beside it "
            "with, taken, by, note and temperature.",
            {"backlash": [0.08, 0.09], "shaft_diameter": {"with": "micrometer", "values": {"1": "50.002 mm"}}},
        ),
    ] = ()
    earlier: Annotated[
        Notes,
        Key(
            "What was measured before, written like readings; compared with those that count now, never judged.",
            {"backlash": {"taken": "2026-03-28", "values": [0.07, 0.08]}},
        ),
        Form({"type": "object"}, earlier_notes_in),
    ] = ()
    concessions: Annotated[
        tuple[GivenConcession, ...],
        Key(
            "Named, dated, reasoned permissions to use a nonconforming item.",
            [{"rule": "backlash", "by": "bench lead", "dated": "2026-05-03", "because": "runs one way only"}],
        ),
        Form({"minItems": 0, "maxItems": 200}),
    ] = ()
    seen: Annotated[
        tuple[SeenByEye, ...],
        Key(
            "Inspections by eye, where a rule allows them. What was measured counts for more.",
            [{"rule": "key-width", "station": 1, "by": "bench lead", "dated": "2026-05-03", "clear": True}],
        ),
        Form({"minItems": 0, "maxItems": 2000}),
    ] = ()
    read_by: str = ""

    @property
    def notes(self) -> tuple[Note, ...]:
        """Every value that counts now, facts first."""
        return (*self.facts, *self.readings)

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

    def as_it_was(self) -> "Record":
        """The record with its earlier readings in the place of those that count now, before any part was changed."""
        nothing: dict[str, Any] = dict.fromkeys(("facts", "parts", "part_limits", "earlier", "concessions", "seen"), ())
        return self._replace(readings=self.earlier, **nothing)

    def with_reading(
        self,
        characteristic: str,
        station: int | None,
        value: Any,
        *,
        instrument: str | None = None,
        taken: str | date | None = None,
        by: str | None = None,
        note: str | None = None,
        temperature: Any = None,
    ) -> "Record":
        """A record with this in the place of what is written at a station, counted from 1; None for the assembly.

        The value is what record_from takes: a number, a text as the bench writes it, a quantity, or a list of readings.
        Raises InputError for what could not stand in a file, and where one value is written for all stations.
        """
        stated = {"with": instrument, "taken": taken, "by": by, "note": note, "temperature": temperature}
        around = {key: given for key, given in stated.items() if given is not None}
        at = ASSEMBLY if station is None else str(station)
        form = "readings" if isinstance(value, list | tuple) else "value"
        given = dict(value) if isinstance(value, Mapping) else {form: value}
        is_fact = any(known.characteristic == characteristic for known in self.facts)
        section = FACTS if is_fact else "readings"
        whole = {characteristic: {**given, **around} if station is None else {at: {**given, **around}}}
        more = record_from({"assembly": self.assembly, "application": self.application, section: whole}, self.source)
        return self._with(characteristic, at, more)

    def without(self, characteristic: str, station: int | None = None) -> "Record":
        """A record in which nothing is written for a characteristic: at a station, counted from 1, or at any.

        Raises InputError for a name that nothing is written for: what was meant would go on being judged.
        """
        own = [note for note in self.notes if note.characteristic == characteristic]
        if not own:
            known = {note.characteristic for note in self.notes}
            raise InputError(Problem(f"nothing is written for {characteristic!r}", hint=nearest(characteristic, known)))
        if station is None:
            return self._changed(f"without {characteristic}", own)
        return self._with(characteristic, str(station), None)

    def _with(self, characteristic: str, station: str, more: "Record | None") -> "Record":
        """A record in which what another says stands at a station, in the place of what stood there."""
        own = [note for note in self.notes if note.characteristic == characteristic]
        if station != ASSEMBLY and any(note.station in (ALL, ASSEMBLY) and note.form != "listed" for note in own):
            message = f"{characteristic} is written once for every station, so none can be changed by itself"
            hint = f"write one value a station: in a program without({characteristic!r}), then with_reading for each"
            raise InputError(Problem(message, own[0].place, hint))
        replaced = [note for note in own if station in (ASSEMBLY, note.station)]
        return self._changed(more.digest if more else f"without {characteristic} {station}", replaced, more)

    def _changed(self, what: str, replaced: Collection[Note], more: "Record | None" = None) -> "Record":
        """The record with other notes, and a digest of its own, that what is judged can be told apart by."""
        document = replace(self.document, digest=digest_of(f"{self.digest} {what}".encode()))
        facts, readings = (
            tuple(note for note in notes if note not in replaced) for notes in (self.facts, self.readings)
        )
        if more is not None:
            facts, readings = (*facts, *more.facts), (*readings, *more.readings)
        return self._replace(document=document, facts=facts, readings=readings)


RecordReader: TypeAlias = Callable[[Path], Record]


def read_record(path: str | Path, readers: Mapping[str, RecordReader] | None = None) -> Record:
    """Read a record file: YAML or JSON, or another kind with the readers of plugins, by the suffix of its name.

    Raises InputError naming every problem found in its structure.
    """
    file = Path(path)
    suffix = file.suffix.lower()
    if readers is None and suffix in PARSERS:
        return record_in(read_document(file))
    reader = (readers or {}).get(suffix)
    if reader is None:
        hint = f"known kinds: {', '.join(readers or PARSERS)}"
        if readers is None:
            hint += "; others are read with readers, as in read_record(path, gather().record_readers)"
        raise InputError(Problem("not a kind of file that is read", Place(printable(str(file))), hint))
    return reader(file)


def record_from_text(text: str | bytes, source: str = "record.yaml") -> Record:
    """The record in a text: YAML, or JSON where the name of its source ends in .json.

    Raises InputError naming every problem found in its structure, TypeError for what is no text.
    """
    require(text, "data is read with record_from(data)", str, bytes)
    raw = text.encode(errors="surrogatepass") if isinstance(text, str) else text
    parse = parse_json if source.lower().endswith(".json") else parse_yaml
    return record_in(parse(raw, printable(source)))


def record_from(data: Mapping[str, Any], source: str = "record") -> Record:
    """The record in a mapping of the keys of a record file; `source` is what messages call it.

    Values are numbers, texts as the bench writes them, dates, lists, mappings, numpy scalars and arrays (over stations,
    NaN where nothing was measured), and quantities with a unit, as pint's. An array of two dimensions has a row for
    each station, with its readings: of five stations measured twice its shape is (5, 2); (2, 5) is two stations
    measured five times, and three not at all. The key `record` may be left out. Raises InputError naming every problem,
    each with the path of its keys, and TypeError for what is no mapping.
    """
    require(data, 'give the keys of a record file, as in {"application": "general", "readings": {...}}', Mapping)
    return record_in(document_of({"record": 1, **data}, source))


class HalfReadError(InputError):
    """A record that cannot be read as it stands; `rest` is what it says besides, where that can be understood alone."""

    def __init__(self, problems: Iterable[str | Problem], rest: Record | None = None) -> None:
        super().__init__(problems)
        self.rest = rest


def record_in(document: Document) -> Record:
    """The record in a document that was read elsewhere; a section that is still empty counts as absent.

    Raises HalfReadError naming every problem found in its structure.
    """
    problems = schema_problems(document, "record", apart="reading")  # many, and held to their keys by their shapes
    try:
        if problems:
            raise InputError((*problems, *_problems_of_notes(document)))
        data = {key: given for key, given in document.data.items() if given is not None}
        return _record(replace(document, data=FrozenMapping(data)))
    except InputError as error:
        raise HalfReadError(error.problems, _besides(document, error.problems)) from None


def _besides(document: Document, problems: Iterable[Problem]) -> Record | None:
    """What a record says besides what is at fault, so that its other mistakes can be told with these."""
    if not isinstance(document.data, Mapping):
        return None
    data = {key: given for key, given in document.data.items() if given is not None}
    for problem in problems:
        section, name, *_ = [*re.split(r"\.|, ", problem.place.key if problem.place else ""), ""]  # as dotted() joins
        entries = data.get(section)
        if section == "instruments" and isinstance(entries, Mapping) and name in entries:
            data[section] = FrozenMapping({**entries, name: _ANY_INSTRUMENT})
        elif not _UNDERSTOOD_BY.isdisjoint((section, nearest_name(section, _UNDERSTOOD_BY))):
            return None
        elif isinstance(entries, Mapping) and name in entries:
            data[section] = FrozenMapping({key: given for key, given in entries.items() if key != name})
        else:
            data.pop(section, None)
    sound = replace(document, data=FrozenMapping({"assembly": "unnamed", "application": "unnamed", **data}))
    if schema_problems(sound, "record", apart="reading"):
        return None
    with suppress(InputError):
        record = _record(sound)
        return record if "application" in data else record._replace(application="")
    return None


def _problems_of_notes(document: Document) -> list[Problem]:
    """What is wrong with the shapes of values where something else is wrong too, so that all is told at once."""
    source = Source(document, partial(Origin, document), [])
    for section in SECTIONS:
        stated_there = document.data.get(section) if isinstance(document.data, Mapping) else None
        if isinstance(stated_there, Mapping):
            earlier_notes_in(source, (section,), stated_there, NOTHING)
    return source.problems


def bare_record(document: Document, assembly: str) -> Record:
    """Readings alone, as a gauge writes them: the use and the rule packs are named by whoever judges them."""
    return _record(document, form=1, assembly=assembly, application="")


def _record(document: Document, **besides: Any) -> Record:
    problems: list[Problem] = []
    source = Source(document, partial(Origin, document), problems)
    record = Record(document=document, **besides, **stated(Record, source, (), document.data, NOTHING))
    facts = {note.characteristic for note in record.facts}
    for note in {note.characteristic: note for note in record.readings if note.characteristic in facts}.values():
        problems.append(Problem(f"{note.characteristic} stands under facts too", note.place))
    if problems:
        raise InputError(problems)
    return record
