"""Judging: arrays of values against arrays of limits, giving arrays of verdicts."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.faults import note, noting
from checker.expressions.names import Column
from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array, Truths, slack
from checker.judging.block import Block
from checker.judging.conformity import Decision, Doubt, conforms, side_by_side, together
from checker.judging.precedence import left_unclear, stricter, with_sheet
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import ABSENT, DEMANDS, IS_LOW, OF_PHYSICS, POSITIONS, Bound, Candidate, LimitSet
from checker.packs.limits import PHYSICS
from checker.records.part_sheet import PartLimit

Codes = npt.NDArray[np.int8]

# By position: which way is inward, and what stands for a limit that is not there.
_INWARD = np.array([1.0, 1.0, -1.0, -1.0]).reshape(4, 1, 1)
_ABSENT = np.array(ABSENT).reshape(4, 1, 1)
_ALWAYS = np.full((1, 1), TRUE)
_NOTHING_DEMANDED = np.full((1, 1), np.inf)
# The positions of the two limits of each band.
BANDS = ((0, 3), (1, 2))
_MUSTS = [(band, side) for band, side in (*POSITIONS, *DEMANDS, *OF_PHYSICS) if band != "should"]
# What a demand must score, see _score.
_LEVELS = (1.0, 2.0)


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


@dataclass(frozen=True, eq=False)
class Measures:
    """What one rule sees: arrays of shape (records, stations); limits and margins by position as well.

    Limits that are alike for all records stand in one row.
    An unknown limit is NaN; where there is none it is infinite (-inf below, +inf above); where the table it comes
    from has ended it is infinite the other way. `asks_must`: the rule has a must for the application, though perhaps
    under conditions that do not hold here.
    """

    value: Array
    limits: Array
    applies: Array
    asks_must: bool = False

    @cached_property
    def margins(self) -> Array:
        """How far inside each limit the value lies; in the order of POSITIONS."""
        with np.errstate(invalid="ignore"):
            found = np.asarray((self.value - self.limits) * _INWARD)
        found.flags.writeable = False
        return found

    @property
    def counted(self) -> Array:
        """The margins that count: infinite where there is no limit, missing where the table it comes from has ended."""
        # What no table gives cannot be told; the other limits still count.
        ended = (self.limits == -_ABSENT) | np.isinf(self.value)
        found = np.where(self.limits == _ABSENT, np.inf, np.where(ended, np.nan, self.margins))
        found.flags.writeable = False
        return found

    def rows(self, wanted: slice | list[int] | npt.NDArray[np.integer[Any]]) -> Measures:
        """Some of the rows."""
        limits = self.limits[:, wanted] if self.limits.shape[1] == len(self.value) else self.limits
        return Measures(self.value[wanted], limits, self.applies[wanted], self.asks_must)

    def of_rows(self, rows: int) -> Measures:
        """The same for so many rows, limits too, where it was alike for all of them."""
        shape = (rows, self.value.shape[-1])
        return Measures(
            np.broadcast_to(self.value, shape),
            np.broadcast_to(self.limits, (len(self.limits), *shape)),
            np.broadcast_to(self.applies, shape),
            self.asks_must,
        )


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


def measure(
    rule: CompiledRule,
    block: Block,
    chain: tuple[str, ...],
    limits: LimitSet | None = None,
    part: PartLimit | None = None,
) -> Measures:
    """Evaluate what a rule judges and the limits that count for an application.

    `chain` is the application and those it is like; `limits` stands in for the rule's own.
    """
    found = limits or rule.limits
    applies = applies_at(rule, block)
    edges: Sequence[Array | float]
    if rule.is_demand:
        demands = [_demand_holds(found.candidates(chain, band, side), block, rule.stations) for band, side in DEMANDS]
        demands[0] = np.minimum(demands[0], _all_hold(found.candidates(chain, PHYSICS, "broken"), block, rule.stations))
        value = _score(*demands)
        levels = (np.where(np.isinf(holds), -np.inf, level) for holds, level in zip(demands, _LEVELS, strict=True))
        edges = (*levels, np.inf, np.inf)
    else:
        value = block.evaluate(rule.judges)
        size = block.evaluate(rule.per_unit_of, rule.stations) if rule.per_unit_of else None
        edges = [
            _edge(found.candidates(chain, band, side), side, block, size, rule.stations) for band, side in POSITIONS
        ]
        physics = [
            _together(found.candidates(chain, PHYSICS, side), side, value, block, size, rule.stations)
            for side in ("low", "high")
        ]
        if part is not None:
            is_unclear = part.speaks & (applies == CANNOT_TELL)
            applies = np.where(is_unclear, TRUE, applies)
            edges = [left_unclear(edge, is_low, is_unclear) for edge, is_low in zip(edges, IS_LOW, strict=True)]
            edges = with_sheet(edges, part)
            physics = [
                left_unclear(edge, is_low, is_unclear) for edge, is_low in zip(physics, (True, False), strict=True)
            ]
        must_low, should_low, should_high, must_high = edges
        must_low, must_high = (
            stricter(edge, other, value, is_low)
            for edge, other, is_low in ((must_low, physics[0], True), (must_high, physics[1], False))
        )
        edges = (must_low, should_low, should_high, must_high)
    stations = block.layout.count(rule.stations)
    of_limits = max((array.shape[0] for array in edges if isinstance(array, np.ndarray)), default=1)
    shape = (max(of_limits, len(value), len(applies)), stations)
    bounds = np.empty((len(POSITIONS), of_limits, stations))
    for position, edge in enumerate(edges):
        bounds[position] = edge
    asks_must = part is not None or any(found.candidates(chain, band, side) for band, side in _MUSTS)
    return Measures(_spread(value, shape), bounds, _spread(applies, shape), asks_must)


def _spread(array: Array, shape: tuple[int, int]) -> Array:
    """An array of this shape; many times as fast on small arrays as numpy's broadcast_to."""
    if array.shape == shape:
        return array
    whole = np.empty(shape)
    whole[...] = array
    return whole


