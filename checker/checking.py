"""Judging one record: from its readings to a report."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Set
from contextlib import contextmanager
from datetime import date
from functools import partial
from typing import Protocol

import numpy as np

from checker.errors import Problem, UsageError, nearest
from checker.findings.context import Context
from checker.findings.flags import flags_on, flags_on_counts, flags_on_sheets, flags_on_warmth, notes_on
from checker.findings.flags_on_results import flags_on_results
from checker.judging import evidence
from checker.judging.choices import Open, judged_under_choices
from checker.judging.conformity import PROBABILITY, Decision
from checker.judging.doubt import Doubts
from checker.judging.evidence import Evidence, evidence_of
from checker.judging.inputs import Inputs
from checker.judging.judge import Judged, Measures, Seen, Unmeasured, Verdict, judge_together, measure_for
from checker.packs.compiled import CompiledRule
from checker.packs.picturing import CompiledPicture
from checker.records.entry import Reading
from checker.records.layout import Layout
from checker.records.record import Record
from checker.reports.report import Report
from checker.units.units import UNITS


class Book(evidence.Book, Protocol):
    """What judging needs of a rulebook."""

    @property
    def pictures(self) -> Mapping[str, CompiledPicture]: ...
    def chain(self, application: str) -> tuple[str, ...]: ...
    def inputs(self, rule: str, chain: tuple[str, ...]) -> Inputs: ...
    def resting(self, chain: tuple[str, ...], due: frozenset[str]) -> Mapping[str, Set[str]]: ...
    def unmeasured(self, chain: tuple[str, ...], layout: Layout) -> Unmeasured: ...


def check_record(
    book: Book,
    record: Record,
    application: str | None = None,
    before: str | None = None,
    decision: Decision | None = None,
    on: date | None = None,
) -> Report:
    """Judge a record on a day; what is not said here is taken from the record itself, the day is today.

    Raises InputError for readings that cannot be understood, UsageError for unknown applications and milestones.
    """
    wanted = application or record.application
    milestone = before or record.before
    with _placed(record, "application", wanted == record.application != ""):
        chain = book.chain(wanted)
    with _placed(record, "before", milestone == record.before is not None):
        due = _due(book, milestone)
    found = evidence_of(book, record, on or date.today())
    context = _context(book, found, chain, decision or decision_for(record, book))
    doubts, judged = _judged(book, context, found, due)
    return Report(
        record=record,
        application=wanted,
        before=milestone,
        judged=judged,
        later=tuple(name for name, rule in book.layered.rules.items() if rule.before not in due),
        flags=(
            *flags_on_counts(context),
            *flags_on(found.readings, context),
            *flags_on_warmth(doubts.block, judged, found.readings, context),
            *flags_on_results(doubts.block, found.readings, context),
            *flags_on_sheets(record, judged, context),
        ),
        notes=tuple(notes_on(found.readings, context)),
        readings=found.readings,
        packs=book.layered.packs,
        cautions=book.layered.cautions,
        milestones=book.layered.milestones,
        pictures=book.pictures,
        context=context,
    )


@contextmanager
def _placed(record: Record, key: str, is_stated: bool) -> Iterator[None]:
    """What is wrong with a name that the record states, told with its place there."""
    try:
        yield
    except UsageError as error:
        if not is_stated:
            raise
        place = record.document.place(key)
        raise UsageError([problem._replace(place=place) for problem in error.problems]) from None


def _context(book: Book, found: Evidence, chain: tuple[str, ...], decision: Decision) -> Context:
    return Context(
        block=found.block,
        characteristics=book.characteristics,
        stations=book.layered.stations,
        chain=chain,
        application_title=book.layered.applications[chain[0]].title,
        units={kind: UNITS[name].name for kind, name in found.record.section("units").items()},
        decision=decision,
        part_sheets=found.part_sheets,
        written=_written(found),
        refused=dict(_refused(found)),
        concessions=found.concessions,
        past=found.past,
        inputs=book.inputs,
        milestones=book.layered.milestone_titles,
    )


def decision_for(record: Record, book: Book) -> Decision:
    """The decision rule that the record states, else the last pack that states one."""
    data = record.document.data
    if "decision" in data:
        return Decision(data["decision"], float(data.get("probability", PROBABILITY)), "the record")
    for pack in reversed(book.layered.packs):
        if pack.decision:
            return Decision(pack.decision, pack.probability or PROBABILITY, f"pack {pack.name}")
    return Decision()


def _due(book: Book, before: str | None) -> frozenset[str]:
    """The milestones whose rules must hold by now: those up to the one about to be passed."""
    milestones = book.layered.milestones
    if before is None:
        return frozenset(milestones)
    if before not in milestones:
        hint = nearest(before, milestones) or f"known: {', '.join(milestones)}"
        raise UsageError(Problem(f"no milestone {before!r}", hint=hint))
    return frozenset(milestones[: milestones.index(before) + 1])


def _judged(book: Book, context: Context, found: Evidence, due: frozenset[str]) -> tuple[Doubts, tuple[Judged, ...]]:
    """What each rule that is due says; one on which nothing bears says what it says of every such record."""
    names = [name for name, rule in book.layered.rules.items() if rule.before in due]
    resting = book.resting(context.chain, due)
    bearing = {name for written in (*found.columns.gathered, *found.set_aside) for name in resting.get(written, ())}
    inputs = [book.inputs(name, context.chain) for name in names if name in bearing]
    doubts = Doubts(found.block, found.columns, inputs, context.decision.needs_instruments)
    bearing |= {name for name in names if context.part_sheets and context.part_limit(book.rules[name])}
    seen: list[Seen] = []
    for name in filter(bearing.__contains__, names):
        rule = book.rules[name]
        again = partial(measure_for, rule, chain=context.chain, part=context.part_limit(rule))
        measures = again(doubts.block)
        is_missing = _is_missing_for_certain(rule, measures)
        own = book.inputs(name, context.chain)
        doubt = None if is_missing else doubts.about_rule(rule, context.chain, measures, own, again)
        seen.append(Seen(rule, measures, doubt))
    judged = {one.rule.name: one for one in judge_together(seen, context.decision)}
    for name in [name for name, one in judged.items() if (one.codes == Verdict.NOT_MEASURED).any()]:
        again = partial(measure_for, book.rules[name], chain=context.chain, part=context.part_limit(book.rules[name]))
        left_open = Open(judged[name], book.inputs(name, context.chain), again)
        judged[name] = judged_under_choices(left_open, found, context.chain, context.decision)
    unmeasured = book.unmeasured(context.chain, found.layout).judged(name for name in names if name not in judged)
    return doubts, tuple(judged.get(name) or unmeasured[name] for name in names)


def _is_missing_for_certain(rule: CompiledRule, measures: Measures) -> bool:
    """Whether nothing is there to be doubted: no value at any station, and no condition that could be in doubt."""
    return rule.when is None and rule.unless is None and bool(np.isnan(measures.value[0]).all())


def _written(found: Evidence) -> Mapping[tuple[str, int], tuple[Reading, ...]]:
    """The readings that count, by characteristic and station."""
    by_place: dict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in found.readings:
        if not reading.set_aside:
            by_place[reading.characteristic, reading.station].append(reading)
    return {place: tuple(readings) for place, readings in by_place.items()}


def _refused(found: Evidence) -> Iterator[tuple[tuple[str, int], str]]:
    """Why what was written for a station does not count as measured."""
    for reading in found.readings:
        if reading.set_aside:
            yield (reading.characteristic, reading.station), f"written {reading.written}, {reading.set_aside}"
