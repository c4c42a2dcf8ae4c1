"""The reference figures in data/, and a rulebook that says what the packs compute for each."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from judging import rulebook

from checker import Rulebook

DATA = Path(__file__).with_name("data")

_HEAD = """
pack: outside-figures
version: 1.0.0
rule_language: 1
title: What the four-stroke pack computes
builds_on: {four-stroke: ">=1,<2"}
rules:
"""
_RULE = """
  figure-{number}:
    title: {asks}
    before: hand-over
    judges: '{asks}'
    unit: "{unit}"
    limits: {{any: {{should: {{at_least: '{asks}'}}}}}}
    basis: {{kind: computed, note: "No limit: it is there to be read back."}}
    remedy: {{low: None}}
"""


@dataclass(frozen=True)
class Figure:
    """One figure from outside: what is asked for, of which readings, and what must come out."""

    id: str
    asks: str
    given: dict[str, Any]
    expected: float
    unit: str
    tolerance: float
    source: str

    def agrees(self, found: float) -> bool:
        """Whether what was computed is the figure, within its tolerance."""
        return math.isclose(found, self.expected, rel_tol=1e-9, abs_tol=self.tolerance)


def figures(topic: str) -> list[Figure]:
    """The figures of one file of data/."""
    with (DATA / f"{topic}.csv").open(newline="") as file:
        return [_figure(row) for row in csv.DictReader(file)]


def topics() -> list[str]:
    """The files of data/ but that of the units."""
    return sorted(path.stem for path in DATA.glob("*.csv") if path.stem not in ("units", "published_tables"))


def _figure(row: dict[str, str]) -> Figure:
    expected = float(row["expected"])
    kind, _, size = row["tolerance"].partition(" ")
    tolerance = {"exact": 0.0, "abs": float(size or 0), "rel": float(size or 0) * abs(expected)}[kind]
    return Figure(row["id"], row["asks"], json.loads(row["given"]), expected, row["unit"], tolerance, row["source"])


@cache
def rule_for(figure_asks: str, unit: str) -> str:
    """The rule that says it: one of the pack's own, or one that only repeats what the pack computes."""
    return (
        figure_asks
        if figure_asks in rulebook("four-stroke").rules
        else f"figure-{_repeated().index((figure_asks, unit))}"
    )


@cache
def book() -> Rulebook:
    """The four-stroke pack, and a pack on top that repeats what no rule of its own judges by itself."""
    rules = "".join(_RULE.format(number=n, asks=asks, unit=unit) for n, (asks, unit) in enumerate(_repeated()))
    folder = Path(mkdtemp())
    (folder / "pack.yaml").write_text(_HEAD + rules)
    return rulebook("four-stroke", folder)


@cache
def _repeated() -> tuple[tuple[str, str], ...]:
    own = rulebook("four-stroke").rules
    asked = {(figure.asks, figure.unit): None for topic in topics() for figure in figures(topic)}
    return tuple(pair for pair in asked if pair[0] not in own)
