"""What is alike for all assemblies of a table: the record that is handed in with it, in the units of its numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from checker.checking.book import Book
from checker.errors import Problem, UsageError, require
from checker.frozen import FrozenMapping
from checker.records.record import Record, record_from
from checker.units.units import UNITS


def record_for(
    book: Book, given: Record | Mapping[str, Any] | None, application: str | None, units: Mapping[str, str]
) -> Record:
    """The record of a table whose numbers are in these units by kind; `given` may be its keys alone.

    Raises InputError for what is wrong with it, UsageError where its own numbers would be read in another unit.
    """
    record = given if isinstance(given, Record) else _of_keys(book, given or {}, application)
    for kind, name in units.items():
        own = record.units.get(kind, name)
        if UNITS.get(own, own) != UNITS.get(name, name):
            message = f"units of {kind}: the table's numbers are said to be in {name}, the record's in {own}"
            raise UsageError(Problem(message, hint="state the other unit behind each number of the record"))
    return record._replace(units=FrozenMapping({**record.units, **units}))


def _of_keys(book: Book, keys: Mapping[str, Any], application: str | None) -> Record:
    require(keys, "give a record, or the keys of one, as in {'stations': {...}}", Mapping)
    stated = {"assembly": "table", "application": application, **keys}
    if stated["application"] is None:
        hint = f"application=..., or in the record; known: {', '.join(book.layered.applications)}"
        raise UsageError(Problem("nothing says for which use the table is judged", hint=hint))
    return record_from(stated)


def require_words(given: Mapping[str, str] | None, advice: str) -> Mapping[str, str]:
    """The mapping of words to words that was given, none where nothing was; raises TypeError for anything else."""
    require(given or {}, advice, Mapping)
    for each in (given or {}).items():
        for word in each:
            require(word, advice, str)
    return given or {}
