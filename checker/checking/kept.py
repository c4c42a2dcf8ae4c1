"""What was judged before and still holds: it is not judged anew."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from checker.checking.book import Book
from checker.checking.question import Question
from checker.findings.context import Context
from checker.frozen import FrozenMapping
from checker.grouping import grouped
from checker.judging.evidence import Evidence
from checker.judging.judge import Judged
from checker.packs.compiled import CompiledRule
from checker.records.part_sheet import PartSheet
from checker.reports.report import Report


class Asking(NamedTuple):
    """What a rule asks for a use: where another use asks the same of a record, its verdicts are the same."""

    rule: str
    is_meant: bool
    is_asked: bool
    speaking: tuple[int, ...]
    by_sheet: tuple[bytes, bytes, bool] | None
    """The limits of a part sheet, as far as they count: that hangs on the use."""


def asking(rule: CompiledRule, context: Context) -> Asking:
    """What a rule of the packs asks in a context."""
    part = context.part_limit(rule)
    return Asking(
        rule.rule.name,
        not rule.rule.why_not_for(context.chain),
        context.plan.asks(rule.rule),
        rule.limits.speaking(context.chain),
        None if part is None else (part.low.tobytes(), part.high.tobytes(), part.is_beside),
    )


def kept_of(since: Report, book: Book, asked: Question, evidence: Evidence) -> Mapping[Asking, Judged]:
    """What a report of the same rulebook said that rests on no reading that has changed since.

    Nothing where it was another question, or asked of a record that differs in more than its readings.
    """
    record, old = evidence.record, since.context
    before = asked._replace(before=since.before, decision=old.decision, day=since.on)
    alike = since.record._replace(document=record.document, facts=record.facts, readings=record.readings)
    if old.stopped or before != asked or alike != record or old.block.layout != evidence.layout:
        return FrozenMapping()
    # Which sheet is suspect may follow from readings that a rule does not rest on.
    if _suspicions(old.sheets.by_name) != _suspicions(evidence.part_sheets):
        return FrozenMapping()
    both = since.readings, evidence.readings
    one, other = (grouped(readings, lambda reading: reading.characteristic) for readings in both)
    changed = frozenset(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))

    def still_holds(rule: str) -> bool:
        return changed.isdisjoint(old.inputs(rule).names) and changed.isdisjoint(book.asking(rule).names)

    of_packs = (judged for judged in since.judged if judged.rule.name in book.judging)
    return {asking(judged.rule, old): judged for judged in of_packs if still_holds(judged.rule.name)}


def _suspicions(sheets: Mapping[str, PartSheet]) -> Mapping[str, str]:
    return {name: sheet.suspicion for name, sheet in sheets.items()}
