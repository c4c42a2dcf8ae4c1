"""The work done by this project: a rule pack, a table of assemblies for each use, and the counts that come out."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import work_pack
from work import CHECKS, SIZES, STATIONS, USES
from work_data import Assemblies
from work_reference import reference

import checker

STEP = 1_000
"""So many assemblies at once where every finding is told."""


class Uses(NamedTuple):
    """The assemblies of each use as a table of Arrow, with the record of what is alike for all of them."""

    tables: tuple[tuple[Any, checker.Record], ...]

    @classmethod
    def of(cls, some: Assemblies) -> Uses:
        """Tables of all uses."""
        every = []
        for number, use in enumerate(USES):
            own = some.some(np.flatnonzero(some.uses == number))
            every.append((pa.table(columns(own)), checker.record_from(work_pack.base(use))))
        return cls(tuple(every))


def columns(some: Assemblies) -> dict[str, Any]:
    """A column for each size at each station, by the names of the pack."""
    return {
        work_pack.column(size, station): some.sizes[size.full][station]
        for size in SIZES
        for station in range(STATIONS[size.place])
    }


@cache
def rulebook() -> checker.Rulebook:
    """The rulebook of the pack."""
    with tempfile.TemporaryDirectory() as folder:
        return checker.load_rulebook(work_pack.write_pack(Path(folder) / "pack"))


def this_project(some: Assemblies) -> Iterator[tuple[str, str, Callable[[], object]]]:
    """Name, how and work: counts alone, and counts with the findings of all that is missed."""
    book, uses = rulebook(), Uses.of(some)

    def checked(verdicts: tuple[checker.Verdict, ...]) -> Callable[[], object]:
        return lambda: [book.check_table(table, base, verdicts=verdicts) for table, base in uses.tables]

    yield "this project", "check_table, Arrow in, counts and status out, a table for each use", checked(())
    missed = (checker.Verdict.OUTSIDE, checker.Verdict.UNDECIDED, checker.Verdict.ADVISORY)
    yield "this project, with findings", "the same, and a row for each finding that is missed", checked(missed)


def agreement(some: Assemblies) -> int:
    """How many verdicts differ from those of exact arithmetic."""
    book = rulebook()
    counts = np.zeros((len(CHECKS), 5), dtype=np.int64)
    for start in range(0, len(some.uses), STEP):
        for table, base in Uses.of(some.some(slice(start, start + STEP))).tables:
            if table.num_rows:
                counts += _counts(book.check_table(table, base, verdicts=tuple(checker.Verdict)))
    return int(np.abs(counts - reference(len(some.uses))).sum()) // 2


def _counts(report: checker.TableReport) -> Any:
    """Counts by check and verdict, as the others have them."""
    if report.set_aside.num_rows:
        raise ValueError(f"rows were set aside: {report.set_aside['reason'][0]}")
    found = report.findings
    names, verdicts = (found[name].combine_chunks() for name in ("rule", "verdict"))
    order = {work_pack.rule_name(number): number for number in range(len(CHECKS))}
    rules = np.array([order[name] for name in names.dictionary.to_pylist()])[names.indices.to_numpy()]
    values, low = (found[name].to_numpy() for name in ("value", "must_low"))
    is_low = np.nan_to_num(values - low, nan=1.0) < 0
    kinds = {"within": 0, "outside": 2, "not measured": 3, "not applicable": 4}
    known = np.array([kinds.get(name, -1) for name in verdicts.dictionary.to_pylist()])
    codes = known[verdicts.indices.to_numpy()] - is_low * (known[verdicts.indices.to_numpy()] == 2)
    if (codes < 0).any():
        raise ValueError("a verdict that the work knows nothing of")
    counts = np.zeros((len(CHECKS), 5), dtype=np.int64)
    np.add.at(counts, (rules, codes), 1)
    # The others judge nothing at the last station, that has none next to it, or at the second of a pair.
    for number, check in enumerate(CHECKS):
        counts[number, 4] -= (work_pack.stations_of(check) - check.stations) * report.counts.num_rows
    return counts
