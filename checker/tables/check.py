"""Checking a table: each of its rows an assembly, judged as the record would be that says the same."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from checker.checking.question import Question
from checker.errors import InputError
from checker.expressions.truth import Array, Truths
from checker.findings.display import shown_in
from checker.judging.judge import Judged, Verdict
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS
from checker.records.record import Record
from checker.reports.report import BROKEN, HELD, NOT_JUDGED
from checker.tables import arrow
from checker.tables.arrow import Codes
from checker.tables.assemblies import Assemblies
from checker.tables.places import Layout, laid_out
from checker.tables.verdicts import Book, Judging, Refused, Told
from checker.units.units import UNITS, Unit

MISSED = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY)
"""The verdicts of which every finding is told, unless others are asked for."""
_AT_ONCE = np.iinfo(np.int8).max
"""So many verdicts can be counted in a byte, which is many times as fast as in whole numbers."""
_JUDGED = (Verdict.WITHIN, Verdict.SEEN, Verdict.ADVISORY, Verdict.OUTSIDE)


class TableReport(NamedTuple):
    """What is said of the assemblies of a table, as tables of Arrow; all have `row`, from 0, and `assembly`.

    `counts` has a row for each assembly that was judged: its exit `status` (0 every must judged and held, 1 a must
    broken, 3 nothing broken but a must not judged) and how many findings there are of each verdict. `findings` has a
    row for each finding with one of the verdicts asked for, its value and limits in `unit`, `station` from 1, nothing
    for the assembly. `set_aside` says why other assemblies could not be judged: every row is in it or in `counts`.
    """

    counts: Any
    findings: Any
    set_aside: Any


def check_table(
    book: Book,
    table: Any,
    base: Record,
    asked: Question,
    layout: Layout = "wide",
    columns: Mapping[str, str] | None = None,
    assembly: str | None = None,
    instruments: Mapping[str, str] | None = None,
    verdicts: Sequence[Verdict] = MISSED,
) -> TableReport:
    """The verdicts on every row; see Rulebook.check_table."""
    laid = laid_out(arrow.Table(table), layout, columns, assembly, book.characteristics)
    assemblies = Assemblies(book, base, laid, instruments or {}, asked.day)
    judging = Judging(book, assemblies, asked)
    wanted = np.array(verdicts, dtype=np.int64)
    units = {kind: UNITS[name].name for kind, name in base.units.items()}
    rules = {name: book.rules[name] for name in judging.names}
    refused: dict[int, InputError] = {}
    counts: list[_Counts] = []
    found: list[_Found] = []
    for told in judging.told():
        if isinstance(told, Refused):
            refused[told.row] = told.error
            continue
        counts.append(_counted(told, is_open=bool(assemblies.found.layout.uncounted)))
        rules |= {
            name: judged_rule.rule for name, judged_rule in told.judged.items() if name not in rules
        }  # judged by a sheet alone
        for number, (name, rule) in enumerate(rules.items()) if verdicts else ():
            if name in told.judged:
                found.extend(_found_in(told, told.judged[name], number, wanted, shown_in(rule.unit, units)))
        del told  # the arrays of the next rows take its room
    names = arrow.texts(laid.assemblies)
    return TableReport(
        _counts_table(counts, names),
        _findings_table(found, names, rules, [shown_in(rule.unit, units) for rule in rules.values()]),
        _set_aside_table(refused, names),
    )


class _Counts(NamedTuple):
    """Of some rows: their numbers, how many verdicts of each kind, whether a must is open."""

    rows: Codes
    verdicts: Codes
    must_open: Truths


def _counted(told: Told, is_open: bool) -> _Counts:
    rows, kinds = len(told.rows), len(Verdict)
    alike = [judged_rule for judged_rule in told.judged.values() if len(judged_rule.codes) == 1]
    differing = [judged_rule for judged_rule in told.judged.values() if len(judged_rule.codes) > 1]
    for_all = np.bincount(np.concatenate([np.zeros(0, np.int64), *(one.codes[0] for one in alike)]), minlength=kinds)
    verdicts = np.repeat(for_all[:, np.newaxis], rows, axis=1)
    codes = np.concatenate([np.zeros((0, rows), np.int8), *(one.codes.T for one in differing)])
    for start in range(0, len(codes), _AT_ONCE):
        some = codes[start : start + _AT_ONCE]
        for verdict in map(int, Verdict):  # bytes are compared with what is no member of an Enum ten times as fast
            verdicts[verdict] += np.add.reduce((some == verdict).view(np.int8), axis=0, dtype=np.int8)
    open_musts = [np.full((1, rows), is_open or any(one.must_open.any() for one in alike))]
    must_open = np.concatenate([*open_musts, *(one.must_open.T for one in differing)]).any(axis=0)
    return _Counts(told.rows, verdicts.T, np.asarray(must_open))


def _counts_table(counts: Sequence[_Counts], names: Any) -> Any:
    rows = np.concatenate([np.zeros(0, dtype=np.int64), *(one.rows for one in counts)])
    order = np.argsort(rows)
    must_open = np.concatenate([np.zeros(0, dtype=np.bool_), *(one.must_open for one in counts)])[order]
    verdicts = np.concatenate([np.zeros((0, len(Verdict)), np.int64), *(one.verdicts for one in counts)])[order]
    is_judged = verdicts[:, list(_JUDGED)].any(axis=1)
    held = np.where(is_judged & ~must_open, HELD, NOT_JUDGED)
    status = np.where(verdicts[:, Verdict.OUTSIDE] > 0, BROKEN, held)
    each = {str(verdict).replace(" ", "_"): arrow.whole_numbers(verdicts[:, verdict]) for verdict in reversed(Verdict)}
    told = {"status": arrow.whole_numbers(status), "must_open": arrow.truths(must_open), **each}
    return arrow.table({**_named(rows[order], names), **told})


class _Found(NamedTuple):
    """Some findings of one rule; value and limits in the unit shown."""

    rule: int
    rows: Codes
    stations: Codes
    verdicts: Codes
    values: Array
    limits: Array


def _found_in(told: Told, judged: Judged, rule: int, wanted: Codes, unit: Unit) -> Iterator[_Found]:
    """The findings of a rule with one of the verdicts wanted."""
    is_wanted = np.isin(judged.codes, wanted)
    if is_wanted.any():
        at, stations = np.nonzero(np.broadcast_to(is_wanted, (len(told.rows), is_wanted.shape[1])))
        row = at if len(judged.codes) > 1 else np.zeros_like(at)
        seen = judged.measures.of_rows(len(judged.codes))
        in_si = np.vstack([seen.value[row, stations], seen.limits[:, row, stations]])
        shown = np.full_like(in_si, np.nan) if judged.rule.is_demand else (in_si - unit.offset) / unit.factor
        where = np.full(at.size, -1) if judged.rule.stations is None else stations
        yield _Found(rule, told.rows[at], where, judged.codes[row, stations].astype(np.int64), shown[0], shown[1:])


def _findings_table(
    missed: Sequence[_Found], names: Any, rules: Mapping[str, CompiledRule], units: Sequence[Unit]
) -> Any:
    def joined(arrays: Sequence[Any], kind: Any = np.int64) -> Any:
        return np.concatenate([np.zeros(0, dtype=kind), *arrays])

    rows = joined([one.rows for one in missed])
    in_order = np.argsort(rows, kind="stable")
    number = joined([np.full(one.rows.size, one.rule) for one in missed])[in_order]
    stations = joined([one.stations for one in missed])[in_order]
    limits = np.concatenate([np.zeros((len(POSITIONS), 0)), *(one.limits for one in missed)], axis=1)[:, in_order]
    verdicts = [str(verdict) for verdict in Verdict]
    told = {
        "rule": arrow.words(number, list(rules)),
        "title": arrow.words(number, [rule.rule.title for rule in rules.values()]),
        "station": arrow.whole_numbers(stations + 1, stations < 0),
        "verdict": arrow.words(joined([one.verdicts for one in missed])[in_order], verdicts),
        "value": arrow.numbers(joined([one.values for one in missed], np.float64)[in_order]),
        "unit": arrow.words(number, [unit.name for unit in units]),
    }
    bands = {f"{band}_{side}": arrow.numbers(own) for (band, side), own in zip(POSITIONS, limits, strict=True)}
    return arrow.table({**_named(rows[in_order], names), **told, **bands})


def _set_aside_table(refused: Mapping[int, InputError], names: Any) -> Any:
    rows = sorted(refused)
    return arrow.table(
        {**_named(np.array(rows, dtype=np.int64), names), "reason": arrow.texts(str(refused[row]) for row in rows)}
    )


def _named(rows: Any, names: Any) -> dict[str, Any]:
    """The columns that say which assembly a row is about."""
    numbers = rows.astype(np.int64)
    return {"row": arrow.whole_numbers(numbers), "assembly": arrow.taken(names, numbers)}