def measure_for(rule: CompiledRule, block: Block, chain: tuple[str, ...], part: PartLimit | None = None) -> Measures:
    """The same, where the rule may not be meant for the application at all."""
    measures = measure(rule, block, chain, part=part)
    if not rule.rule.why_not_for(chain):
        return measures
    return replace(measures, applies=np.full_like(measures.applies, FALSE))


def judge(rule: CompiledRule, measures: Measures, decision: Decision, doubt: Doubt | None = None) -> Judged:
    """Turn the margins of a rule into verdicts."""
    return _judged(Seen(rule, measures, doubt), *_verdicts(measures, decision, doubt))


def judge_together(asked: Sequence[Seen], decision: Decision) -> Iterator[Judged]:
    """The same for many rules, side by side in one array; each by the first row of its measures."""
    alone = [one.measures.rows(slice(1)) for one in asked]
    if not alone:
        return
    sizes = [measures.value.shape[1] for measures in alone]
    whole = Measures(
        np.concatenate([measures.value for measures in alone], axis=-1),
        np.concatenate([measures.limits for measures in alone], axis=-1),
        np.concatenate([measures.applies for measures in alone], axis=-1),
    )
    doubt = side_by_side([one.doubt for one in asked], sizes)
    codes, must_open = _verdicts(whole, decision, doubt)
    end = 0
    for one, measures, size in zip(asked, alone, sizes, strict=True):
        start, end = end, end + size
        yield _judged(one._replace(measures=measures), codes[:, start:end], must_open[:, start:end])


def _judged(seen: Seen, codes: Codes, must_open: Truths) -> Judged:
    """The verdicts of one rule: a must that is asked for, but not of the facts at hand, is left to be judged."""
    if seen.measures.asks_must:
        must_open = must_open | (codes == Verdict.NOT_COVERED)
    # What is judged once for an empty record is part of many reports: no report may write into another.
    read_only(codes, must_open, seen.measures.value, seen.measures.limits, seen.measures.applies, *(seen.doubt or ()))
    return Judged(seen.rule, seen.measures, codes, must_open, seen.doubt)


def read_only(*arrays: Array | Codes | Truths) -> None:
    """Let nobody who holds one of these arrays write into it."""
    for array in arrays:
        array.flags.writeable = False


