"""What is asked of a record: for which use, before which milestone, how and on which day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from typing import NamedTuple, NoReturn

from checker.checking.book import Book
from checker.errors import InputError, Problem, UsageError, nearest, require
from checker.judging.conformity import PROBABILITY, Decision
from checker.judging.evidence import evidence_of
from checker.packs.inspection import Plan, plan_for, with_scope
from checker.records.named_packs import packs_amiss
from checker.records.record import Record


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

    Raises UsageError for unknown names, InputError for them and what else is wrong with the record, TypeError for what
    is no name.
    """
    for name in (application, before, inspection):
        require(
            name or "", "give one name, as the rulebook lists under applications, milestones, inspection_levels", str
        )
    require(decision or Decision(), 'give one, as in decision=Decision("guarded")', Decision)
    require(on or date.min, "give a day, as in on=date(2026, 5, 2)", date)
    day = on.date() if isinstance(on, datetime) else on or date.today()
    wanted, milestone = application or record.application, before or record.before
    level = inspection or record.inspection
    chain, due, plan = tuple[str, ...](), frozenset[str](), Plan()
    problems = list(packs_amiss(record, book.layered.packs))
    with _placed(record, "application", wanted == record.application != "", problems):
        chain = book.chain(wanted)
    with _placed(record, "before", milestone == record.before is not None, problems):
        due = _due(book, milestone)
    with _placed(record, "inspection", level == record.inspection is not None, problems):
        plan = plan_for(book.layered, chain, level)
    with _placed(record, "scope", bool(record.scope), problems):
        plan = with_scope(plan, record.scope, book.layered)
    if problems:
        _refuse(book, record, day, problems)
    return Question(wanted, milestone, chain, due, plan, decision or decision_for(record, book), day)


@contextmanager
def _placed(record: Record, key: str, is_stated: bool, problems: list[Problem]) -> Iterator[None]:
    """What is wrong with a name goes to the problems; with one that the record states, with its place there."""
    try:
        yield
    except UsageError as error:
        place = record.document.place(key) if is_stated else None
        problems += (problem._replace(place=place or problem.place) for problem in error.problems)


def _refuse(book: Book, record: Record, day: date, problems: Sequence[Problem]) -> NoReturn:
    """Names that there are not, told together with the readings that cannot be understood."""
    try:
        evidence_of(book.compiled, book.blank, record, day)
    except InputError as error:
        raise InputError([*problems, *error.problems]) from None
    raise UsageError(problems)


def decision_for(record: Record, book: Book) -> Decision:
    """The decision rule that the record states, else the last pack that states one."""
    if record.decision:
        return Decision(record.decision, record.probability or PROBABILITY, "the record")
    return decision_of(book)


def decision_of(book: Book) -> Decision:
    """The decision rule of packs: that of the last that states one."""
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
