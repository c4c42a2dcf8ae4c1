"""One record, one reading after another: what each of them changes of what is said."""

from __future__ import annotations

from typing import Any, Unpack

from checker.checking.check import check_record
from checker.checking.needs import Book
from checker.effects import Reply, reply_to
from checker.judging.judge import Verdict
from checker.records.record import Details, Record
from checker.reports.report import Report

_TOLD = frozenset(Verdict) - {Verdict.NOT_APPLICABLE, Verdict.NOT_ASKED}


class Session:
    """A record under measurement; `report` is what is said of it now.

    Only what a reading bears on is judged anew. Readings are put in and taken out as in Record.with_reading and
    Record.without; what is refused leaves the record as it was.
    """

    def __init__(self, book: Book, report: Report) -> None:
        self._book = book
        self._report = report

    @property
    def report(self) -> Report:
        """The report on the record as it stands."""
        return self._report

    @property
    def record(self) -> Record:
        """The record as it stands."""
        return self._report.record

    def take(self, characteristic: str, station: int | None, value: Any, **details: Unpack[Details]) -> Reply:
        """Take a reading in the place of what is written at a station, counted from 1; None for the assembly.

        Value and details (instrument, taken, by, note, temperature) are those of Record.with_reading. Raises InputError
        for what cannot be read; the reply says why a value that cannot be is refused.
        """
        return self._tried(characteristic, self.record.with_reading(characteristic, station, value, **details))

    def drop(self, characteristic: str, station: int | None = None) -> Reply:
        """Take out what is written for a characteristic at a station, or at all of them."""
        return self._tried(characteristic, self.record.without(characteristic, station))

    def _tried(self, name: str, record: Record) -> Reply:
        old = self._report
        new = check_record(self._book, record, old.application, **old.terms, since=old)
        reply = reply_to(name, old, new, self._book, _TOLD)
        if not reply.refused:
            self._report = new
        return reply
