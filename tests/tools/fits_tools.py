"""Judging small records of shafts in bushes, through the public API."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from places import DATA

from checker import Finding, Record, Report, Rulebook, load_rulebook
from checker.documents.document import parse_yaml
from checker.plugins import Plugins
from checker.records.record import record_in

FITS = DATA / "fits"
MEASUREMENT = DATA / "measurement"
HEAD = "record: 1\nassembly: Test rig\napplication: plain\nrule_packs: {fits: '>=1'}\n"


@cache
def fits(*more: Path) -> Rulebook:
    """The fits pack, with packs on top."""
    return load_rulebook(FITS, *more, plugins=gathered())


def gathered() -> Plugins:
    """No plugins at all."""
    return Plugins((), {}, {}, {})


def record(readings: str, more: str = "", head: str = HEAD) -> Record:
    """A record whose readings are these lines of YAML; `more` are other sections."""
    body = "".join(f"  {line}\n" for line in readings.strip().splitlines())
    return record_in(parse_yaml(f"{head}{more.rstrip()}\nreadings:\n{body}".encode(), "record.yaml"))


def report(readings: str, more: str = "", **how: Any) -> Report:
    """The report on such a record."""
    return fits().check(record(readings, more), **how)


@cache
def measurement() -> Rulebook:
    """The worked examples of measurement."""
    return load_rulebook(MEASUREMENT, plugins=gathered())


def measured(readings: str, more: str = "", **how: Any) -> Report:
    """The report on a record of such an example."""
    return measurement().check(
        record(
            readings,
            f"application: any-use\n{more}",
            HEAD.replace("fits", "measurement").replace("application: plain\n", ""),
        ),
        **how,
    )


def finding(found: Report, rule: str, station: int = 1) -> Finding:
    """What one rule says of one station, counted from 1."""
    return next(made for made in found.findings if made.name == rule and made.station == station - 1)


def verdicts(found: Report) -> dict[tuple[str, int], str]:
    """Every verdict, by rule and station counted from 1."""
    return {(made.name, made.station + 1): str(made.verdict) for made in found.findings}
