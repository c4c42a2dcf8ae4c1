"""Tabs of a workbook to be written: what stands where, how it looks, what may be entered."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Style(Enum):
    """How a cell looks."""

    TITLE = "title"
    NAME = "name"
    GUIDE = "guide"
    HEADING = "heading"
    LABEL = "label"
    ENTRY = "entry"


@dataclass(frozen=True, slots=True)
class Box:
    """One cell to be written."""

    value: str | float
    style: Style


@dataclass(frozen=True, slots=True)
class Guard:
    """What may be entered in an area, told when one of its cells is chosen; another entry is asked about, not refused.

    Rows and columns count from 1.
    """

    top: int
    left: int
    bottom: int
    right: int
    title: str
    prompt: str
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Tab:
    """One tab; a row may be empty, a width is in characters."""

    title: str
    rows: tuple[tuple[Box, ...], ...]
    guards: tuple[Guard, ...]
    widths: tuple[int, ...]
