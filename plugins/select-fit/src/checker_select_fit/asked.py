"""Asking the checker: the rules that chosen parts bear on, and what they say of a record, quickly and in full."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Set
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from checker import CompiledRule, Judged, Note, Record, Report, Rulebook, Verdict

GOOD = frozenset(Verdict) - {Verdict.OUTSIDE, Verdict.ADVISORY, Verdict.UNDECIDED}
"""What a rule besides the fit may say: what was not measured, or must be measured again, is told as open."""

Array = npt.NDArray[np.float64]
Check = Callable[[Record], Report]


class Miss(NamedTuple):
    """What a rule says that does not find all within, and by how much."""

    verdict: Verdict
    margin: float


class Bearing(NamedTuple):
    """The rules that a kind of part bears on, by name.

    `own` see one station alone, `across` more than one. `judging` are those that judge the fit itself, `aimed` those
    whose aims count. `idle` are the rules and stations where they do not apply as it is, and `was` is what
    they miss as it is.
    """

    own: frozenset[str]
    across: frozenset[str]
    judging: frozenset[str]
    aimed: frozenset[str]
    idle: frozenset[tuple[str, int]]
    was: Mapping[tuple[str, int], Miss]

    @property
    def names(self) -> frozenset[str]:
        """All of them."""
        return self.own | self.across

    @property
    def fits_are_across(self) -> bool:
        """Whether no rule judges the fit at one station alone."""
        return self.judging.isdisjoint(self.own)


def bearing(
    rulebook: Rulebook,
    report: Report,
    per: str | None,
    touched: Set[str],
    fits: Iterable[str],
    aimed: Iterable[str],
) -> Bearing:
    """The rules due that rest on what is touched, and those among them that judge the fit itself."""
    chain = rulebook.chain(report.application)
    due = [judged.rule for judged in report.judged]
    inputs = {rule.name: rulebook.inputs(rule.name, chain) for rule in due}
    names = [rule for rule in due if not touched.isdisjoint(inputs[rule.name].names)]
    own = frozenset(
        rule.name for rule in names if rule.stations == per and (per is None or not inputs[rule.name].across)
    )
    judging = frozenset(name for fit in fits for name in _judging(names, fit))
    more = frozenset(name for one in aimed for name in _judging(names, one))
    everything = frozenset(rule.name for rule in names)
    idle = frozenset(
        (judged.rule.name, int(station))
        for judged in report.judged
        if judged.rule.name in everything
        for station in np.flatnonzero(judged.codes[0] == Verdict.NOT_APPLICABLE)
    )
    was = misses_of(report, everything)
    return Bearing(own, everything - own, judging, judging | more, idle, was)


def misses_of(report: Report, names: Set[str]) -> Mapping[tuple[str, int], Miss]:
    """What these rules do not find within, by rule and station."""
    return {
        (judged.rule.name, station): miss_of(judged, station)
        for judged in report.judged
        if judged.rule.name in names
        for station in range(judged.codes.shape[1])
        if Verdict(int(judged.codes[0, station])) not in GOOD
    }


def miss_of(judged: Judged, station: int) -> Miss:
    margins = judged.measures.margins[:, 0, station]
    known = margins[np.isfinite(margins)]
    return Miss(Verdict(int(judged.codes[0, station])), float(known.min()) if known.size else 0.0)


def _judging(rules: Iterable[CompiledRule], fit: str) -> list[str]:
    """The rules that judge a characteristic alone; where none does, those that judge it against another."""
    columns = {rule.name: {column.name for column in rule.judges.columns} for rule in rules}
    alone = [name for name, found in columns.items() if found == {fit}]
    return alone or [name for name, found in columns.items() if fit in found]


def narrow_check(report: Report, rulebook: Rulebook, names: Set[str], readings_of: Set[str]) -> Check:
    """Judges records as the report was judged, by the rules of these names, on the readings behind other rules too."""
    book = rulebook.only(*names)
    chain = rulebook.chain(report.application)
    behind = frozenset(name for rule in readings_of for name in rulebook.inputs(rule, chain).names)
    judged = {rulebook.rules[name].rule.judges for name in names}

    def check(record: Record) -> Report:
        counting = _last_ones(record.notes, rulebook)
        notes = tuple(note for note in record.notes if note.characteristic in behind or note in counting)
        sheets = tuple(sheet for sheet in record.part_limits if sheet.name in judged)
        return book.check(noted(record, notes)._replace(part_limits=sheets), report.application, **report.terms)

    return check


def _last_ones(notes: Iterable[Note], rulebook: Rulebook) -> list[Note]:
    """A note of the last station of each kind, which shows how many there are where the record does not say."""
    last: dict[str | None, tuple[int, Note]] = {}
    for note in notes:
        number = int(note.station) if note.station.isdecimal() else 0
        per = rulebook.per.get(note.characteristic)
        if number > last.get(per, (0, note))[0]:
            last[per] = number, note
    return [note for _, note in last.values()]


def noted(record: Record, notes: Iterable[Note]) -> Record:
    """The record with these notes and no others, facts and readings each in their section."""
    facts: list[Note] = []
    readings: list[Note] = []
    for note in notes:
        (facts if note.is_fact else readings).append(note)
    return record._replace(facts=tuple(facts), readings=tuple(readings))


def full_check(report: Report, rulebook: Rulebook) -> Check:
    """Judges records as the report was judged, by every rule."""
    return lambda record: rulebook.check(record, report.application, **report.terms)