def _verdicts(measures: Measures, decision: Decision, doubt: Doubt | None) -> tuple[Codes, Truths]:
    """Codes, in positive form: only what is shown to hold is within; and where the must band is not shown to hold."""
    limits, value, applies = measures.limits, measures.value, measures.applies
    none = limits == _ABSENT
    margins = measures.counted
    holds = conforms(margins, doubt, decision, _slack(limits))
    must, should = (
        np.minimum(np.minimum(holds[low], holds[high]), together(low, high, margins, doubt, decision))
        for low, high in BANDS
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


def applies_at(rule: CompiledRule, block: Block) -> Array:
    """Whether a rule applies, with three values."""
    applies: Array = _ALWAYS
    if rule.when is not None:
        applies = block.evaluate(rule.when, rule.stations)
    if rule.unless is not None:
        applies = np.minimum(applies, TRUE - block.evaluate(rule.unless, rule.stations))
    return applies


def _edge(
    candidates: Sequence[Candidate], side: str, block: Block, size: Array | None, at: str | None
) -> Array | float:
    """The limit on one side: the first candidate whose condition holds; infinite where there is none."""
    edge: Array | float = -np.inf if side == "low" else np.inf
    for candidate in reversed(candidates):
        edge = _chosen(candidate, amount_at(candidate.bound, side, block, size, at), edge, block, at)
    return edge


def _together(
    candidates: Sequence[Candidate], side: str, value: Array, block: Block, size: Array | None, at: str | None
) -> Array | float:
    """The strictest of all candidates whose conditions hold; infinite where there is none."""
    absent = -np.inf if side == "low" else np.inf
    edge: Array | float = absent
    for candidate in candidates:
        own = _chosen(candidate, amount_at(candidate.bound, side, block, size, at), absent, block, at)
        edge = stricter(edge, own, value, side == "low")
    return edge


def amount_at(bound: Bound, side: str, block: Block, size: Array | None, at: str | None) -> Array | float:
    """One limit of a rule that judges at some stations, in SI; infinite the other way where its table has ended."""
    if bound.expression is not None:
        found = block.evaluate(bound.expression, at)
        found = found if bound.factor == 1.0 else found * bound.factor
        if not bound.expression.ends:
            return found
        return np.where(np.isinf(found), np.inf if side == "low" else -np.inf, found)
    constant = np.nan if bound.constant is None else bound.constant * bound.factor
    return constant if not bound.is_ratio or size is None else size * constant


def _chosen(
    candidate: Candidate, this: Array | float, otherwise: Array | float, block: Block, at: str | None
) -> Array | float:
    if candidate.when is None:
        return this
    condition = block.evaluate(candidate.when, at)
    return np.where(condition == TRUE, this, np.where(condition == FALSE, otherwise, np.nan))


def _score(must: Array, should: Array) -> Array:
    """Demands as a number: 0 breaks a must, 1 a should, 2 neither."""
    score = np.where(must == FALSE, 0.0, np.where(should == FALSE, 1.0, 2.0))
    undecided = (must == CANNOT_TELL) | ((should == CANNOT_TELL) & (must != FALSE))
    return np.where(undecided, np.nan, score)


def _demand_holds(candidates: Sequence[Candidate], block: Block, at: str | None) -> Array:
    """Whether what is demanded holds; infinite where nothing is."""
    holds: Array = _NOTHING_DEMANDED
    for candidate in reversed(candidates):
        expression = candidate.bound.expression
        if expression is not None:
            truth = _chosen(candidate, block.evaluate(expression, at), holds, block, at)
            holds = np.where(np.isnan(truth), CANNOT_TELL, truth)
    return holds


def _all_hold(candidates: Sequence[Candidate], block: Block, at: str | None) -> Array:
    """Whether all holds that is demanded; infinite where nothing is."""
    return np.asarray(
        functools.reduce(np.minimum, (_demand_holds([one], block, at) for one in candidates), _NOTHING_DEMANDED)
    )


def _slack(limits: Array) -> Array:
    return np.where(np.isfinite(limits), slack(limits), 0.0)
