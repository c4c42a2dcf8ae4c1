"""Notes: single values as written down, taken out of the shapes in which a record may hold them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, NamedTuple, TypeAlias

from checker.documents.document import Document
from checker.documents.keys import Around, Form, Source, WrittenAs
from checker.documents.tree import KeyPath
from checker.errors import Place, Problem, nearest
from checker.frozen import FrozenMapping
from checker.records.reading_keys import ALL, CIRCUMSTANCES, ONE_PLACE, VALUES, Readings

ASSEMBLY = ""
NOT_MEASURED = ("", "-", "?", "not measured")
FACTS = "facts"
SECTIONS = (FACTS, "readings")
"""Where a record holds its notes, besides earlier ones."""

Circumstances: TypeAlias = Mapping[str, str]


def is_measured(text: str) -> bool:
    """Whether what is written is a value, and not that there is none."""
    return text.strip().lower() not in NOT_MEASURED


class Note(NamedTuple):
    """One value as written down, with the circumstances stated for it.

    `form` is "value", "readings" (several at one place), "listed" (one of a list) or one of ENDS. A fact is known
    without measuring.
    """

    characteristic: str
    station: str
    written: tuple[str, ...]
    place: Place
    form: str = "value"
    circumstances: Circumstances = FrozenMapping()
    is_fact: bool = False

    @property
    def stands_for_all(self) -> bool:
        """Whether one value was written for every station."""
        return self.station == ALL


def notes_in(source: Source, path: KeyPath, stated: Any, around: Around) -> tuple[Note, ...]:
    """The notes of a section, with the day of the whole record where they state none of their own.

    What cannot be a note is added to the problems.
    """
    notes = earlier_notes_in(source, path, stated, around)
    if "taken" not in around:
        return notes
    day = {"taken": around["taken"]}
    return tuple(note._replace(circumstances=FrozenMapping({**day, **note.circumstances})) for note in notes)


def earlier_notes_in(source: Source, path: KeyPath, stated: Any, _around: Around) -> tuple[Note, ...]:
    """The notes of a section as they are."""
    shapes = _Shapes(source.document, source.problems)
    notes = tuple(note for name, given in stated.items() for note in shapes.whole((*path, name), given))
    first: dict[tuple[str, str], Note] = {}
    for note in notes:
        known = first.setdefault((note.characteristic, note.station), note)
        if known is not note:
            hint = f"first in line {known.place.line}"
            source.problems.append(Problem(f"{note.characteristic} is written down twice", note.place, hint))
    return notes


Notes: TypeAlias = Annotated[
    tuple[Note, ...],
    WrittenAs(Readings),
    Form({"type": ["object", "null"], "minProperties": 0}, notes_in),
]
"""A section of a record with values by characteristic."""


class _Shapes(NamedTuple):
    """A document being read; what is wrong with it is added to the problems."""

    document: Document
    problems: list[Problem]

    def whole(self, path: KeyPath, given: Any) -> Iterator[Note]:
        """Everything written for one characteristic."""
        if not isinstance(given, dict):
            yield from self.values(path, given, FrozenMapping())
            return
        rest = {key: value for key, value in given.items() if key not in CIRCUMSTANCES}
        if VALUES in rest:
            for key in rest:
                if key != VALUES:
                    self.unknown((*path, key), key, (*CIRCUMSTANCES, VALUES))
            yield from self.values((*path, VALUES), rest[VALUES], self.circumstances(path, given))
        elif any(key in rest for key in ONE_PLACE):
            yield from self.at(path, ASSEMBLY, given, FrozenMapping())
        else:
            yield from self.values(path, rest, self.circumstances(path, given))

    def values(self, path: KeyPath, given: Any, circumstances: Circumstances) -> Iterator[Note]:
        """One value, a list that counts stations from 1, or a mapping of station to value."""
        if isinstance(given, dict):
            for station, value in given.items():
                if station.isdecimal() or station == ALL:
                    yield from self.at((*path, station), station, value, circumstances)
                else:
                    self.unknown((*path, station), station, (*CIRCUMSTANCES, *ONE_PLACE, VALUES, ALL), "key or station")
        elif not isinstance(given, list):
            yield self.note(path, ASSEMBLY, given, "value", circumstances)
        elif any(isinstance(value, (list, dict)) for value in given):
            for number, value in enumerate(given):
                yield from self.at((*path, number), str(number + 1), value, circumstances)
        else:
            for number, value in enumerate(given):
                yield self.note((*path, number), str(number + 1), value, "listed", circumstances)

    def at(self, path: KeyPath, station: str, given: Any, circumstances: Circumstances) -> Iterator[Note]:
        """What is written for one station."""
        if not isinstance(given, dict):
            yield self.note(path, station, given, "readings" if isinstance(given, list) else "value", circumstances)
            return
        forms = [key for key in given if key in ONE_PLACE]
        strange = [key for key in given if key not in forms and key not in CIRCUMSTANCES]
        for key in strange:
            self.unknown((*path, key), key, (*CIRCUMSTANCES, *ONE_PLACE))
        if len(forms) == 1:
            own = FrozenMapping({**circumstances, **self.circumstances(path, given)})
            yield self.note(path, station, given[forms[0]], forms[0], own, forms[0])
        elif forms or not strange:  # a form that is spelt wrong is one mistake
            self.problems.append(Problem(f"expected one of {', '.join(ONE_PLACE)}", self.document.place(*path)))

    def note(self, path: KeyPath, station: str, given: Any, form: str, circumstances: Circumstances, *key: str) -> Note:
        texts = self.texts((*path, *key), given)
        return Note(
            str(path[1]), station, texts, self.document.place(*path), form, circumstances, is_fact=path[0] == FACTS
        )

    def circumstances(self, path: KeyPath, given: Mapping[str, Any]) -> Circumstances:
        stated = (key for key in CIRCUMSTANCES if key in given)
        return FrozenMapping({key: "".join(self.text((*path, key), given[key])) for key in stated})

    def texts(self, path: KeyPath, given: Any) -> tuple[str, ...]:
        """One text or a list of them, as written; nothing is an empty text."""
        if not isinstance(given, list):
            return tuple(self.text(path, given))
        return tuple(text for number, value in enumerate(given) for text in self.text((*path, number), value))

    def text(self, path: KeyPath, given: Any) -> Iterator[str]:
        if isinstance(given, (list, dict)):
            hint = f"by station they stand under {VALUES}" if isinstance(given, dict) and path[-1] in ONE_PLACE else ""
            self.problems.append(Problem("expected plain values here", self.document.place(*path), hint))
        else:
            yield "" if given is None else self.document.written(*path)

    def unknown(self, path: KeyPath, key: str, known: tuple[str, ...], what: str = "key") -> None:
        listed = f"known here: {', '.join(known)}"
        hint = nearest(key, known) or (listed if what == "key" else f"a station is its number; {listed}")
        self.problems.append(Problem(f"unknown {what} {key!r}", self.document.place(*path), hint))
