"""Judging one record: from its readings to a report."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Protocol

from checker.block import Block
from checker.columns import Columns, columns_of
from checker.compiled import CompiledCharacteristic, CompiledRule
from checker.conformity import Decision
from checker.context import Context
from checker.doubt import Doubts
from checker.entry import Reading, limit_at, understand
from checker.errors import InputError, Problem, UsageError, nearest
from checker.inputs import Inputs
from checker.instruments import instruments_of
from checker.judge import Judged, PartLimit, Unmeasured, Verdict, judge, measure_for, stated_parts
from checker.layers import Layered
from checker.layout import Layout, layout_of
from checker.picturing import CompiledPicture
from checker.record import Record
from checker.report import Flag, Report
from checker.slips import flags_on, is_impossible
from checker.units import UNITS


class Book(Protocol):
    """What judging needs of a rulebook."""

    @property
    def layered(self) -> Layered: ...
    @property
    def characteristics(self) -> Mapping[str, CompiledCharacteristic]: ...
    @property
    def rules(self) -> Mapping[str, CompiledRule]: ...
    @property
    def pictures(self) -> Mapping[str, CompiledPicture]: ...
    def chain(self, application: str) -> tuple[str, ...]: ...
    def inputs(self, rule: str, chain: tuple[str, ...]) -> Inputs: ...
    def unmeasured(self, chain: tuple[str, ...], layout: Layout) -> Unmeasured: ...


def check_record(
    book: Book, record: Record, application: str | None, before: str | None, decision: Decision | None
) -> Report:
    """Judge a record; what is not said here is taken from the record itself.

    Raises InputError for readings that cannot be understood, UsageError for unknown applications and milestones.
    """
    wanted = application or record.application
    chain = book.chain(wanted)
    milestone = before or record.before
    due = _due(book, milestone)
    per = {name: item.characteristic.per for name, item in book.characteristics.items()}
    layout = layout_of(record, book.layered.stations, per)
    readings = understand(record, book.characteristics, layout)
    sound = [
        reading for reading in readings if not is_impossible(reading, book.characteristics[reading.characteristic])
    ]
    columns = columns_of(sound, book.characteristics, layout, instruments_of(record))
    block = Block(book.characteristics, layout, columns.measured, columns.views)
    parts, sources = _part_limits(record, book)
    context = Context(
        block=block,
        characteristics=book.characteristics,
        stations=book.layered.stations,
        chain=chain,
        application_title=book.layered.applications[wanted].title,
        units={kind: UNITS[name].name for kind, name in record.section("units").items()},
        decision=decision or _decision(record),
        part_limits=parts,
        part_sources=sources,
        concessions=dict(_concessions(record, book, layout)),
    )
    flags = tuple(flags_on(readings, book.characteristics, context))
    context = replace(context, refused=dict(_refused(readings, sound)))
    judged = tuple(_judged(book, context, columns, due))
    return Report(
        record=record,
        application=wanted,
        before=milestone,
        judged=judged,
        later=tuple(name for name, rule in book.layered.rules.items() if rule.before not in due),
        flags=(*flags, *_idle_limits(record, context, judged)),
        readings=readings,
        packs=book.layered.packs,
        cautions=book.layered.cautions,
        milestones=book.layered.milestones,
        pictures=book.pictures,
        context=context,
    )


def _due(book: Book, before: str | None) -> frozenset[str]:
    """The milestones whose rules must hold by now: those up to the one about to be passed."""
    milestones = book.layered.milestones
    if before is None:
        return frozenset(milestones)
    if before not in milestones:
        hint = nearest(before, milestones) or f"known: {', '.join(milestones)}"
        raise UsageError(Problem(f"no milestone {before!r}", hint=hint))
    return frozenset(milestones[: milestones.index(before) + 1])


def _judged(book: Book, context: Context, columns: Columns, due: frozenset[str]) -> Iterator[Judged]:
    """What each rule that is due says; one on which nothing bears says what it says of every such record."""
    doubts = Doubts(context.block, columns.sources())
    unmeasured = book.unmeasured(context.chain, context.block.layout)
    for name in (name for name, rule in book.layered.rules.items() if rule.before in due):
        rule, inputs = book.rules[name], book.inputs(name, context.chain)
        part = stated_parts(context.part_limits, rule)
        if part is None and inputs.names.isdisjoint(columns.gathered):
            yield unmeasured.judged(rule)
        else:
            measures = measure_for(rule, doubts.block, context.chain, part)
            yield judge(rule, measures.rows(1), context.decision, doubts.about(measures, inputs))


def _decision(record: Record) -> Decision:
    data = record.document.data
    return Decision(data.get("decision", "guarded"), float(data.get("probability", 0.95)))


def _part_limits(record: Record, book: Book) -> tuple[dict[str, PartLimit], dict[str, str]]:
    problems: list[Problem] = []
    limits: dict[str, PartLimit] = {}
    sources: dict[str, str] = {}
    judged = {rule.judges for rule in book.layered.rules.values()}
    for name, given in record.section("part_limits").items():
        place = record.document.place("part_limits", name)
        item = book.characteristics.get(name)
        if item is None or item.unit is None:
            problems.append(Problem(f"no measured characteristic {name!r}", place, nearest(name, book.characteristics)))
            continue
        if name not in judged:
            problems.append(Problem(f"no rule judges {name} by itself: this limit would count nowhere", place))
            continue
        default = UNITS.get(record.section("units").get(item.unit.kind, ""))
        ends = {"at_least": -math.inf, "at_most": math.inf}
        for key in ends:
            if key in given:
                text = record.document.written("part_limits", name, key)
                where = record.document.place("part_limits", name, key)
                ends[key] = limit_at(text, item.unit, default, where, problems)
        if not {"at_least", "at_most"} & set(given):
            problems.append(Problem("expected at_least, at_most or both", place))
        if ends["at_least"] > ends["at_most"]:
            problems.append(Problem("at_least lies above at_most", place))
        limits[name] = PartLimit(ends["at_least"], ends["at_most"])
        sources[name] = given["source"]
    if problems:
        raise InputError(problems)
    return limits, sources


def _idle_limits(record: Record, context: Context, judged: Sequence[Judged]) -> Iterator[Flag]:
    """Part limits that count nowhere because no rule that judges their characteristic applies."""
    for name, source in context.part_sources.items():
        codes = [one.codes for one in judged if one.rule.rule.judges == name]
        if codes and all((code == Verdict.NOT_APPLICABLE).all() for code in codes):
            title = context.characteristics[name].characteristic.title
            place = record.document.place("part_limits", name)
            message = "this limit counts nowhere: no rule that judges this by itself applies here"
            yield Flag(name, title, "", source, message, False, place)


def _concessions(record: Record, book: Book, layout: Layout) -> Iterator[tuple[tuple[str, int | None], str]]:
    problems: list[Problem] = []
    for number, given in enumerate(record.section("concessions") or ()):
        name, station = given["rule"], str(given.get("station", ""))
        message, hint = _no_concession(name, station, book, layout)
        if message:
            problems.append(Problem(message, record.document.place("concessions", number), hint))
        index = int(station) - 1 if station.isdigit() else None
        yield (name, index), f"accepted by {given['by']} on {given['dated']}: {given['because']}"
    if problems:
        raise InputError(problems)


def _no_concession(name: str, station: str, book: Book, layout: Layout) -> tuple[str, str]:
    """Why there can be no such concession, and a hint; both empty when there can."""
    if name not in book.rules:
        return f"no rule {name!r}", nearest(name, book.rules)
    rule = book.rules[name]
    count = layout.count(rule.stations) if rule.stations else 0
    if not rule.rule.concession_allowed:
        return f"no concession may be given for {name!r}", ""
    if station and not (station.isdigit() and 1 <= int(station) <= count):
        return f"{name!r} judges no station {station}", f"it judges {count or 'the assembly, at no'} stations"
    return "", ""


def _refused(readings: Sequence[Reading], sound: Sequence[Reading]) -> Iterator[tuple[tuple[str, int], str]]:
    """Stations where something was written that cannot be: it does not count as measured."""
    kept = {id(reading) for reading in sound}
    for reading in readings:
        if id(reading) not in kept:
            yield (reading.characteristic, reading.station), f"written {reading.written}, which is not possible"
