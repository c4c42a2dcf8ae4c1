"""The plan of a sheet: what is to be measured, where, in which order, and what it should come to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from checker.expressions.expression import Expression
from checker.expressions.names import MEASURED, Column
from checker.expressions.truth import CANNOT_TELL, TRUE
from checker.findings.context import Context, place_name
from checker.findings.display import shown_in
from checker.grouping import grouped
from checker.judging.block import Block
from checker.judging.columns import VIEWS
from checker.judging.inspection import TOLD
from checker.judging.judge import Judged, Verdict
from checker.packs.compiled import CompiledCharacteristic, inputs_of
from checker.records.filled import Filled, filled_in
from checker.records.layout import Layout
from checker.records.notes import ASSEMBLY
from checker.records.reading_keys import ALL
from checker.records.record import Record
from checker.reports.report import Report
from checker.rulebook import Rulebook
from checker.sheets.targets import Target, target_of
from checker.units.units import Unit

_OF_NO_USE = (Verdict.NOT_APPLICABLE, Verdict.NOT_COVERED, Verdict.NOT_ASKED, Verdict.SEEN)
_SEVERAL = 4


@dataclass(frozen=True, slots=True)
class Spot:
    """One place to measure at: the station as a record names it, and in words."""

    station: str
    where: str


@dataclass(frozen=True, slots=True)
class Line:
    """One characteristic to be measured: at which spots, for which milestone, with which targets.

    `due` is how people say the milestone, "before the gears go on"; `unit` is that of bare numbers; `rows` says how the
    stations lie, from the front; `spaces` how many readings are wanted at each; `filled` holds what is written already,
    by station, perhaps among the record's facts.
    """

    item: CompiledCharacteristic
    before: str
    due: str
    unit: Unit | None
    spots: tuple[Spot, ...]
    rows: tuple[tuple[int, ...], ...] = ()
    spaces: int = 1
    targets: tuple[Target, ...] = ()
    filled: Mapping[str, Filled] = field(default_factory=dict)
    is_among_facts: bool = False

    @property
    def name(self) -> str:
        return self.item.name

    @property
    def title(self) -> str:
        return self.item.characteristic.title

    @property
    def unit_name(self) -> str:
        """The unit as it is written behind a number; nothing for choices and plain numbers."""
        return "" if self.unit is None or self.unit.name in ("1", "ratio") else self.unit.name

    @property
    def unit_words(self) -> str:
        """The same for people: a difference of temperatures says that it is one."""
        is_difference = self.unit is not None and self.unit.shown != self.unit.name
        return f"{self.unit.shown} difference" if self.unit is not None and is_difference else self.unit_name

    @property
    def stations(self) -> tuple[str, ...]:
        return tuple(spot.station for spot in self.spots)

    @property
    def is_fact(self) -> bool:
        """Whether the record states it as a fact at every station, so that it need not be measured."""
        return self.is_among_facts and all(map(self.is_filled, self.stations))

    @property
    def is_written_once(self) -> bool:
        """Whether one place does for it: there is but one station, or one choice goes for all until some differ."""
        differs = any(station in self.filled for station in self.stations)
        return len(self.spots) <= 1 or bool(self.item.characteristic.choices and not differs)

    @property
    def asked_at(self) -> tuple[Spot, ...]:
        """Where it is to be written down: once for all its stations where one place does."""
        return (Spot(ALL, "all alike"),) if len(self.spots) > 1 and self.is_written_once else self.spots

    def is_filled(self, station: str) -> bool:
        """Whether a value is written for a station, or for all."""
        return any(self.filled[key].is_measured for key in (station, ALL, ASSEMBLY) if key in self.filled)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What to measure on one assembly for one use, in the order a builder measures."""

    report: Report
    lines: tuple[Line, ...]

    @property
    def record(self) -> Record:
        return self.report.record

    @property
    def measured(self) -> tuple[Line, ...]:
        """The lines without those that the record states as facts."""
        return tuple(line for line in self.lines if not line.is_fact)

    @property
    def facts(self) -> tuple[Line, ...]:
        """The lines that it states as facts."""
        return tuple(line for line in self.lines if line.is_fact)


def by_system(lines: Iterable[Line]) -> Iterator[tuple[str, tuple[Line, ...]]]:
    """The lines of each system, systems in the order of their first line."""
    for system, own in grouped(lines, lambda line: line.item.characteristic.system).items():
        yield system, tuple(own)


def plan(rulebook: Rulebook, report: Report, musts_only: bool = False) -> Sheet:
    """What the rules of a report still rest on, and what its record holds already.

    Rules that cannot apply, state nothing for this use, or are not asked for, ask for nothing; what is derived is not
    asked for. Where a sample is enough, only the stations that it is drawn at have a place.
    """
    planner = _Planner(rulebook, report, musts_only)
    return Sheet(report, tuple(planner.lines()))


