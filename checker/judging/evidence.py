"""What a record gives to judge by: its readings understood, corrected, looked over, and gathered into columns."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import NamedTuple, TypeAlias

from checker.errors import InputError, Problem
from checker.expressions.truth import Truths
from checker.frozen import FrozenMapping
from checker.judging import suspect_sheets
from checker.judging.agreement import looked_at_both_ways
from checker.judging.block import Block, marked
from checker.judging.columns import Columns
from checker.judging.gathering import columns_of
from checker.judging.outlived import outlived
from checker.judging.sheet_limits import names_for_sheets
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.compiled_packs import CompiledPacks
from checker.records.by_eye import EyeInspection, eye_inspections_in
from checker.records.change import aged, changes_in
from checker.records.concessions import Concession, Past, concessions_in, past_of
from checker.records.entry import Reading, default_units, understand
from checker.records.instruments import Instrument, instruments_of
from checker.records.layout import Layout, layout_of
from checker.records.part_sheet import PartSheet, part_sheets_in
from checker.records.record import Record
from checker.records.slips import looked_over
from checker.records.temperature import at_reference, surroundings_of

Place: TypeAlias = tuple[str, int]
"""A characteristic and one of its stations."""
Outlived: TypeAlias = Mapping[Place, str]
"""Why what can be computed does not count, by place."""


class Evidence(NamedTuple):
    """One record, understood; readings that are set aside are among its readings, but not in its columns.

    `usual` are the same columns with the usual uncertainty where no instrument is named. Of what is `disputed` what was
    measured and what can be computed do not agree; `outlived` says by place why nothing counts that can be computed
    there; `taken` gives columns and a block in which those of some names count as measured, and the others as computed.
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
    disputed: frozenset[str]
    outlived: Outlived
    taken: Callable[[Collection[str]], tuple[Columns, Block]]


class _Bench(NamedTuple):
    """What readings are laid out by."""

    characteristics: Mapping[str, CompiledCharacteristic]
    layout: Layout
    instruments: Mapping[str, Instrument]
    blank: Block

    def columns(self, readings: Sequence[Reading]) -> Columns:
        return columns_of(readings, self.characteristics, self.layout, self.instruments)

    def marked(self, places: Iterable[Place]) -> dict[str, Truths]:
        return marked(places, self.characteristics, self.layout)

    def block(
        self, readings: Sequence[Reading], columns: Columns, old: Outlived, disputed: Iterable[Place] = ()
    ) -> Block:
        refused = self.marked(_refused(readings, old))
        return Block(
            self.characteristics,
            self.layout,
            columns.measured,
            columns.views,
            beside=[(self.blank, columns.measured.keys() | refused.keys())],
            set_aside=refused,
            not_computed=self.marked((*disputed, *old)),
        )


def evidence_of(packs: CompiledPacks, blank: Callable[[Layout], Block], record: Record, day: date) -> Evidence:
    """Understand a record as it is on a day; raises InputError naming all that cannot be understood.

    `blank` gives an assembly of a layout on which nothing was measured.
    """
    items = packs.characteristics
    problems: list[Problem] = []
    layout = layout_of(record, packs.layered, packs.per, problems)
    defaults = default_units(record, problems)
    instruments = instruments_of(record, defaults, packs.materials, problems)
    changes = changes_in(record, items, layout, problems)
    uses = names_for_sheets(packs.layered)
    stated = (*packs.layered.part_limits.values(), *record.part_limits)
    sheets = part_sheets_in(stated, items, layout, uses, record.application, defaults, day, problems)
    concessions = tuple(concessions_in(record, packs.rules, layout, defaults, problems))
    seen = tuple(eye_inspections_in(record, packs.rules, layout, problems))
    written = understand(record, items, layout, defaults, instruments, problems)
    around = surroundings_of(record, items, packs.materials, written, defaults.get("temperature"), problems)
    if problems:
        raise InputError(problems)
    differing = frozenset(name for name, kind in packs.layered.stations.items() if kind.differ)
    corrected = tuple(aged(at_reference(written, around, instruments), changes, day))
    looked_at = looked_over(corrected, items, instruments, differing)
    bench = _Bench(items, layout, instruments, blank(layout))
    readings, columns, block, old, disputed = _laid_out(record, looked_at, bench)

    def taken(as_measured: Collection[str]) -> tuple[Columns, Block]:
        own = [
            as_written if as_written.characteristic in as_measured else other
            for as_written, other in zip(looked_at, readings, strict=True)
        ]
        found = bench.columns(own)
        return found, bench.block(own, found, old)

    return Evidence(
        record,
        layout,
        readings,
        columns,
        columns.as_usual(items),
        block,
        bench.marked(_refused(readings, old)),
        suspect_sheets.suspected(sheets, packs, block),
        concessions,
        seen,
        past_of(readings, changes, day),
        frozenset(name for name, _ in disputed),
        old,
        taken,
    )


class _LaidOut(NamedTuple):
    readings: tuple[Reading, ...]
    columns: Columns
    block: Block
    outlived: Outlived
    disputed: frozenset[Place]


def _laid_out(record: Record, readings: tuple[Reading, ...], bench: _Bench) -> _LaidOut:
    """The readings in columns, those set aside that what is computed contradicts."""
    columns = bench.columns(readings)
    alone = bench.block(readings, columns, {})
    old = FrozenMapping(outlived(record, readings, alone, lambda some: bench.block(some, bench.columns(some), {})))
    alone = bench.block(readings, columns, old) if old else alone
    looked_at, disputed = looked_at_both_ways(readings, alone, columns.as_usual(bench.characteristics))
    if not disputed:
        return _LaidOut(readings, columns, alone, old, disputed)
    columns = bench.columns(looked_at)
    return _LaidOut(looked_at, columns, bench.block(looked_at, columns, old, disputed), old, disputed)


def _refused(readings: Iterable[Reading], old: Outlived) -> Iterator[Place]:
    """The places at which something was written down that does not count; what is `old` may be measured anew."""
    counting = set()
    for reading in readings:
        place = reading.characteristic, reading.station
        if reading.set_aside:
            yield place
        else:
            counting.add(place)
    yield from (place for place in old if place not in counting)
