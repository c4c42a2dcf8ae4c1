"""What is asked for, on arrays: verdicts of a rule that is not asked, and those of an inspection by eye.

A rule is judged wherever its readings are there, asked for or not. Only where nothing is there to be judged, and the
plan does not ask for it, its verdict is "not asked".
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

import numpy as np

from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array, Truths
from checker.judging.block import Block
from checker.judging.judge import Codes, Judged, Verdict, read_only
from checker.packs.compiled import CompiledRule, Inputs, inputs_of
from checker.packs.inspection import Plan, sample_per
from checker.packs.rule import EACH
from checker.records.by_eye import EyeInspection
from checker.records.concessions import Past

TOLD = (Verdict.WITHIN, Verdict.SEEN, Verdict.ADVISORY, Verdict.UNDECIDED, Verdict.OUTSIDE)
"""The verdicts of a station that was measured or looked at: one such is a sample."""


class Inspector(NamedTuple):
    """Records and what is asked of them: so many rows of a block, all of them looked at by the same eyes.

    `doubtful` are characteristics of which something was written down that does not count: a rule that rests on one
    was meant to be judged, so it stays open until that is put right.
    """

    block: Block
    plan: Plan
    seen: tuple[EyeInspection, ...]
    past: Past
    inputs: Callable[[str], Inputs]
    doubtful: frozenset[str]
    rows: int = 1

    def inspected(self, judged: Judged) -> Judged:
        """The verdicts of a rule, with what was seen by eye and without what nobody asked for."""
        rule = judged.rule.rule
        seen = about(rule.name, self.seen)
        is_asked = self.plan.asks(rule)
        if not seen and is_asked_throughout(judged.rule, self.plan):
            return judged
        judged = self._without_contradicted(judged, seen) if seen else judged
        if self.doubtful and not self.doubtful.isdisjoint(self.inputs(rule.name).names):
            return _where_not(Verdict.SEEN, self._with_what_was_seen(judged, seen), judged) if seen else judged
        judged = self._with_what_was_seen(judged, seen) if seen else judged
        asked = np.full(judged.codes.shape, TRUE if is_asked else FALSE)
        if is_asked and judged.rule.occasion is not None:
            occasion = self.block.evaluate(judged.rule.occasion, judged.rule.stations)[: self.rows]
            judged = judged.of_rows(max(len(judged.codes), len(occasion)))
            asked = np.broadcast_to(occasion, judged.codes.shape).copy()
        if is_asked and rule.inspection.sample != EACH:
            asked = self._sampled(judged, asked)
        return _without_unasked(judged, asked)

    def _with_what_was_seen(self, judged: Judged, seen: Sequence[EyeInspection]) -> Judged:
        codes, must_open = judged.codes.copy(), judged.must_open.copy()
        blank, inputs = _blank(judged), self.inputs(judged.rule.name)
        missed = Verdict.OUTSIDE if judged.measures.asks_must else Verdict.ADVISORY
        for found in seen:
            for station in np.flatnonzero(blank.any(axis=0)).tolist():
                if found.station in (None, station) and not lapsed(found, station, inputs, self.block, self.past):
                    codes[blank[:, station], station] = Verdict.SEEN if found.is_clear else missed
                    must_open[blank[:, station], station] = False
        return judged.saying(codes, must_open)

    def _without_contradicted(self, judged: Judged, seen: Sequence[EyeInspection]) -> Judged:
        """Undecided where it holds as measured, and was seen not clear at the same time or since."""
        codes, must_open = judged.codes.copy(), judged.must_open.copy()
        asks_must, inputs = judged.measures.asks_must, self.inputs(judged.rule.name)
        holds = np.isin(codes, (Verdict.WITHIN, *((Verdict.ADVISORY,) if asks_must else ())))
        for station in np.flatnonzero(holds.any(axis=0)).tolist():
            if seen_against(seen, station, inputs, self.block, self.past) is not None:
                codes[holds[:, station], station] = Verdict.UNDECIDED
                must_open[holds[:, station], station] = asks_must
        return judged.saying(codes, must_open)

    def _sampled(self, judged: Judged, asked: Array) -> Array:
        """Where one station of each group is asked for: the first, where none was measured; else no other."""
        parent = sample_per(judged.rule.rule.inspection.sample)
        groups = np.zeros(asked.shape[1], dtype=np.intp)
        if parent is not None and judged.rule.stations is not None:
            groups = self.block.layout.children(judged.rule.stations, parent)
        is_told = np.isin(judged.codes, TOLD)
        may_be_asked = _blank(judged) & (asked != FALSE)
        wanted = np.full_like(asked, FALSE)
        for group in set(groups.tolist()):
            own = groups == group
            first = np.argmax(may_be_asked & own, axis=1)
            lacks = np.flatnonzero((may_be_asked & own).any(axis=1) & ~(is_told & own).any(axis=1))
            wanted[lacks, first[lacks]] = asked[lacks, first[lacks]]
        return wanted


def is_asked_throughout(rule: CompiledRule, plan: Plan) -> bool:
    """Whether a rule is asked for at all stations, whatever is known."""
    return rule.occasion is None and rule.rule.inspection.sample == EACH and plan.asks(rule.rule)


def about(rule: str, seen: Iterable[EyeInspection]) -> tuple[EyeInspection, ...]:
    """What was seen of a rule, the one that counts last: the latest, and of one day one that is not clear."""
    found = (inspection for inspection in seen if inspection.rule.name == rule)
    return tuple(sorted(found, key=lambda inspection: (inspection.dated, not inspection.is_clear)))


def lapsed(inspection: EyeInspection, station: int, inputs: Inputs, block: Block, past: Past) -> str:
    """Why an inspection by eye does not count at a station; empty where it does."""
    places = block.places_of(inputs, inspection.rule.stations, station)
    return inspection.lapsed(places, past.changes, past.day)


def seen_against(
    seen: Iterable[EyeInspection], station: int, inputs: Inputs, block: Block, past: Past
) -> EyeInspection | None:
    """The last inspection of a rule by eye at a station, where it was not clear and nothing was measured again since.

    The inspections are those of `about`. Measured again is only what the rule judges: a fact on which it hangs whether
    it applies, or a figure of the plan, may well be written down later, and shows nothing.
    """
    counting = [
        found for found in seen if found.station in (None, station) and not lapsed(found, station, inputs, block, past)
    ]
    if not counting or counting[-1].is_clear:
        return None
    last = counting[-1]
    judged = inputs_of([last.rule.judges], block.characteristics)
    places = set(block.places_of(judged, last.rule.stations, station)) - past.figures
    return None if any(past.since(last.dated, key) for key in places) else last


def _where_not(verdict: Verdict, judged: Judged, before: Judged) -> Judged:
    """The verdicts but for those of one kind, which are as they were before."""
    is_so = judged.codes == verdict
    return judged.saying(
        np.where(is_so, before.codes, judged.codes), np.where(is_so, before.must_open, judged.must_open)
    )


def _blank(judged: Judged) -> Truths:
    """Where nothing is there to be judged, though the rule may apply."""
    lacking = (judged.codes == Verdict.NOT_MEASURED) | (judged.codes == Verdict.NOT_COVERED)
    return np.asarray(lacking & np.isnan(judged.measures.value))


def _without_unasked(judged: Judged, asked: Array) -> Judged:
    """Not asked where nothing is there and nobody asks; where that cannot be told, the occasion is to be told."""
    blank = _blank(judged)
    codes: Codes = judged.codes.copy()
    codes[blank & (asked == FALSE)] = Verdict.NOT_ASKED
    codes[blank & (asked == CANNOT_TELL)] = Verdict.NOT_MEASURED
    read_only(asked)
    return judged.saying(codes, judged.must_open & (codes != Verdict.NOT_ASKED))._replace(asked=asked)
