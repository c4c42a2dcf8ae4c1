"""Judging small records in tests, through the public API."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from checker import Finding, Record, Report, Rulebook, Verdict, load_rulebook
from checker.documents.document import parse_json
from checker.findings.findings import findings_of
from checker.records.record import record_in


@cache
def rulebook(*packs: str | Path) -> Rulebook:
    """Packs loaded once for all tests of a run."""
    return load_rulebook(*packs)


def record(application: str, readings: Mapping[str, Any], **sections: Any) -> Record:
    """A record as a file would hold it; values are texts with their units, as a person writes them."""
    head = {"record": 1, "assembly": "Test", "application": application, "rule_packs": {"four-stroke": ">=1,<2"}}
    return as_record({**head, "readings": readings, **sections})


def as_record(data: Mapping[str, Any]) -> Record:
    """The record whose file holds this."""
    return record_in(parse_json(json.dumps(data).encode(), "record.json"))


def report(
    application: str, readings: Mapping[str, Any], *, packs: tuple[str | Path, ...] = ("four-stroke",), **sections: Any
) -> Report:
    """The report on such a record."""
    return rulebook(*packs).check(record(application, readings, **sections))


def verdicts(found: Report, rules: Iterable[str]) -> list[set[Verdict]]:
    """What some rules that judge at the same stations say, station by station; of those that apply."""
    codes = [judged.codes[0] for judged in found.judged if judged.rule.name in set(rules)]
    return [{Verdict(code) for code in station} - {Verdict.NOT_APPLICABLE} for station in zip(*codes, strict=True)]


def of_rule(found: Report, rule: str) -> list[Finding]:
    """What one rule says, station by station; words are made for it alone, which is most of the time of a report."""
    return [
        made
        for judged in found.judged
        if judged.rule.name == rule
        for made in sorted(findings_of(judged, found.context), key=lambda made: made.station)
    ]


def finding(found: Report, rule: str, station: int = 1) -> Finding:
    """What one rule says of one station, counted from 1."""
    return next(made for made in of_rule(found, rule) if made.station == station - 1)
