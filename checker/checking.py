"""Judging one record: from its readings to a report."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from contextlib import contextmanager
from datetime import date
from functools import cache, partial
from typing import NamedTuple, Protocol

import numpy as np

from checker.errors import Problem, UsageError, nearest
from checker.expressions.faults import noting
from checker.expressions.names import COMPUTED, Column, Scope
from checker.findings.context import Context
from checker.findings.flags import (
    flags_on,
    flags_on_counts,
    flags_on_sheets,
    flags_on_warmth,
    notes_on,
)
from checker.findings.flags_on_results import flags_on_results
from checker.frozen import Applied, FrozenMapping
from checker.graph import NO_INPUTS, Inputs, behind
from checker.judging import evidence
from checker.judging.block import Block
from checker.judging.choices import Open, judged_under_choices
from checker.judging.conformity import PROBABILITY, Decision
from checker.judging.doubt import Doubts
from checker.judging.either_way import judged_either_way
from checker.judging.evidence import Evidence, evidence_of
from checker.judging.face_value import FaceValue
from checker.judging.inspection import Inspector
from checker.judging.judge import Judged, Seen, Unmeasured, Verdict, judge_together, left_undecided
from checker.judging.measures import Measures, measure_for
from checker.judging.proof import Asked
from checker.judging.sheet_limits import held_open, sheets_at_hand
from checker.judging.sheet_rules import rules_of_sheets
from checker.packs.compiled import CompiledRule
from checker.packs.inspection import EVERYTHING, Plan
from checker.packs.layers import Retired
from checker.packs.picturing import CompiledPicture
from checker.packs.rule import Rule
from checker.packs.titles import Titles, lowered
from checker.plugin import Plugin, used_of
from checker.plugins import Plugins
from checker.records.entry import Reading
from checker.records.layout import Layout
from checker.records.part_sheet import PartSheet
from checker.records.record import Record
from checker.reports.report import Report
from checker.units.units import UNITS


class Book(evidence.Book, Protocol):
    """What judging needs of a rulebook."""

    choice: str
    scope: Scope

    @property
    def judging(self) -> Mapping[str, Rule]: ...
    @property
    def plugins(self) -> Plugins: ...
    @property
    def pictures(self) -> Mapping[str, CompiledPicture]: ...
    def chain(self, application: str) -> tuple[str, ...]: ...
    def plan(self, application: str, inspection: str | None = None) -> Plan: ...
    def inputs(self, rule: str, chain: tuple[str, ...]) -> Inputs: ...
    def resting(self, chain: tuple[str, ...], due: frozenset[str]) -> Mapping[str, Set[str]]: ...
    def asking(self, rule: str) -> Inputs: ...
    def unmeasured(self, chain: tuple[str, ...], layout: Layout) -> Unmeasured: ...
    def unasked(self, chain: tuple[str, ...], layout: Layout, plan: Plan) -> dict[str, Judged]: ...


def check_record(
    book: Book,
    record: Record,
    application: str | None = None,
    before: str | None = None,
    decision: Decision | None = None,
    on: date | None = None,
    inspection: str | None = None,
    since: Report | None = None,
) -> Report:
    """Judge a record on a day; what is not said here is taken from the record itself, the day is today.

    What a report of the same rulebook said is taken over where nothing it rests on has changed `since`.

    Raises InputError for readings that cannot be understood, UsageError for unknown names.
    """
    return _reported(book, record, question_of(book, record, application, before, decision, on, inspection), since)


def check_uses(book: Book, record: Record, uses: Iterable[str], on: date | None = None) -> Iterator[Report]:
    """Judge a record for several uses: it is read once, and a rule that asks the same of two of them is judged once.

    Raises InputError for readings that cannot be understood, UsageError for unknown names.
    """
    day = on or date.today()
    questions = [question_of(book, record, use, None, None, day, None) for use in uses]
    with noting() as faults:
        found = evidence_of(book, record, day)
    made: dict[str, Report] = {}
    for asked in questions:
        nearest_made = next((made[use] for use in asked.chain if use in made), next(iter(made.values()), None))
        # What failed is to be noted for every use.
        again = None if faults else found._replace(block=found.block.with_values({}))
        made[asked.application] = report = _reported(book, record, asked, nearest_made, again)
        yield report


def _reported(
    book: Book, record: Record, asked: Question, since: Report | None, known: Evidence | None = None
) -> Report:
    """What is said of a record; what it gives to judge by may be `known` already."""
    chain, due, plan = asked.chain, asked.due, asked.plan
    with noting() as faults:
        found = known or evidence_of(book, record, asked.day)
        alone = rules_of_sheets(found.part_sheets, book, chain, found.block)
        context = _context(book, found, chain, asked.decision, plan, alone)
        doubts, judged = _judged(book, context, found, due, alone, _Kept.of(since, asked, found))
    stopped = FrozenMapping(_stopped(context, judged, faults))
    judged = tuple(
        _left_undecided(book, judged_rule, faults) if judged_rule.rule.name in stopped else judged_rule
        for judged_rule in judged
    )
    face_value = _face_value(context, found, judged)
    context = _with_derived_facts(context, doubts)._replace(
        stopped=stopped, face_value=face_value, beside=_beside(judged)
    )
    return Report(
        record=record,
        application=asked.application,
        before=asked.before,
        judged=judged,
        later=tuple(name for name, rule in book.judging.items() if rule.before not in due),
        suspect_sheets=tuple(flags_on_sheets(context)),
        flags=(
            *flags_on_counts(context),
            *flags_on(found.readings, judged, context),
            *flags_on_warmth(doubts.block, judged, found.readings, context),
            *flags_on_results(doubts.block, found.readings, context),
        ),
        notes=tuple(notes_on(found.readings, context)),
        readings=found.readings,
        packs=book.layered.packs,
        pack_choice=book.choice,
        plugins=_plugins_used(book, record, context, judged),
        retired=tuple(_retired(book, chain, due)),
        cautions=book.layered.cautions,
        milestones=book.layered.milestones,
        pictures=book.pictures,
        context=context,
        computed=frozenset(item.name for item, _ in doubts.block.computed()),
        again=Applied(
            check_record, (book, record, asked.application, asked.before, asked.decision, asked.day, plan.level)
        ),
    )


class Question(NamedTuple):
    """What is asked of a record: judged for which use, before which milestone, how and on which day.

    `chain` is the use and those it is like, `due` the milestones whose rules must hold by now.
    """

    application: str
    before: str | None
    chain: tuple[str, ...]
    due: frozenset[str]
    plan: Plan
    decision: Decision
    day: date


def question_of(
    book: Book,
    record: Record,
    application: str | None = None,
    before: str | None = None,
    decision: Decision | None = None,
    on: date | None = None,
    inspection: str | None = None,
) -> Question:
    """What is asked of a record; what is not said here is taken from the record itself, the day is today.

    Raises UsageError for unknown names.
    """
    wanted = application or record.application
    milestone = before or record.before
    with _placed(record, "application", wanted == record.application != ""):
        chain = book.chain(wanted)
    with _placed(record, "before", milestone == record.before is not None):
        due = _due(book, milestone)
    level = inspection or record.inspection
    with _placed(record, "inspection", level == record.inspection is not None):
        plan = book.plan(wanted, level)
    return Question(wanted, milestone, chain, due, plan, decision or decision_for(record, book), on or date.today())


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


def _context(
    book: Book,
    evidence: Evidence,
    chain: tuple[str, ...],
    decision: Decision,
    plan: Plan,
    alone: Mapping[str, CompiledRule],
) -> Context:
    of_sheets = {name: behind([rule.judges], book.characteristics) for name, rule in alone.items()}

    def inputs(name: str, asked: tuple[str, ...]) -> Inputs:
        return of_sheets[name] if name in of_sheets else book.inputs(name, asked)

    return Context(
        block=evidence.block,
        characteristics=book.characteristics,
        stations=book.layered.stations,
        chain=chain,
        application_title=book.layered.applications[chain[0]].title,
        units=FrozenMapping({kind: UNITS[name].name for kind, name in evidence.record.units.items()}),
        decision=decision,
        sheets=sheets_at_hand(evidence.part_sheets, book.layered),
        written=_written(evidence),
        refused=FrozenMapping(_refused(evidence)),
        concessions=evidence.concessions,
        past=evidence.past,
        inputs=inputs,
        plan=plan,
        seen=evidence.seen,
        milestones=book.layered.milestone_titles,
        said=cache(Titles(book.layered).said),  # alike at every station of a rule
    )


def _with_derived_facts(context: Context, doubts: Doubts) -> Context:
    """The same, told also the facts of the assembly that follow from readings, as far as they are known.

    The title of the use says besides which of them are in doubt.
    """
    told, derived = [context.application_title], {}
    for item in context.characteristics.values():
        stated = item.characteristic
        if not (stated.choices and stated.derived and stated.per is None):
            continue
        column = Column(stated.name)
        position = float(context.block.fetch(column)[0, 0])
        if not math.isfinite(position):
            continue
        if doubts.bears_on(column, context.decision):
            told.append(f"{lowered(stated.title)} in doubt")
        else:
            derived[stated.name] = stated.choices[int(position)]
            told.append(f"{lowered(stated.title)}: {derived[stated.name]}")
    return context._replace(application_title="; ".join(told), derived_facts=FrozenMapping(derived))


def _beside(judged: Iterable[Judged]) -> Mapping[str, tuple[Judged, ...]]:
    """The rules of each characteristic that is judged as it is."""
    found: dict[str, tuple[Judged, ...]] = {}
    for one in judged:
        if (name := one.rule.judges.characteristic) is not None and not one.rule.is_demand:
            found[name] = (*found.get(name, ()), one)
    return FrozenMapping(found)


def decision_for(record: Record, book: Book) -> Decision:
    """The decision rule that the record states, else the last pack that states one."""
    if record.decision:
        return Decision(record.decision, record.probability or PROBABILITY, "the record")
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


class _Kept(NamedTuple):
    """What was judged before, perhaps for another use: by rule, what was computed on the way, what changed since."""

    judged: Mapping[str, Judged]
    computed: frozenset[str]
    changed: frozenset[str]
    chain: tuple[str, ...] = ()
    plan: Plan = EVERYTHING

    @staticmethod
    def of(since: Report | None, asked: Question, evidence: Evidence) -> _Kept:
        """Nothing where it was another question, or asked of a record that differs in more than its readings."""
        if since is None or since.context.stopped:
            return _NOTHING_KEPT
        record, old = evidence.record, since.context
        before = asked._replace(before=since.before, decision=old.decision, day=since.on)
        alike = since.record._replace(document=record.document, facts=record.facts, readings=record.readings)
        if before != asked or alike != record or old.block.layout != evidence.layout:
            return _NOTHING_KEPT
        # Which sheet is suspect may follow from readings that a rule does not rest on.
        if _suspicions(old.sheets.by_name) != _suspicions(evidence.part_sheets):
            return _NOTHING_KEPT
        one, other = (_by_characteristic(readings) for readings in (since.readings, evidence.readings))
        changed = frozenset(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))
        judged = {judged.rule.name: judged for judged in since.judged}
        return _Kept(judged, since.computed, changed, old.chain, old.plan)

    def is_alike(self, rule: CompiledRule, context: Context) -> bool:
        """Whether a rule asks the same of the use judged before."""
        if self.chain == context.chain and self.plan == context.plan:
            return True
        return (
            context.part_sheet(rule) is None  # how far one counts hangs on the use
            and self.plan.asks(rule.rule) == context.plan.asks(rule.rule)
            and bool(rule.rule.why_not_for(self.chain)) == bool(rule.rule.why_not_for(context.chain))
            and rule.limits.speaking(self.chain) == rule.limits.speaking(context.chain)
        )


_NOTHING_KEPT = _Kept({}, frozenset(), frozenset())


def _suspicions(sheets: Mapping[str, PartSheet]) -> Mapping[str, str]:
    return {name: sheet.suspicion for name, sheet in sheets.items()}


def _by_characteristic(readings: Iterable[Reading]) -> Mapping[str, list[Reading]]:
    found: dict[str, list[Reading]] = {}
    for reading in readings:
        found.setdefault(reading.characteristic, []).append(reading)
    return found


def _judged(
    book: Book,
    context: Context,
    evidence: Evidence,
    due: frozenset[str],
    alone: Mapping[str, CompiledRule],
    kept: _Kept,
) -> tuple[Doubts, tuple[Judged, ...]]:
    """What each rule that is due says; one on which nothing bears says what it says of every such record."""
    every = [*(name for name, rule in book.judging.items() if rule.before in due), *alone]

    def rule_of(name: str) -> CompiledRule:
        return alone[name] if name in alone else book.rules[name]

    def behind_it(name: str) -> frozenset[str]:
        asking = NO_INPUTS if name in alone else book.asking(name)
        return context.inputs(name, context.chain).names | asking.names

    def stay(name: str) -> bool:
        is_same = name in kept.judged and name not in alone and kept.is_alike(rule_of(name), context)
        return is_same and kept.changed.isdisjoint(behind_it(name))

    resting = book.resting(context.chain, due)
    involved = {
        name for written in (*evidence.columns.gathered, *evidence.set_aside) for name in resting.get(written, ())
    }
    involved |= alone.keys()
    stays = {name: kept.judged[name] for name in every if name in involved and stay(name)}
    names = [name for name in every if name not in stays]
    inputs = [context.inputs(name, context.chain) for name in names if name in involved]
    doubts = Doubts(evidence.block, evidence.columns, inputs, context.decision.needs_instruments)

    involved |= {name for name in names if context.sheets.by_name and context.part_sheet(rule_of(name))}
    seen: list[Seen] = []
    for name in filter(involved.__contains__, names):
        asked = _asked(rule_of(name), context)
        again = _again(asked)
        measures = again(doubts.block)
        is_missing = _is_missing_for_certain(asked.rule, measures)
        doubt = None if is_missing else doubts.about_rule(asked, measures, again, context.decision)
        seen.append(Seen(asked.rule, measures, doubt))
    judged = {judged_rule.rule.name: judged_rule for judged_rule in judge_together(seen, context.decision)}
    for name in [name for name, judged_rule in judged.items() if (judged_rule.codes == Verdict.NOT_MEASURED).any()]:
        asked = _asked(rule_of(name), context)
        one = Open(judged[name], asked, _again(asked))
        one = one._replace(judged=judged_under_choices(one, evidence, context.decision))
        judged[name] = held_open(judged_either_way(one, evidence, context.decision), one.asked.part)
    rested_on = frozenset[str]().union(*map(behind_it, stays))
    for item in (book.characteristics[name] for name in kept.computed & rested_on):
        doubts.block.fetch(Column(item.name, COMPUTED, item.characteristic.per))
    inspector = Inspector(
        block=doubts.block,
        plan=context.plan,
        seen=evidence.seen,
        past=evidence.past,
        inputs=lambda name: context.inputs(name, context.chain),
        doubtful=frozenset(evidence.set_aside) | doubts.block.impossible(),
    )
    made = {name: inspector.inspected(judged_rule) for name, judged_rule in judged.items()}
    made |= _inspected_unmeasured(book, [name for name in names if name not in made], inspector, evidence, context)
    return doubts, tuple(stays[name] if name in stays else made[name] for name in every)


def _inspected_unmeasured(
    book: Book, names: Sequence[str], inspector: Inspector, evidence: Evidence, context: Context
) -> Mapping[str, Judged]:
    """The same for rules on which nothing bears; where nothing bears on the asking either, it is known already."""
    unmeasured = book.unmeasured(context.chain, evidence.layout).judged(names)
    known = book.unasked(context.chain, evidence.layout, context.plan)
    blank = inspector._replace(block=book.blank(evidence.layout), seen=(), doubtful=frozenset())
    known.update((name, blank.inspected(unmeasured[name])) for name in names if name not in known)
    written = {*evidence.columns.gathered, *evidence.set_aside}
    by_eye = {inspection.rule.name for inspection in evidence.seen}
    anew = [name for name in names if name in by_eye or not book.asking(name).names.isdisjoint(written)]
    return {name: known[name] for name in names} | {name: inspector.inspected(unmeasured[name]) for name in anew}


def _asked(rule: CompiledRule, context: Context) -> Asked:
    inputs = context.inputs(rule.name, context.chain)
    return Asked(rule, context.chain, context.part_limit(rule), inputs, context.block)


def _again(asked: Asked) -> Callable[[Block], Measures]:
    """What the rule sees of another block."""
    return partial(measure_for, asked.rule, chain=asked.chain, part=asked.part)


def _stopped(context: Context, judged: Iterable[Judged], faults: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """The rules that rest on a function that failed, and how it failed."""
    for name in (judged_rule.rule.name for judged_rule in judged if faults):
        failed = [words for function, words in faults.items() if function in context.inputs(name, context.chain).named]
        if failed:
            yield name, "; ".join(failed)


def _left_undecided(book: Book, judged: Judged, faults: Mapping[str, str]) -> Judged:
    """A rule that cannot be judged; where it does not apply it still does not, unless that rests on what failed."""
    conditions = filter(None, (judged.rule.when, judged.rule.unless))
    below = (behind([condition], book.characteristics).named for condition in conditions)
    return left_undecided(judged, applies_is_known=all(named.isdisjoint(faults) for named in below))


def _plugins_used(book: Book, record: Record, context: Context, judged: Iterable[Judged]) -> tuple[Plugin, ...]:
    """The plugins whose functions, reader or packs made the verdicts, each with what was used of it."""
    packs = [pack.name for pack in book.layered.packs if book.plugins.rule_packs.get(pack.name) == pack.folder]
    inputs = (context.inputs(judged_rule.rule.name, context.chain) for judged_rule in judged if book.plugins.functions)
    named = {name for one in inputs for name in one.named}
    forms = [name for pack in book.layered.packs for name in pack.written_forms]
    used = {"rule_packs": packs, "functions": named, "record_readers": [record.read_by], "written_forms": forms}
    return used_of(book.plugins.each, used)


def _retired(book: Book, chain: tuple[str, ...], due: frozenset[str]) -> Iterator[Retired]:
    """The rules due that a pack has dropped, of those meant for the application."""
    for retired in book.layered.retired.values():
        if retired.rule.before in due and not retired.rule.why_not_for(chain):
            yield retired


def _face_value(context: Context, evidence: Evidence, judged: tuple[Judged, ...]) -> FaceValue:
    chain = context.chain

    def measured(rule: CompiledRule, block: Block) -> Measures:
        return measure_for(rule, block, chain, context.part_limit(rule))

    return FaceValue(evidence.block, evidence.usual, judged, lambda name: context.inputs(name, chain), measured)


def _is_missing_for_certain(rule: CompiledRule, measures: Measures) -> bool:
    """Whether nothing is there to be doubted: no value at any station, and no condition that could be in doubt."""
    return rule.when is None and rule.unless is None and bool(np.isnan(measures.value[0]).all())


def _written(evidence: Evidence) -> Mapping[tuple[str, int], tuple[Reading, ...]]:
    """The readings that count, by characteristic and station."""
    by_place: dict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in evidence.readings:
        if not reading.set_aside:
            by_place[reading.characteristic, reading.station].append(reading)
    return FrozenMapping({place: tuple(readings) for place, readings in by_place.items()})


def _refused(evidence: Evidence) -> Iterator[tuple[tuple[str, int], str]]:
    """Why what was written for a station does not count as measured."""
    for reading in evidence.readings:
        if reading.set_aside:
            yield (reading.characteristic, reading.station), f"written {reading.written}, {reading.set_aside}"
