"""Judging: arrays of values against arrays of limits, giving arrays of verdicts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from enum import IntEnum
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.boxes import Indices
from checker.expressions.faults import note, noting
from checker.expressions.names import Column
from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array, Truths
from checker.judging.block import Block
from checker.judging.conformity import Decision, Doubt, Reach, conforms, last_kept, side_by_side, together
from checker.judging.measures import Measures, measure_for
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import ABSENT, IS_LOW

Codes = npt.NDArray[np.int8]

# The positions of the two limits of each band.
BANDS = ((0, 3), (1, 2))
_ABSENT = np.array(ABSENT).reshape(4, 1, 1)


class Verdict(IntEnum):
    """What a rule says of one station; the higher, the worse."""

    NOT_APPLICABLE = 0
    NOT_ASKED = 1
    WITHIN = 2
    SEEN = 3
    NOT_COVERED = 4
    ADVISORY = 5
    NOT_MEASURED = 6
    UNDECIDED = 7
    OUTSIDE = 8

    def __str__(self) -> str:
        return self.name.lower().replace("_", " ")


class UnderChoices(NamedTuple):
    """What a rule says under each choice of facts that nobody stated.

    `combinations` gives a choice of each of the `facts`; `codes`, the rows of `limits` and `is_low` (the lower limit is
    the nearer one) follow them. `bears` says of each fact, in its row, at which stations the verdict waits for it.
    """

    facts: tuple[str, ...]
    combinations: tuple[tuple[str, ...], ...]
    codes: Codes
    limits: Array
    is_low: Truths
    bears: Truths

    def filled(self, block: Block, row: int) -> Block:
        """A record with the choices of one combination in place of what nobody stated."""
        chosen = {}
        for name, choice in zip(self.facts, self.combinations[row], strict=True):
            item = block.characteristics[name].characteristic
            known = block.fetch(Column(name, at=item.per))
            chosen[name] = np.where(np.isnan(known), float(item.choices.index(choice)), known)
        return block.with_values(chosen)


class Judged(NamedTuple):
    """The verdicts of one rule: codes, and where its must band is not shown to hold.

    `asked` says where the rule is asked for, with three values; everywhere, where it says nothing. `choices` is what it
    says under each choice of facts that nobody stated, where it was tried so. `either_way` says where it is outside
    both as measured and as computed, though the two disagree.
    """

    rule: CompiledRule
    measures: Measures
    codes: Codes
    must_open: npt.NDArray[np.bool_]
    doubt: Doubt | None
    asked: Array | None = None
    choices: UnderChoices | None = None
    either_way: Truths | None = None

    def of_rows(self, rows: int) -> Judged:
        """The same for so many rows, where it was alike for all of them."""
        if len(self.codes) == rows:
            return self
        codes: Codes = np.broadcast_to(self.codes, (rows, self.codes.shape[1]))
        must_open: Truths = np.broadcast_to(self.must_open, codes.shape)
        return self._replace(measures=self.measures.of_rows(rows), codes=codes, must_open=must_open)


class Seen(NamedTuple):
    """A rule with what it sees, and the doubt about that."""

    rule: CompiledRule
    measures: Measures
    doubt: Doubt | None


def judge(rule: CompiledRule, measures: Measures, decision: Decision, doubt: Doubt | None = None) -> Judged:
    """Turn the margins of a rule into verdicts."""
    return _judged(Seen(rule, measures, doubt), *_verdicts(measures, decision, doubt))


def judge_within(
    rule: CompiledRule,
    measures: Measures,
    decision: Decision,
    reach: Reach,
    about: Callable[[Indices], tuple[Measures, Doubt | None]],
) -> Judged:
    """The same for many rows whose doubt is known within bounds: most are told by comparing values with limits.

    Where a value is nearer to a limit than its guard band may be wide, it is told if the least and the most doubt there
    may be come to the same. It is asked what there is to know `about` each row that is left.
    """
    codes, must_open, is_told = _compared(measures)
    is_told = is_told & ~reach.is_near(measures.value, measures.limits, decision)
    stations, rows = np.divmod(np.flatnonzero(~is_told.T), len(codes))
    if rows.size:
        near = measures.at(rows, stations)
        found = [_reasoned(near, decision, doubt) for doubt in reach.doubts(stations)]
        (codes[rows, stations], must_open[rows, stations]), (most_codes, most_open) = found[0], found[-1]
        left = np.unique(rows[(found[0][0] != most_codes)[0] | (found[0][1] != most_open)[0]])
        if left.size:
            own, doubt = about(left)
            codes[left], must_open[left] = _reasoned(own, decision, doubt)
    return _judged(Seen(rule, measures, None), codes, must_open)


def judge_together(asked: Sequence[Seen], decision: Decision) -> Iterator[Judged]:
    """The same for many rules, side by side in one array; each by the first row of its measures."""
    alone = [sight.measures.rows(slice(1)) for sight in asked]
    if not alone:
        return
    sizes = [measures.value.shape[1] for measures in alone]
    whole = Measures(
        np.concatenate([measures.value for measures in alone], axis=-1),
        np.concatenate([measures.limits for measures in alone], axis=-1),
        np.concatenate([measures.applies for measures in alone], axis=-1),
    )
    doubt = side_by_side([sight.doubt for sight in asked], sizes)
    codes, must_open = _verdicts(whole, decision, doubt)
    end = 0
    for sight, measures, size in zip(asked, alone, sizes, strict=True):
        start, end = end, end + size
        yield _judged(sight._replace(measures=measures), codes[:, start:end], must_open[:, start:end])


def _judged(seen: Seen, codes: Codes, must_open: Truths) -> Judged:
    """The verdicts of one rule: a must that is asked for, but not of the facts at hand, is left to be judged."""
    if seen.measures.asks_must:
        must_open = must_open | (codes == int(Verdict.NOT_COVERED))
    # What is judged once for an empty record is part of many reports: no report may write into another.
    read_only(codes, must_open, seen.measures.value, seen.measures.limits, seen.measures.applies, *(seen.doubt or ()))
    return Judged(seen.rule, seen.measures, codes, must_open, seen.doubt)


def read_only(*arrays: Array | Codes | Truths) -> None:
    """Let nobody who holds one of these arrays write into it."""
    for array in arrays:
        array.flags.writeable = False


def _verdicts(measures: Measures, decision: Decision, doubt: Doubt | None) -> tuple[Codes, Truths]:
    """Codes, and where the must band is not shown to hold.

    Of many rows without doubt most are told by comparing; only of the others it is asked what all is not known.
    """
    if doubt is not None or len(measures.value) == 1:
        return _reasoned(measures, decision, doubt)
    codes, must_open, is_told = _compared(measures)
    if not is_told.all():
        # Many times as fast as np.nonzero; a station after the other, as they stand in memory.
        stations, rows = np.divmod(np.flatnonzero(~is_told.T), len(codes))
        codes[rows, stations], must_open[rows, stations] = _reasoned(measures.at(rows, stations), decision, None)
    return codes, must_open


def _compared(measures: Measures) -> tuple[Codes, Truths, Truths]:
    """What comparing tells, and where: a limit and its condition known, a value within, beyond or not there at all."""
    value, limits, applies = measures.value, measures.limits, measures.applies
    is_there, missing = limits != _ABSENT, np.isnan(value)
    is_told = ~np.isinf(value)
    is_told &= is_there.any(axis=0) & (np.isfinite(limits) | ~is_there).all(axis=0)
    must_open = missing & (is_there[0] | is_there[3])
    # Verdicts rise with what they mean, and a greater one is many times as fast as a choice.
    codes = np.maximum(missing * np.int8(Verdict.NOT_MEASURED), np.int8(Verdict.WITHIN))
    edges = last_kept(limits)
    for position in np.flatnonzero(is_there.any(axis=(1, 2))).tolist():
        edge = _alike(edges[position])
        is_beyond = value < edge if IS_LOW[position] else value > edge
        verdict = Verdict.OUTSIDE if position in BANDS[0] else Verdict.ADVISORY
        np.maximum(codes, is_beyond * np.int8(verdict), out=codes)
    if any(applies.strides) or applies[0, 0] != TRUE:
        idle = applies == FALSE
        is_told = is_told & (applies == TRUE) | idle
        codes *= ~idle
        must_open &= ~idle
    return codes, must_open, is_told


def _alike(limits: Array) -> Array | np.float64:
    """A number in place of limits that are alike at all stations, which is compared many times as fast."""
    first = limits[0, 0]
    return np.float64(first) if len(limits) == 1 and (limits == first).all() else limits


def _reasoned(measures: Measures, decision: Decision, doubt: Doubt | None) -> tuple[Codes, Truths]:
    """The same in positive form: only what is shown to hold is within."""
    limits, value, applies = measures.limits, measures.value, measures.applies
    none = limits == _ABSENT
    holds = conforms(value, limits, doubt, decision)
    must, should = (np.minimum(holds[low], holds[high]) for low, high in BANDS)
    if doubt is not None and decision.rule == "probability":
        margins = measures.counted
        must, should = (
            np.minimum(kept, together(low, high, margins, doubt, decision))
            for kept, (low, high) in zip((must, should), BANDS, strict=True)
        )
    unsure = np.zeros(value.shape, dtype=np.bool_) if doubt is None else doubt.is_about_applying(decision)
    ended = (limits == -_ABSENT) | np.isinf(value)
    covered = ~(none.all(axis=0) | ended.any(axis=0))
    unknown = np.isnan(value) | np.isnan(limits).any(axis=0)
    codes = np.full(value.shape, Verdict.WITHIN, dtype=np.int8)
    # From the weakest reason to the strongest, each overruling those before it.
    for reason, verdict in (
        (should == CANNOT_TELL, Verdict.UNDECIDED),
        ((should == CANNOT_TELL) & unknown, Verdict.NOT_MEASURED),
        (should == FALSE, Verdict.ADVISORY),
        (must == CANNOT_TELL, Verdict.UNDECIDED),
        ((must == CANNOT_TELL) & unknown, Verdict.NOT_MEASURED),
        (~covered, Verdict.NOT_COVERED),
        (must == FALSE, Verdict.OUTSIDE),
        (unsure & covered, Verdict.UNDECIDED),
        ((applies == CANNOT_TELL) & covered, Verdict.NOT_MEASURED),
        ((applies == FALSE) & ~unsure, Verdict.NOT_APPLICABLE),
    ):
        codes[reason] = verdict
    has_must = ~(none[0] & none[3])
    must_open = has_must & (unsure | (applies != FALSE) & ((must == CANNOT_TELL) | (applies == CANNOT_TELL)))
    return codes, must_open


def left_undecided(judged: Judged, applies_is_known: bool) -> Judged:
    """A rule that cannot be judged: undecided, its must open, wherever it is not known, without doubt, not to apply."""
    measures = judged.measures
    is_idle = (judged.codes[:1] == Verdict.NOT_APPLICABLE) & applies_is_known
    unknown = Measures(
        np.full_like(measures.value[:1], np.nan),
        np.full_like(measures.limits[:, :1], np.nan),
        np.where(is_idle, FALSE, CANNOT_TELL),
        measures.asks_must,
    )
    codes = np.where(is_idle, Verdict.NOT_APPLICABLE, Verdict.UNDECIDED).astype(np.int8)
    return Judged(judged.rule, unknown, codes, ~is_idle & measures.asks_must, None)


class Unmeasured:
    """What rules say of an assembly on which nothing was measured; each is asked once."""

    def __init__(self, rules: Mapping[str, CompiledRule], block: Block, chain: tuple[str, ...]) -> None:
        self._rules = rules
        self._block = block
        self._chain = chain
        self._judged: dict[str, Judged] = {}
        self._failed: dict[str, Mapping[str, str]] = {}

    def judged(self, names: Iterable[str]) -> Mapping[str, Judged]:
        """The verdicts of rules at all their stations, by name; they are the same however readings are decided.

        What failed of their functions is noted each time.
        """
        names = tuple(names)
        asked = [self._measured(self._rules[name]) for name in names if name not in self._judged]
        self._judged.update((judged_rule.rule.name, judged_rule) for judged_rule in judge_together(asked, Decision()))
        for name in self._failed.keys() & names:
            for function, words in self._failed[name].items():
                note(function, words)
        return self._judged

    def _measured(self, rule: CompiledRule) -> Seen:
        with noting() as faults:
            seen = Seen(rule, measure_for(rule, self._block, self._chain), None)
        if faults:
            self._failed[rule.name] = faults
        return seen
