"""Judging: arrays of values against arrays of limits, giving arrays of verdicts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import IntEnum
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array, Truths
from checker.judging.block import Block
from checker.judging.conformity import Decision, Doubt, conforms, joined, together
from checker.judging.measures import Measures
from checker.packs.compiled import CompiledRule

Codes = npt.NDArray[np.int8]

# The positions of the two limits of each band.
BANDS = ((0, 3), (1, 2))


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


AMISS = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY)
"""The verdicts of a value that misses a limit, or may."""


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
            chosen[name] = np.array([[float(block.characteristics[name].characteristic.choices.index(choice))]])
        return block.with_values(block.in_place_of_nothing(chosen))


class Judged(NamedTuple):
    """The verdicts of one rule: `codes` (see Verdict), and where its must band is not shown to hold.

    Arrays have the shape (records, stations); a report is on one record.
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

    def saying(self, codes: Codes, must_open: Truths) -> Judged:
        """The same with other verdicts, into which nobody writes any more."""
        read_only(codes, must_open)
        return self._replace(codes=codes, must_open=must_open)

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
    return judged_of(Seen(rule, measures, doubt), *verdicts(measures, measures.asks_must, decision, doubt))


def judge_together(asked: Sequence[Seen], decision: Decision) -> Iterator[Judged]:
    """The same for many rules, side by side in one array; each by the first row of its measures."""
    alone = [sight.measures.rows(slice(1)) for sight in asked]
    if not alone:
        return
    sizes = [measures.value.shape[1] for measures in alone]
    doubt = joined([one.doubt for one in asked], sizes, axis=-1)
    whole = Measures(
        np.concatenate([measures.value for measures in alone], axis=-1),
        np.concatenate([measures.limits for measures in alone], axis=-1),
        np.concatenate([measures.applies for measures in alone], axis=-1),
    )
    asks_must = np.repeat([measures.asks_must for measures in alone], sizes)
    codes, must_open = verdicts(whole, asks_must, decision, doubt)
    for sight, measures, (start, end) in zip(asked, alone, pairwise(accumulate(sizes, initial=0)), strict=True):
        yield judged_of(sight._replace(measures=measures), codes[:, start:end], must_open[:, start:end])


def judged_of(seen: Seen, codes: Codes, must_open: Truths) -> Judged:
    """The verdicts of one rule."""
    # What is judged once for an empty record is part of many reports: no report may write into another.
    read_only(codes, must_open, seen.measures.value, seen.measures.limits, seen.measures.applies, *(seen.doubt or ()))
    return Judged(seen.rule, seen.measures, codes, must_open, seen.doubt)


def read_only(*arrays: Array | Codes | Truths) -> None:
    """Let nobody who holds one of these arrays write into it."""
    for array in arrays:
        array.flags.writeable = False


def verdicts(
    measures: Measures, asks_must: bool | Truths, decision: Decision, doubt: Doubt | None
) -> tuple[Codes, Truths]:
    """Codes, and where the must band is not shown to hold; in positive form: only what is shown to hold is within."""
    limits, value, applies = measures.limits, measures.value, measures.applies
    holds = conforms(value, limits, doubt, decision)
    must, should = (np.minimum(holds[low], holds[high]) for low, high in BANDS)
    if doubt is not None and decision.rule == "probability":
        margins = measures.counted
        must, should = (
            np.minimum(kept, together(low, high, margins, doubt, decision))
            for kept, (low, high) in zip((must, should), BANDS, strict=True)
        )
    unsure = np.zeros(value.shape, dtype=np.bool_) if doubt is None else doubt.is_about_applying(decision)
    none = measures.is_absent
    covered = ~(none.all(axis=0) | measures.has_ended.any(axis=0))
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
    # A must that is asked for, but not of the facts at hand, is left to be judged; not where advice alone is lacking.
    must_open |= asks_must & (codes == Verdict.NOT_COVERED) & ~(has_must & (must == TRUE))
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
