"""What every check must come to: counts of an independent program, and Python's exact decimals for any other number."""

from __future__ import annotations

import math
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from work import CHECKS, NAMED, SIZES
from work_data import Assemblies, assemblies
from work_text import Dialect, Line, lines, named_lines

VERDICTS = ("within", "low", "high", "unknown", "not applicable")
REFERENCE_ROWS = 10_000
FILE = Path(__file__).with_name("work_counts.csv")
TOLERANCE = "1e-9"


@cache
def reference(rows: int) -> Any:
    """Counts by check and verdict of the first so many assemblies."""
    if rows == REFERENCE_ROWS:
        return np.loadtxt(FILE, delimiter=",", skiprows=3, dtype=np.int64)[:, 1:]
    return exactly(assemblies(rows))


def exactly(some: Assemblies) -> Any:
    """Counts in exact decimal arithmetic: a reading is the decimal that was written, a limit that of the definition."""
    numbers: dict[str, Decimal] = {}

    def number(text: str) -> str:
        numbers[f"number_{len(numbers)}"] = Decimal(text)
        return f"number_{len(numbers) - 1}"

    run = plain_python(Dialect(in_lists, number), "", numbers)
    records = as_lists(some, lambda value: Decimal(repr(value)) if value == value else Decimal("NaN"))
    return counted(run, records, some)


def in_lists(name: str, station: int) -> str:
    """A value in the list of its stations."""
    return f"{name}[{station}]"


def as_lists(some: Assemblies, convert: Any = float) -> list[dict[str, list[Any]]]:
    """Each assembly as plain Python holds it: by size the values of its stations."""
    columns = {name: values.T.tolist() for name, values in some.sizes.items()}
    return [
        {name: [convert(value) for value in values[row]] for name, values in columns.items()}
        for row in range(len(some.uses))
    ]


def counted(run: Any, records: list[dict[str, list[Any]]], some: Assemblies) -> Any:
    """The counts of a function over some records."""
    counts = [[0] * len(VERDICTS) for _ in CHECKS]
    for one, use in zip(records, some.uses.tolist(), strict=True):
        run(one, use, counts)
    return np.array(counts)


def plain_python(dialect: Dialect, tolerance: str = TOLERANCE, known: Any = None) -> Any:
    """A function `check(sizes, use, counts)` of plain statements."""
    body = [f"{size.full} = sizes[{size.full!r}]" for size in SIZES]
    for one in NAMED:
        own = [text for name, _, text in named_lines(dialect) if name == one.full]
        body.append(f"{one.full} = [{', '.join(own)}]")
    for line in lines(dialect):
        body += _statements(line, tolerance)
    namespace = dict(known or {}, pi=math.pi)
    exec("def check(sizes, use, counts):\n" + "\n".join(f"    {line}" for line in body), namespace)
    return namespace["check"]


def _statements(line: Line, tolerance: str) -> list[str]:
    low, high = (f" {sign} {tolerance}" if tolerance else "" for sign in "-+")
    cases = [(f"use not in {line.uses}", 4)] if line.uses else []
    cases += [("known != known", 3)]
    value = f"(value := {line.value})"  # of what is not known nothing can be compared
    if line.low:
        cases.append((f"{value} < {line.low}{low}", 1))
        value = "value"
    cases += [(f"{value} > {line.high}{high}", 2)] if line.high else []
    found = [f"known = {line.known}"]
    for number, (condition, verdict) in enumerate(cases):
        found += [f"{'el' if number else ''}if {condition}:", f"    counts[{line.number}][{verdict}] += 1"]
    return [*found, "else:", f"    counts[{line.number}][0] += 1"]
