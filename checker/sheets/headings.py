"""The words that head the columns of a sheet, for those who write it and those who read it."""

from __future__ import annotations

import re

from checker.records.reading_keys import CIRCUMSTANCES

KEY, VALUE = "key", "value"
CHARACTERISTIC, STATION, READING, UNIT = "characteristic", "station", "reading", "unit"
FIRST = (KEY, CHARACTERISTIC, STATION)
"""A row that begins with one of these heads a table: what the record says besides readings; one reading a row; one
station a row, under a row that begins with the characteristic."""

CALLED = ("what", "where")
"""Columns that call characteristic and station in words: a name or number changed by hand no longer fits them."""
GUIDES = (*CALLED, "target", "use", "how")
"""Columns that guide the builder; no value is read from them."""

REMARK = "#"
"""A row that begins with it is for the eye alone."""

NESTED = ("{", "[", '"')
"""What is written for a key of the record is YAML where it begins with one of these; else it stands for itself."""

ROLES = (VALUE, CHARACTERISTIC, STATION, READING, UNIT, *CIRCUMSTANCES, *GUIDES)
_SAME = {"time": "taken"}
_READING = re.compile(r"reading ([1-9][0-9]?)(?:, *(.+))?")


def role_of(heading: str) -> str:
    """The role a heading stands for; the heading itself where it is none."""
    word = heading.casefold()
    return _SAME.get(word, word)


def reading_heading(number: int, unit: str) -> str:
    """The heading of one of several readings at a station, with the unit of bare numbers below it."""
    return f"{READING} {number}, {unit}" if unit else f"{READING} {number}"


def reading_column(heading: str) -> tuple[int, str] | None:
    """The number and the unit that such a heading states."""
    match = _READING.fullmatch(heading)
    return (int(match[1]), match[2] or "") if match else None
