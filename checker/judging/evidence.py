"""What a record gives to judge by: its readings understood, corrected, looked over, and gathered into columns."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import NamedTuple, Protocol, TypeAlias

from checker.errors import InputError, Problem
from checker.expressions.truth import Truths
from checker.frozen import FrozenMapping
from checker.judging.agreement import looked_at_both_ways
from checker.judging.block import Block, marked
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

Place: TypeAlias = tuple[str, int]
"""A characteristic and one of its stations."""
Outlived: TypeAlias = Mapping[Place, str]


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

    `usual` are the same columns with the usual uncertainty where no instrument is named. Of what is `disputed`
    what was measured and what can be computed do not agree; `outlived` says by place why nothing counts that can be
    computed there; `taken` gives columns and a block in which those of some
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
    disputed: frozenset[str]
    outlived: Outlived
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

    def block_of(own: Sequence[Reading], gathered: Columns, old: Outlived, disputed: Iterable[Place] = ()) -> Block:
        refused = marked(_refused(own, old), items, layout)
        return Block(
            items,
            layout,
            gathered.measured,
            gathered.views,
            beside=[(book.blank(layout), gathered.measured.keys() | refused.keys())],
            set_aside=refused,
            disputed=marked((*disputed, *old), items, layout),
        )

    def made_of(own: Sequence[Reading]) -> Block:
        return block_of(own, columns_of(own, items, layout, instruments), {})

    alone = block_of(readings, columns, {})
    old = FrozenMapping(outlived(record, readings, alone, made_of))
    alone = block_of(readings, columns, old) if old else alone
    looked_at, disputed = looked_at_both_ways(readings, alone, usual)
    if disputed:
        readings, columns = looked_at, columns_of(looked_at, items, layout, instruments)
        usual = columns.as_usual(items)
    block = block_of(readings, columns, old, disputed)
    past = past_of(readings, changes, day)

    def taken(as_measured: Collection[str]) -> tuple[Columns, Block]:
        own = [
            as_written if as_written.characteristic in as_measured else other
            for as_written, other in zip(written, readings, strict=True)
        ]
        found = columns_of(own, items, layout, instruments)
        return found, block_of(own, found, old)

    return Evidence(
        record,
        layout,
        readings,
        columns,
        usual,
        block,
        marked(_refused(readings, old), items, layout),
        suspected(sheets, book, block),
        concessions,
        seen,
        past,
        frozenset(name for name, _ in disputed),
        old,
        taken,
    )


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
