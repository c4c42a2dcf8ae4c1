"""One record, one reading after another: what each of them changes of what is said."""

from __future__ import annotations

from datetime import date
from typing import Any

from checker.checking import Book, check_record
from checker.effects import Reply, reply_to
from checker.judging.judge import Verdict
from checker.records.record import Record
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

    def take(
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
    ) -> Reply:
        """Take a reading in the place of what is written at a station, counted from 1; None for the assembly.

        Raises InputError for what cannot be read; the reply says why a value that cannot be is refused.
        """
        return self._tried(
            characteristic,
            self.record.with_reading(
                characteristic,
                station,
                value,
                instrument=instrument,
                taken=taken,
                by=by,
                note=note,
                temperature=temperature,
            ),
        )

    def drop(self, characteristic: str, station: int | None = None) -> Reply:
        """Take out what is written for a characteristic at a station, or at all of them."""
        return self._tried(characteristic, self.record.without(characteristic, station))

    def _tried(self, name: str, record: Record) -> Reply:
        old = self._report
        context = old.context
        new = check_record(
            self._book,
            record,
            old.application,
            old.before,
            context.decision,
            old.on,
            context.plan.level or None,
            since=old,
        )
        reply = reply_to(name, old, new, self._book, _TOLD)
        if not reply.refused:
            self._report = new
        return reply
