"""What was judged before and still holds: it is not judged anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from checker.checking.question import Question
from checker.findings.context import Context
from checker.judging.evidence import Evidence
from checker.judging.judge import Judged
from checker.packs.compiled import CompiledRule
from checker.packs.inspection import EVERYTHING, Plan
from checker.records.entry import Reading
from checker.records.part_sheet import PartSheet
from checker.reports.report import Report


class Kept(NamedTuple):
    """What was judged before, perhaps for another use: by rule, what was computed on the way, what changed since."""

    judged: Mapping[str, Judged]
    computed: frozenset[str]
    changed: frozenset[str]
    chain: tuple[str, ...] = ()
    plan: Plan = EVERYTHING

    @staticmethod
    def of(since: Report | None, asked: Question, evidence: Evidence) -> Kept:
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
        return Kept(judged, since.computed, changed, old.chain, old.plan)

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


_NOTHING_KEPT = Kept({}, frozenset(), frozenset())


def _suspicions(sheets: Mapping[str, PartSheet]) -> Mapping[str, str]:
    return {name: sheet.suspicion for name, sheet in sheets.items()}


def _by_characteristic(readings: Iterable[Reading]) -> Mapping[str, list[Reading]]:
    found: dict[str, list[Reading]] = {}
    for reading in readings:
        found.setdefault(reading.characteristic, []).append(reading)
    return found
