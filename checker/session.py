"""One record, one reading after another: which verdicts each of them changes, and which readings look suspicious."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple, Unpack

import numpy as np

from checker.checking.book import Book
from checker.checking.check import check_record
from checker.checking.question import question_of
from checker.errors import InputError, Problem, nearest
from checker.findings.finding import Finding
from checker.findings.findings import findings_of
from checker.judging.judge import Judged, Verdict
from checker.records.flag import Flag
from checker.records.layout import station_number
from checker.records.record import Details, Record
from checker.reports.report import Report

_TELLING = frozenset({Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.WITHIN})
_ASKED = frozenset(Verdict) - {Verdict.NOT_APPLICABLE, Verdict.NOT_ASKED}


class Reply(NamedTuple):
    """What came of a reading: why it was refused, or what it decided and what is suspicious about it.

    `findings` are those whose verdict or value is new, worst first, `flags` what is to be looked at again and was not
    before. `judged` is how many checks have a verdict now that had none before.
    """

    refused: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    flags: tuple[Flag, ...] = ()
    judged: int = 0


class Session:
    """A record under measurement; `report` is what is said of it now.

    Only what a reading bears on is judged anew. Readings are put in and taken out as in Record.with_reading and
    Record.without; what is refused leaves the record as it was.
    """

    def __init__(self, book: Book, report: Report) -> None:
        self._book = book
        self._report = report
        self._asked = question_of(book, report.record, report.application, **report.terms)

    def __repr__(self) -> str:
        return f"<Session on {self.record.source} for {self.report.application}: status {self.report.status}>"

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

        Value and details (instrument, taken, by, note, temperature) are those of Record.with_reading; what packs read
        with a gauge becomes a reading also where a figure stands under facts. Raises InputError for what cannot be
        read; the reply says why a value that cannot be is refused.
        """
        self._require_one(characteristic, station)
        record = self.record.with_reading(characteristic, station, value, **details)
        if self._book.characteristics[characteristic].characteristic.with_:
            taken = [note for note in record.facts if note not in self.record.facts]
            facts = tuple(note for note in record.facts if note not in taken)
            readings = (*record.readings, *(note._replace(is_fact=False) for note in taken))
            record = record._replace(facts=facts, readings=readings)
        return self._tried(characteristic, record)

    def drop(self, characteristic: str, station: int | None = None) -> Reply:
        """Take out what is written for a characteristic at a station, or at all of them.

        Raises InputError for a name or a station that there is not: what was meant would go on being judged.
        """
        self._require_one(characteristic, station)
        per = self._book.characteristics[characteristic].characteristic.per
        count = self._report.context.block.layout.count(per)
        if station is not None and not 0 < (station_number(str(station)) or 0) <= count:
            raise InputError(Problem(f"no {per} {station}: there are {count}"))
        return self._tried(characteristic, self.record.without(characteristic, station))

    def _require_one(self, characteristic: str, station: int | None) -> None:
        known = self._book.characteristics
        if characteristic not in known:
            raise InputError(Problem(f"unknown characteristic {characteristic!r}", hint=nearest(characteristic, known)))
        if station is not None and known[characteristic].characteristic.per is None:
            message = f"{characteristic} has one value for the assembly, not one for each station"
            raise InputError(Problem(message, hint="give None for its station"))

    def _tried(self, name: str, record: Record) -> Reply:
        old = self._report
        new = check_record(self._book, record, self._asked, old)
        reply = reply_to(name, old, new, _ASKED)
        if not reply.refused:
            self._report = new
        return reply


def reply_to(name: str, old: Report, new: Report, telling: frozenset[Verdict] = _TELLING) -> Reply:
    """What a value for a characteristic changed; refused where the value cannot be. Told are some verdicts only."""
    known = set(map(_likeness, old.flags))
    flags = tuple(flag for flag in new.flags if _likeness(flag) not in known)
    if refused := tuple(flag.message for flag in flags if flag.is_refused and flag.characteristic == name):
        return Reply(refused)
    return Reply((), tuple(_changes(name, old, new, telling)), flags, max(0, _judged(new) - _judged(old)))


def _judged(report: Report) -> int:
    return sum(report.counts[verdict] for verdict in _TELLING)


def _changes(name: str, old: Report, new: Report, telling: frozenset[Verdict]) -> Iterator[Finding]:
    """What the rules that rest on a characteristic say now and did not say before, worst first.

    A part sheet is judged by a rule of its own as soon as no other applies: all that says is new.
    """
    before = {judged.rule.name: judged for judged in old.judged}
    changes = []
    for judged in new.judged:
        was = before.get(judged.rule.name)
        if was is None or name in new.context.inputs(judged.rule.name).names:
            changed = _changed(was, judged)
            changes += [item for item in findings_of(judged, new.context, telling) if changed[item.station]]
    yield from sorted(changes, key=lambda finding: -finding.verdict)


def _changed(old: Judged | None, new: Judged) -> Mapping[int, bool]:
    """For each station, whether its verdict or its value is another one."""
    if old is None or old.codes.shape != new.codes.shape:
        return dict.fromkeys(range(new.codes.shape[1]), True)
    same = (old.codes == new.codes) & np.isclose(old.measures.value, new.measures.value, rtol=0, atol=0, equal_nan=True)
    return dict(enumerate(~same[0]))


def _likeness(flag: Flag) -> tuple[str, ...]:
    return flag.characteristic, flag.where, flag.written, flag.message
