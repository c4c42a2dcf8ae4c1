"""What a record gives to judge by: its readings understood, corrected, looked over, and gathered into columns."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import date
from typing import NamedTuple, Protocol

import numpy as np

from checker.errors import InputError, Problem
from checker.expressions.truth import Truths
from checker.judging.agreement import looked_at_both_ways
from checker.judging.block import Block
from checker.judging.columns import Columns, columns_of
from checker.judging.outlived import outlived
from checker.judging.sheet_limits import names_for_sheets
from checker.judging.suspect_sheets import suspected
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.layers import Layered
from checker.records.by_eye import EyeInspection, eye_inspections_in
from checker.records.change import aged, changes_in
from checker.records.concessions import Concession, Past, concessions_in, past_of
from checker.records.entry import Reading, default_units, understand
from checker.records.instruments import instruments_of
from checker.records.layout import Layout, layout_of
from checker.records.part_sheet import PartSheet, part_sheets_in
from checker.records.record import Record
from checker.records.slips import looked_over
from checker.records.temperature import at_reference, surroundings_of


class Book(Protocol):
    """What understanding a record needs of a rulebook."""

    @property
    def layered(self) -> Layered: ...
    @property
    def characteristics(self) -> Mapping[str, CompiledCharacteristic]: ...
    @property
    def per(self) -> Mapping[str, str | None]: ...
    @property
    def rules(self) -> Mapping[str, CompiledRule]: ...
    @property
    def expansions(self) -> Mapping[str, float]: ...
    def blank(self, layout: Layout) -> Block: ...


class Evidence(NamedTuple):
    """One record, understood; readings that are set aside are among its readings, but not in its columns.

    `usual` are the same columns with the usual uncertainty where no instrument is named. `disputed` says by name where
    what was measured and what can be computed do not agree; `taken` gives columns and a block in which those of some
    names count as measured, and the others as computed.
    """

    record: Record
    layout: Layout
    readings: tuple[Reading, ...]
    columns: Columns
    usual: Columns
    block: Block
    set_aside: Mapping[str, Truths]
    part_sheets: Mapping[str, PartSheet]
    concessions: tuple[Concession, ...]
    seen: tuple[EyeInspection, ...]
    past: Past
    disputed: Mapping[str, Truths]
    taken: Callable[[Collection[str]], tuple[Columns, Block]]


def evidence_of(book: Book, record: Record, day: date) -> Evidence:
    """Understand a record as it is on a day; raises InputError naming all that cannot be understood."""
    items = book.characteristics
    problems: list[Problem] = []
    layout = layout_of(record, book.layered, book.per, problems)
    defaults = default_units(record, problems)
    instruments = instruments_of(record, defaults, book.expansions, problems)
    around = surroundings_of(record, items, book.expansions, defaults.get("temperature"), problems)
    changes = changes_in(record, items, layout, problems)
    uses = names_for_sheets(book.layered)
    stated = (*book.layered.part_limits.values(), *record.part_limits)
    sheets = part_sheets_in(stated, items, layout, uses, record.application, defaults, day, problems)
    concessions = tuple(concessions_in(record, book.rules, layout, defaults, problems))
    seen = tuple(eye_inspections_in(record, book.rules, layout, problems))
    written = understand(record, items, layout, defaults, instruments, problems)
    if problems:
        raise InputError(problems)
    differing = frozenset(name for name, kind in book.layered.stations.items() if kind.differ)
    corrected = tuple(aged(at_reference(written, around, instruments), changes, day))
    written = readings = looked_over(corrected, items, instruments, differing)
    columns = columns_of(readings, items, layout, instruments)
    usual = columns.as_usual(items)
    alone = Block(items, layout, columns.measured, columns.views, set_aside=_set_aside(readings, items, layout))
    problems.extend(outlived(record, readings, alone))
    if problems:
        raise InputError(problems)
    looked_at, disputed = looked_at_both_ways(readings, alone, usual)
    if disputed:
        readings, columns = looked_at, columns_of(looked_at, items, layout, instruments)
        usual = columns.as_usual(items)
    refused = _set_aside(readings, items, layout)
    block = Block(
        items,
        layout,
        columns.measured,
        columns.views,
        beside=[(book.blank(layout), columns.measured.keys() | refused.keys())],
        set_aside=refused,
        disputed=disputed,
    )
    past = past_of(readings, changes, day)

    def taken(as_measured: Collection[str]) -> tuple[Columns, Block]:
        own = [
            as_written if as_written.characteristic in as_measured else other
            for as_written, other in zip(written, readings, strict=True)
        ]
        found = columns_of(own, items, layout, instruments)
        return found, Block(items, layout, found.measured, found.views, set_aside=_set_aside(own, items, layout))

    return Evidence(
        record,
        layout,
        readings,
        columns,
        usual,
        block,
        refused,
        suspected(sheets, book, block),
        concessions,
        seen,
        past,
        disputed,
        taken,
    )


def _set_aside(
    readings: Iterable[Reading], characteristics: Mapping[str, CompiledCharacteristic], layout: Layout
) -> dict[str, Truths]:
    """At which stations something was written down that does not count, by name."""
    found: dict[str, Truths] = {}
    for reading in readings:
        if reading.set_aside:
            count = layout.count(characteristics[reading.characteristic].characteristic.per)
            found.setdefault(reading.characteristic, np.zeros((1, count), dtype=np.bool_))[0, reading.station] = True
    return found
