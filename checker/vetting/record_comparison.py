"""Whose verdicts change when the rule packs do?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from checker.errors import CheckerError
from checker.findings.context import place_name
from checker.frozen import FrozenMapping
from checker.judging.judge import Verdict
from checker.packs_asked import read_packs
from checker.plugins import Plugins
from checker.records.record import Record
from checker.reports.report import BROKEN, HELD
from checker.rulebook import Rulebook

NO_RULE = "no rule"
"""Stands for the verdict where only the other side has the rule."""

_ASKS_NOTHING = {NO_RULE, str(Verdict.NOT_APPLICABLE), str(Verdict.NOT_COVERED)}

_UNJUDGED = "cannot be judged: "
_STATUS = {HELD: "every required check holds", BROKEN: "a required check is out of limits"}


@dataclass(frozen=True, slots=True)
class Turned:
    """A verdict that changed; `where` names the station, counted from 1, if there are several."""

    rule: str
    where: str
    station: int
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class RecordChange:
    """What changes for one record, as a whole and rule by rule, and for which use each side judged it."""

    source: str
    assembly: str
    old_use: str
    new_use: str
    old: str
    new: str
    turned: tuple[Turned, ...]
    only_old: tuple[str, ...] = ()
    """What the record says that only the old one knows: stations and characteristics; it is left out for the other."""
    only_new: tuple[str, ...] = ()

    @property
    def is_one(self) -> bool:
        """Whether anything came out otherwise."""
        return not self.is_unknown and (bool(self.turned) or self.old != self.new)

    @property
    def is_unknown(self) -> bool:
        """Whether neither side can judge it, so that nobody knows what changes."""
        return self.old.startswith(_UNJUDGED) and self.new.startswith(_UNJUDGED)


class Judges:
    """One of the two packs, with whatever else records ask for; each set of packs is loaded once."""

    def __init__(self, pack: str | Path, plugins: Plugins) -> None:
        self._pack = pack
        self._plugins = plugins
        self._books: dict[frozenset[str], Rulebook] = {}

    def rulebook(self, record: Record) -> Rulebook:
        """The rulebook for a record, whatever versions it asks for."""
        asked = frozenset(record.rule_packs)
        if asked not in self._books:
            self._books[asked] = Rulebook(read_packs((self._pack, *sorted(asked)), self._plugins), self._plugins)
        return self._books[asked]

    def usable(self, record: Record) -> Rulebook | None:
        """The rulebook for a record, where it can be judged."""
        try:
            return self.rulebook(record)
        except CheckerError:
            return None


def compared_records(
    records: Iterable[Record], old: Judges, new: Judges, application: str | None = None
) -> Iterator[RecordChange]:
    """What the two say of each record: for its own use, then for each use that only the new one has.

    An application asked for stands in for these. The old one judges for the same use where it has it, else for the
    record's own. What only one of them knows is left out for the other; what neither knows stays a mistake.

    Raises UsageError for a use that neither has.
    """
    for record in records:
        known, added = (book.applications if book else () for book in (old.usable(record), new.usable(record)))
        if application and added and application not in added:
            new.rulebook(record).chain(application)
        uses = (application,) if application else (record.application, *(name for name in added if name not in known))
        for use in dict.fromkeys(uses):
            old_use = use if use in known else record.application
            was, now = _verdicts(record, old, old_use, new), _verdicts(record, new, use, old)
            turned = tuple(_turned(was, now))
            only_old, only_new = now.left_out - was.left_out, was.left_out - now.left_out
            only = (tuple(sorted(names)) for names in (only_old, only_new))
            yield RecordChange(record.source, record.assembly, old_use, use, was.status, now.status, turned, *only)


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What one side says of a record: as a whole, and by rule and station."""

    status: str
    verdicts: Mapping[tuple[str, str, int], str]
    left_out: frozenset[str] = frozenset()


def _verdicts(record: Record, judges: Judges, use: str, others: Judges) -> _Outcome:
    try:
        rulebook = judges.rulebook(record)
        known, left_out = _known_to(rulebook, record, others.usable(record))
        # By whatever version of its packs: the new one is no longer the one that it names.
        report = rulebook.check(known._replace(rule_packs=FrozenMapping()), application=use)
    except CheckerError as error:
        return _Outcome(f"{_UNJUDGED}{error.problems[0]}", {})
    verdicts = {
        (judged.rule.name, place_name(judged.rule.stations, station, report.context), station + 1): str(Verdict(code))
        for judged in report.judged
        for station, code in enumerate(judged.codes[0])
    }
    return _Outcome(_STATUS.get(report.status, "a required check is still open"), verdicts, left_out)


def _known_to(rulebook: Rulebook, record: Record, other: Rulebook | None) -> tuple[Record, frozenset[str]]:
    """A record without what only the other side knows, and the names of that."""
    named = (note.characteristic for note in (*record.notes, *record.earlier))
    left_out = (_names(other) - _names(rulebook)).intersection((*(count.name for count in record.stations), *named))
    if not left_out:
        return record, left_out
    stations = tuple(count for count in record.stations if count.name not in left_out)
    facts, readings, earlier = (
        tuple(note for note in notes if note.characteristic not in left_out)
        for notes in (record.facts, record.readings, record.earlier)
    )
    return record._replace(stations=stations, facts=facts, readings=readings, earlier=earlier), left_out


def _names(book: Rulebook | None) -> frozenset[str]:
    return frozenset() if book is None else frozenset((*book.layered.stations, *book.characteristics))


def _turned(was: _Outcome, now: _Outcome) -> Iterator[Turned]:
    for place in dict.fromkeys((*was.verdicts, *now.verdicts)) if was.verdicts and now.verdicts else ():
        old, new = (side.verdicts.get(place, NO_RULE) for side in (was, now))
        if old != new and not (NO_RULE in (old, new) and {old, new} <= _ASKS_NOTHING):
            yield Turned(*place, old, new)
