"""Records of parts that may meet, with the sheets of their makers, through the public API."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from fits_tools import gathered
from places import DATA

from checker import Finding, Report, Rulebook, load_rulebook
from checker.documents.document import parse_yaml
from checker.records.record import Record, record_in

PARTS = DATA / "parts_that_meet"
SHEET = "source: ring maker's sheet, dated: 2026-01-10"


@cache
def parts(*more: Path) -> Rulebook:
    """The pack, with packs on top."""
    return load_rulebook(PARTS, *more, plugins=gathered())


def record(readings: str, sheets: str = "", use: str = "plain", more: str = "") -> Record:
    """A record with these readings and part sheets, both as flow mappings."""
    limits = f"part_limits: {{{sheets}}}\n" if sheets else ""
    text = f"record: 1\nassembly: Rig\napplication: {use}\nstations: {{seat: 2}}\n{limits}{more}"
    return record_in(parse_yaml(f"{text}\nreadings: {{{readings}}}\n".encode(), "record.yaml"))


def report(readings: str, sheets: str = "", use: str = "plain", more: str = "", **how: Any) -> Report:
    """The report on such a record."""
    return parts().check(record(readings, sheets, use, more), **how)


def finding(found: Report, rule: str, station: int = 1) -> Finding:
    """What one rule says of one seat, counted from 1."""
    return next(made for made in found.findings if made.name == rule and made.station == station - 1)
