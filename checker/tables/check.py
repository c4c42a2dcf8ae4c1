"""Checking a table: each of its rows an assembly, judged as the record would be that says the same."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from checker.checking.book import Book
from checker.checking.question import question_of
from checker.errors import InputError, require
from checker.findings.display import shown_in
from checker.frozen import FrozenMapping
from checker.judging.judge import Verdict
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS
from checker.records.record import Record
from checker.reports.report import BROKEN, HELD, NOT_JUDGED
from checker.reports.terms import Terms
from checker.tables import arrow
from checker.tables.alike import record_for, require_words
from checker.tables.assemblies import Assemblies
from checker.tables.places import Layout, laid_out
from checker.tables.report import TableReport
from checker.tables.told import Told
from checker.tables.verdicts import Judging, Refused
from checker.units.units import UNITS, Unit

_JUDGED = (Verdict.WITHIN, Verdict.SEEN, Verdict.ADVISORY, Verdict.OUTSIDE)


def check_table(
    book: Book,
    table: Any,
    record: Record | Mapping[str, Any] | None,
    layout: Layout,
    columns: Mapping[str, str] | None,
    assembly: str | None,
    units: Mapping[str, str] | None,
    instruments: Mapping[str, str] | None,
    verdicts: Collection[Verdict],
    application: str | None,
    terms: Terms,
) -> TableReport:
    """The verdicts on every row; see Rulebook.check_table."""
    require_words(columns, "give columns by name, as in {'shaft': 'shaft_diameter@1'}")
    gauges = require_words(instruments, "give instruments by characteristic, as in {'shaft_diameter': 'micrometer'}")
    in_units = require_words(units, "give units by kind, as in {'length': 'mm'}")
    require(assembly or "", "give the name of a column", str)
    require(verdicts, "give some, as in verdicts=[Verdict.OUTSIDE]", Collection)
    for verdict in verdicts:
        require(verdict, "give some, as in verdicts=[Verdict.OUTSIDE]", Verdict)
    base = record_for(book, record, application, in_units)
    asked = question_of(book, base, application, **terms)
    laid = laid_out(arrow.Table(table), layout, columns, assembly, book.characteristics)
    assemblies = Assemblies(book, base, laid, gauges, asked.day)
    judging = Judging(book, assemblies, asked, tuple(verdicts))
    shown = {kind: UNITS[name].name for kind, name in base.units.items()}
    rules = {**judging.rules}
    refused: dict[int, InputError] = {}
    told: list[Told] = []
    for one in judging.told():
        if isinstance(one, Refused):
            refused[one.row] = one.error
        else:
            told.append(one)
            rules |= {found.rule.name: found.rule for found in one.found}  # judged by a sheet alone
    names = arrow.texts(laid.assemblies)
    return TableReport(
        _counts_table(told, bool(assemblies.found.layout.uncounted), names),
        _findings_table(told, names, rules, [shown_in(rule.unit, shown) for rule in rules.values()]),
        _set_aside_table(refused, names),
        FrozenMapping(judging.failed),
    )


def _counts_table(told: Sequence[Told], is_open: bool, names: Any) -> Any:
    rows = np.concatenate([np.zeros(0, dtype=np.int64), *(one.rows for one in told)])
    order = np.argsort(rows)
    must_open = np.concatenate([np.zeros(0, dtype=np.bool_), *(one.must_open for one in told)])[order] | is_open
    verdicts = np.concatenate([np.zeros((0, len(Verdict)), np.int64), *(one.verdicts for one in told)])[order]
    is_judged = verdicts[:, list(_JUDGED)].any(axis=1)
    held = np.where(is_judged & ~must_open, HELD, NOT_JUDGED)
    status = np.where(verdicts[:, Verdict.OUTSIDE] > 0, BROKEN, held)
    each = {str(verdict).replace(" ", "_"): arrow.whole_numbers(verdicts[:, verdict]) for verdict in reversed(Verdict)}
    refused = np.concatenate([np.zeros(0, dtype=np.int64), *(one.refused for one in told)])[order]
    said = {"status": arrow.whole_numbers(status), "must_open": arrow.truths(must_open), **each}
    said["refused"] = arrow.whole_numbers(refused)
    return arrow.table({**_named(rows[order], names), **said})


def _findings_table(told: Sequence[Told], names: Any, rules: Mapping[str, CompiledRule], units: Sequence[Unit]) -> Any:
    def joined(arrays: Iterable[Any], kind: Any = np.int64) -> Any:
        return np.concatenate([np.zeros(0, dtype=kind), *arrays])

    every = [one for said in told for one in said.found]
    numbers = {name: number for number, name in enumerate(rules)}
    rows = joined(said.rows[one.rows] for said in told for one in said.found)
    number = np.repeat(
        np.array([numbers[one.rule.name] for one in every], dtype=np.int64), [one.rows.size for one in every]
    )
    in_order = np.lexsort((number, rows))
    number = number[in_order]
    stations = joined(one.stations if one.rule.stations else np.full_like(one.stations, -1) for one in every)[in_order]
    in_si = np.concatenate(
        [np.zeros((1 + len(POSITIONS), 0)), *(np.vstack([one.values, one.limits]) for one in every)], axis=1
    )
    offset, factor = (np.array([getattr(unit, part) for unit in units])[number] for part in ("offset", "factor"))
    is_demand = np.array([rule.is_demand for rule in rules.values()], dtype=np.bool_)[number]
    shown = np.where(is_demand, np.nan, (in_si[:, in_order] - offset) / factor)
    verdicts = [str(verdict) for verdict in Verdict]
    said = {
        "rule": arrow.words(number, list(rules)),
        "title": arrow.words(number, [rule.rule.title for rule in rules.values()]),
        "station": arrow.whole_numbers(stations + 1, stations < 0),
        "verdict": arrow.words(joined(one.verdicts for one in every)[in_order], verdicts),
        "value": arrow.numbers(shown[0]),
        "unit": arrow.words(number, [unit.name for unit in units]),
    }
    bands = {f"{band}_{side}": arrow.numbers(own) for (band, side), own in zip(POSITIONS, shown[1:], strict=True)}
    return arrow.table({**_named(rows[in_order], names), **said, **bands})


def _set_aside_table(refused: Mapping[int, InputError], names: Any) -> Any:
    rows = sorted(refused)
    return arrow.table(
        {**_named(np.array(rows, dtype=np.int64), names), "reason": arrow.texts(str(refused[row]) for row in rows)}
    )


def _named(rows: Any, names: Any) -> dict[str, Any]:
    """The columns that say which assembly a row is about."""
    numbers = rows.astype(np.int64)
    return {"row": arrow.whole_numbers(numbers), "assembly": arrow.taken(names, numbers)}
