"""Whose verdicts change when the rule packs do?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from checker.errors import CheckerError
from checker.findings.context import place_name
from checker.judging.judge import Verdict
from checker.plugins import Plugins
from checker.records.record import Record, read_record
from checker.reports.report import BROKEN, HELD, Report
from checker.rulebook import Rulebook, read_packs

_STATUS = {HELD: "every must holds", BROKEN: "a must is broken"}


@dataclass(frozen=True, slots=True)
class Turned:
    """A verdict that changed; `where` names the station, if there are several."""

    rule: str
    where: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class RecordChange:
    """What changes for one record, as a whole and rule by rule."""

    source: str
    assembly: str
    old: str
    new: str
    turned: tuple[Turned, ...]


class Judges:
    """One of the two packs, with whatever else records ask for; each set of packs is loaded once."""

    def __init__(self, pack: str | Path, plugins: Plugins) -> None:
        self._pack = pack
        self._plugins = plugins
        self._books: dict[frozenset[str], Rulebook] = {}

    def report(self, record: Record) -> Report:
        """The report on a record, whatever versions it asks for."""
        asked = frozenset(record.rule_packs)
        if asked not in self._books:
            self._books[asked] = Rulebook(read_packs((self._pack, *sorted(asked)), self._plugins), self._plugins)
        return self._books[asked].check(record)


def changed_records(paths: list[str], old: Judges, new: Judges, plugins: Plugins) -> Iterator[RecordChange]:
    """The records on which the two differ; raises InputError for one that cannot be read."""
    for path in paths:
        record = read_record(path, plugins.record_readers)
        was, now = _verdicts(record, old), _verdicts(record, new)
        turned = tuple(_turned(was, now))
        if turned or was.status != now.status:
            yield RecordChange(record.source, record.assembly, was.status, now.status, turned)


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What one side says of a record: as a whole, and by rule and station."""

    status: str
    verdicts: Mapping[tuple[str, str], str]


def _verdicts(record: Record, judges: Judges) -> _Outcome:
    try:
        report = judges.report(record)
    except CheckerError as error:
        return _Outcome(f"cannot be judged: {error.problems[0]}", {})
    found = {
        (judged.rule.name, place_name(judged.rule.stations, station, report.context)): str(Verdict(code))
        for judged in report.judged
        for station, code in enumerate(judged.codes[0])
    }
    return _Outcome(_STATUS.get(report.status, "a must is not judged"), found)


def _turned(was: _Outcome, now: _Outcome) -> Iterator[Turned]:
    for (rule, where), verdict in was.verdicts.items():
        new = now.verdicts.get((rule, where), verdict)
        if new != verdict:
            yield Turned(rule, where, verdict, new)