class _Planner:
    def __init__(self, rulebook: Rulebook, report: Report, musts_only: bool) -> None:
        self.report = report
        self.context: Context = report.context
        self.items = rulebook.characteristics
        self.filled = filled_in(
            report.record.notes, {name: item.characteristic.per for name, item in self.items.items()}
        )
        self.judged = [
            judged
            for judged in report.judged
            if not np.isin(judged.codes, _OF_NO_USE).all() and (judged.measures.asks_must or not musts_only)
        ]
        self.needed: dict[str, int] = {}
        self.wanted: dict[str, set[int]] = {}
        self.several: set[str] = set()
        for judged in self.judged:
            self.need(judged)

    def need(self, judged: Judged) -> None:
        expressions = list(self.expressions(judged))
        milestone = self.report.milestones.index(judged.rule.rule.before)
        names = reached(expressions, self.items, self.context.block)
        for name in names:
            self.needed[name] = min(milestone, self.needed.get(name, milestone))
        for name, station in self.places(judged):
            if name in names:
                self.wanted.setdefault(name, set()).add(station)
        self.several |= {
            column.name for expression in expressions for column in expression.columns if column.view in VIEWS
        }

    def expressions(self, judged: Judged) -> Iterator[Expression]:
        """What the rule needs; only its occasion, as long as that is not known anywhere."""
        asked, occasion = judged.asked, judged.rule.occasion
        if asked is not None and occasion is not None and not (asked == TRUE).any():
            open_at = (asked == CANNOT_TELL) & (judged.codes == Verdict.NOT_MEASURED)
            yield occasion
            if open_at.all() or not np.isin(judged.codes, TOLD).any():
                return
        yield from judged.rule.expressions(self.context.chain)

    def places(self, judged: Judged) -> Iterator[tuple[str, int]]:
        """What is seen from the stations at which the rule asks for something or was judged."""
        rule = judged.rule
        below = [self.context.inputs(rule.name)]
        if rule.occasion is not None:
            below.append(inputs_of([rule.occasion], self.items))
        for station in np.flatnonzero(judged.codes[0] != Verdict.NOT_ASKED).tolist():
            for inputs in below:
                yield from self.context.block.places_of(inputs, rule.stations, station)

    def lines(self) -> list[Line]:
        order = {name: number for number, name in enumerate(self.items)}
        never = len(self.report.milestones)
        names = sorted({*self.needed, *self.filled}, key=lambda name: (self.needed.get(name, never), order[name]))
        targets = self.targets(names)
        return [self.line(name, targets.get(name, ())) for name in names]

    def line(self, name: str, targets: Sequence[Target]) -> Line:
        item = self.items[name]
        milestone = self.needed.get(name)
        before = "" if milestone is None else self.report.milestones[milestone]
        layout = self.context.block.layout
        return Line(
            item=item,
            before=before,
            due=self.context.milestones.get(before, ""),
            unit=None if item.unit is None else shown_in(item.unit, self.context.units),
            spots=tuple(self.spots(item, layout)),
            rows=_rows(item.characteristic.per, layout),
            spaces=_SEVERAL if name in self.several and not item.characteristic.series else 1,
            targets=tuple(targets),
            filled=self.filled_at(name, item.characteristic.per),
            is_among_facts=any(fact.characteristic == name for fact in self.report.record.facts),
        )

    def filled_at(self, name: str, per: str | None) -> Mapping[str, Filled]:
        """What is written, by station; where there is one station only, its value may stand without its number."""
        stations = self.filled.get(name, {})
        if per is not None and set(stations) == {ASSEMBLY} and self.context.block.layout.count(per) == 1:
            return {"1": stations[ASSEMBLY]}
        return stations

    def spots(self, item: CompiledCharacteristic, layout: Layout) -> Iterator[Spot]:
        per = item.characteristic.per
        if per is None:
            yield Spot(ASSEMBLY, "")
        else:
            count = layout.count(per)
            wanted = sorted(self.wanted.get(item.name) or range(count))
            filled = (key for key in self.filled.get(item.name, {}) if key.isdigit() and int(key) <= count)
            places = sorted({*wanted, *(int(key) - 1 for key in filled)})
            yield from (Spot(str(n + 1), place_name(per, n, self.context)) for n in places)

    def targets(self, names: Sequence[str]) -> dict[str, list[Target]]:
        """Each rule's target stands by what it judges, or else by the last reading that what it judges needs.

        A rule of which only the occasion is asked for so far has none.
        """
        place = {name: number for number, name in enumerate(names)}
        targets: dict[str, list[Target]] = {}
        for judged in self.judged:
            column = judged.rule.judges.column
            wanted = reached([judged.rule.judges], self.items, self.context.block)
            if column is not None and column.name in place:
                wanted = {column.name}
            if wanted and wanted <= place.keys():
                last = max(wanted, key=place.__getitem__)
                targets.setdefault(last, []).append(target_of(judged, self.context))
        return targets


def reached(expressions: Iterable[Expression], items: Mapping[str, CompiledCharacteristic], block: Block) -> set[str]:
    """What has to be measured for some expressions.

    What is derived is asked for only where it was measured throughout, or where a bench takes it directly and it is not
    yet known throughout.
    """
    names: set[str] = set()
    seen: set[tuple[str, bool]] = set()
    waiting = list(expressions)
    while waiting:
        for column in waiting.pop().columns:
            item = items.get(column.name)
            key = (column.name, column.view == MEASURED)
            if item is None or key in seen:
                continue
            seen.add(key)
            if item.derived is None or _is_read_by_itself(item, block):
                names.add(column.name)
            elif column.view != MEASURED:
                waiting.append(item.derived)
    return names


def _is_read_by_itself(item: CompiledCharacteristic, block: Block) -> bool:
    """Whether something derived was measured throughout, or is to be, as a bench does."""
    direct = block.measured.get(item.name)
    if direct is not None and not np.isnan(direct).any():
        return True
    known = block.fetch(Column(item.name, at=item.characteristic.per))
    return item.characteristic.taken_directly and bool(np.isnan(known).any())


def _rows(stations: str | None, layout: Layout) -> tuple[tuple[int, ...], ...]:
    """How stations lie: as stated, or as those they belong to; else in one row."""
    if stations is None:
        return ()
    own = layout.rows.get(stations)
    if own:
        return own
    parent = layout.parents.get(stations)
    everything = tuple(range(1, layout.count(stations) + 1))
    if parent is None:
        return (everything,)
    belongs = layout.children(stations, parent) + 1
    return tuple(
        tuple(n for place in row for n in everything if belongs[n - 1] == place) for row in _rows(parent, layout)
    )
