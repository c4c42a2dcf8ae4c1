"""Judging one record: from its readings to a report."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial
from typing import NamedTuple

from checker.checking.book import Book
from checker.checking.context import context_of, for_use, rules_beside, with_derived_facts
from checker.checking.judgement import ForUse, asked_of, judged_by, together, use_of
from checker.checking.kept import Asking, kept_of
from checker.checking.question import Question, question_of
from checker.checking.together import Together
from checker.expressions.faults import noting
from checker.expressions.names import Column
from checker.findings.context import Context
from checker.findings.flags import flags_on, flags_on_counts, flags_on_sheets, flags_on_warmth, notes_on
from checker.findings.flags_on_results import flags_on_results
from checker.frozen import Applied, FrozenMapping
from checker.judging.evidence import Evidence, evidence_of
from checker.judging.face_value import FaceValue
from checker.judging.judge import Judged, left_undecided
from checker.judging.sheet_rules import rules_of_sheets
from checker.packs.compiled import inputs_of
from checker.packs.layers import Retired
from checker.plugin import Plugin, used_of
from checker.records.record import Record
from checker.reports.report import Report


def check_record(
    book: Book, record: Record, asked: Question, since: Report | None = None, known: Known | None = None
) -> Report:
    """Judge a record; what it gives to judge by may be `known` already.

    What a report of the same rulebook said is taken over where nothing it rests on has changed `since`. Raises
    InputError for readings that cannot be understood.
    """
    with noting() as faults:
        found, uses, shared = known or _known(book, record, [asked], since)
        judged, own = judged_by(book, found, uses[asked.application], shared)
    context, doubts = uses[asked.application].context, shared.doubts
    stopped = FrozenMapping(_stopped(context, judged, faults))
    if stopped:
        judged = tuple(
            _left_undecided(book, judged_rule, faults) if judged_rule.rule.name in stopped else judged_rule
            for judged_rule in judged
        )
    face_value = FaceValue(found.block, found.usual, judged, partial(asked_of, context=context))
    context = with_derived_facts(context, book.layered.derived_facts, doubts)._replace(
        stopped=stopped, face_value=face_value, beside=rules_beside(judged)
    )
    facts = (shared.names_behind_column(Column(fact.name)) for fact in book.layered.derived_facts)
    computed = tuple(shared.computed(own.union(*facts)))
    return Report(
        record=record,
        application=asked.application,
        before=asked.before,
        judged=judged,
        later=tuple(name for name, rule in book.judging.items() if rule.before not in asked.due),
        suspect_sheets=tuple(flags_on_sheets(context)),
        flags=(
            *flags_on_counts(context),
            *flags_on(found.readings, judged, context),
            *flags_on_warmth(computed, judged, found.readings, context),
            *flags_on_results(computed, doubts.block, found.readings, context),
        ),
        notes=tuple(notes_on(found.readings, context)),
        readings=found.readings,
        packs=book.layered.packs,
        pack_choice=book.choice,
        plugins=_plugins_used(book, record, context, judged),
        retired=tuple(_retired(book, asked.chain, asked.due)),
        cautions=book.layered.cautions,
        milestones=book.layered.milestones,
        pictures=book.pictures,
        context=context,
        computed=frozenset(item.name for item, _ in computed),
        only=_few(len(book.judging), len(book.rules)),
        again=Applied(check_record, (book, record, asked)),
    )


def check_uses(book: Book, record: Record, uses: Iterable[str], on: date | None = None) -> Iterator[Report]:
    """Judge a record for several uses: it is read once, and a rule that asks the same of two of them is judged once.

    Raises InputError for readings that cannot be understood, UsageError for unknown names.
    """
    day = on or date.today()
    questions = [question_of(book, record, use, on=day) for use in uses]
    if not questions:
        return
    with noting() as faults:
        known: Known | None = _known(book, record, questions)
    for asked in questions:
        report = check_record(book, record, asked, known=None if faults else known)
        if report.context.stopped:
            known = None  # what failed is to be noted for every use
        yield report


class Known(NamedTuple):
    """What a record gives to judge by, each use that is asked about, by name, and what several have in common."""

    evidence: Evidence
    uses: Mapping[str, ForUse]
    shared: Together


def _known(book: Book, record: Record, questions: Sequence[Question], since: Report | None = None) -> Known:
    """Questions that differ in their uses only."""
    evidence = evidence_of(book.compiled, book.blank, record, questions[0].day)
    context, uses = context_of(book, evidence, questions[0].decision), {}
    for asked in questions:
        alone = rules_of_sheets(evidence.part_sheets, book.compiled, asked.chain, evidence.block)
        own = for_use(context, book, asked.chain, asked.plan, alone)
        uses[asked.application] = use_of(book, evidence, own, asked.due, alone)
    kept = kept_of(since, book, questions[0], evidence) if since else FrozenMapping[Asking, Judged]()
    return Known(evidence, uses, together(evidence, tuple(uses.values()), kept))


def _few(rules: int, every: int) -> str:
    return f"judged by {rules} of {every} rules alone" if rules < every else ""


def _stopped(context: Context, judged: Iterable[Judged], faults: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """The rules that rest on a function that failed, and how it failed."""
    for name in (judged_rule.rule.name for judged_rule in judged) if faults else ():
        failed = [words for function, words in faults.items() if function in context.inputs(name).named]
        if failed:
            yield name, "; ".join(failed)


def _left_undecided(book: Book, judged: Judged, faults: Mapping[str, str]) -> Judged:
    """A rule that cannot be judged; where it does not apply it still does not, unless that rests on what failed."""
    conditions = filter(None, (judged.rule.when, judged.rule.unless))
    below = (inputs_of([condition], book.characteristics).named for condition in conditions)
    return left_undecided(judged, applies_is_known=all(named.isdisjoint(faults) for named in below))


def _plugins_used(book: Book, record: Record, context: Context, judged: Iterable[Judged]) -> tuple[Plugin, ...]:
    """The plugins whose functions, reader or packs made the verdicts, each with what was used of it."""
    packs = [pack.name for pack in book.layered.packs if book.plugins.rule_packs.get(pack.name) == pack.folder]
    inputs = (context.inputs(judged_rule.rule.name) for judged_rule in judged if book.plugins.functions)
    named = {name for one in inputs for name in one.named}
    forms = [name for pack in book.layered.packs for name in pack.written_forms]
    used = {"rule_packs": packs, "functions": named, "record_readers": [record.read_by], "written_forms": forms}
    return used_of(book.plugins.each, used)


def _retired(book: Book, chain: tuple[str, ...], due: frozenset[str]) -> Iterator[Retired]:
    """The rules due that a pack has dropped, of those meant for the application."""
    for retired in book.layered.retired.values():
        if retired.rule.before in due and not retired.rule.why_not_for(chain):
            yield retired
