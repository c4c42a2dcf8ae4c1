"""Which concessions count for what was judged."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeAlias

from checker.findings.context import Context, place_name
from checker.findings.finding import MISSED
from checker.findings.standpoint import Beside, Standpoint
from checker.judging.judge import Judged, Verdict
from checker.records.concessions import Concession

OPEN = (Verdict.NOT_MEASURED, Verdict.UNDECIDED, Verdict.NOT_COVERED)
"""The verdicts that leave open whether something is missed."""

Standing: TypeAlias = tuple[Concession, str]
"""A concession, and whether it counts, in words."""


def accepted_at(here: Standpoint) -> str:
    """Who accepted a miss, and why; empty where nobody did."""
    concessions = [concession for concession in _about(here) if not _lapsed(concession, here)]
    return str(max(concessions, key=lambda concession: concession.dated)) if concessions else ""


def place_of(concession: Concession, context: Context) -> str:
    """The station a concession is for, in words; empty where it is for all."""
    return "" if concession.station is None else place_name(concession.rule.stations, concession.station, context)


def standings_of(judged: Iterable[Judged], context: Context) -> Iterator[Standing]:
    """Every concession of a record, in its order, and whether it counts."""
    by_rule = {item.rule.name: item for item in judged}
    for concession in context.concessions:
        item = by_rule.get(concession.rule.name)
        yield concession, "of a later milestone" if item is None else _standing(concession, item, context)


def _standing(concession: Concession, judged: Judged, context: Context) -> str:
    places = [
        Standpoint(judged, station, Verdict(code), context, Beside.of(judged, context))
        for station, code in enumerate(judged.codes[0])
        if concession.station in (None, station)
    ]
    missed = [here for here in places if here.verdict in MISSED]
    lapsed = [reason for here in missed or places if (reason := _lapsed(concession, here))]
    if lapsed and len(lapsed) == len(missed or places):
        return f"does not count: {lapsed[0]}"
    if missed:
        return "counts"
    if waiting := sum(here.verdict in OPEN for here in places):
        at = "" if len(places) == 1 else f" at {waiting} of {len(places)} places"
        return f"open: nothing is missed so far, but the rule is not judged{at}"
    return "not needed: nothing is missed there"


def _about(here: Standpoint) -> Iterator[Concession]:
    for concession in here.context.concessions:
        if concession.rule.name == here.rule.name and concession.station in (None, here.station):
            yield concession


def _lapsed(concession: Concession, here: Standpoint) -> str:
    return concession.lapsed(here.at(here.judged.measures.value), here.places, here.context.past)
