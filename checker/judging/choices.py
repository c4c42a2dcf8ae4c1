"""Facts that nobody stated and that have a few choices: a rule is judged under every combination of them.

Where all agree, that is the verdict: whatever the fact is, it comes out so. Where they differ, the rule stays not
measured, and what it says under each is kept. All missing facts of a rule are tried together, so that one choice never
hides another. Only facts are tried that a station sees once, its own or that of what it belongs to: of several stations
that are compared, the same choice everywhere would not be all there is. A fact that was written down and does not count
is not tried, nor is one of which a rule asks whether it is known: it is then unknown, which is an answer too.

Where what was measured and what can be computed disagree, a rule is judged both ways in the same manner.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import product

import numpy as np

from checker.expressions.names import Column
from checker.expressions.truth import Array, Truths
from checker.judging.block import Block
from checker.judging.columns import Columns
from checker.judging.conformity import Decision, joined
from checker.judging.doubt import Doubts
from checker.judging.evidence import Evidence
from checker.judging.judge import AMISS, Codes, Judged, UnderChoices, Verdict, judge
from checker.judging.measures import Measures
from checker.judging.proof import Asked
from checker.packs.compiled import CompiledCharacteristic, CompiledRule, Inputs
from checker.packs.limit_set import POSITIONS
from checker.records.layout import Layout

MOST_COMBINATIONS, MOST_DISPUTED = 64, 3
"""With more choices, or more characteristics in dispute, than these a rule stays not measured."""
_NOT_MEASURED = int(Verdict.NOT_MEASURED)  # compared many times as fast as a member of an Enum


def judged_under_choices(as_stated: Judged, asked: Asked, evidence: Evidence, decision: Decision) -> Judged:
    """The same verdicts, and those that come out alike whatever the facts that nobody stated may be."""
    facts = tuple(open_facts(asked.rule, asked.inputs, evidence.block, evidence.layout, evidence.set_aside))
    combinations = combinations_of(facts)
    is_open = as_stated.codes[0] == Verdict.NOT_MEASURED
    if not combinations or not is_open.any():
        return as_stated
    rows = np.array(combinations, dtype=np.float64)
    without = [np.where(np.arange(len(facts)) == number, np.nan, rows) for number in range(len(facts))]
    measures = asked.measures(filled(evidence.block, facts, np.concatenate([rows, *without])))
    judged = judge(asked.rule, measures, decision)
    bears = _bears(judged.codes, is_open, len(facts))
    if bears is None:
        return as_stated
    if _nothing_is_in_doubt(evidence.columns, asked.inputs, decision):
        each = [_row_of(judged, row) for row in range(len(rows))]
    else:
        blocks = (filled(evidence.block, facts, rows[[row]]) for row in range(len(rows)))
        each = [judged_with(evidence.columns, block, asked, decision) for block in blocks]
    under = UnderChoices(
        facts=tuple(item.name for item in facts),
        combinations=tuple(
            tuple(item.characteristic.choices[number] for item, number in zip(facts, choice, strict=True))
            for choice in combinations
        ),
        codes=np.concatenate([judged.codes for judged in each]),
        limits=np.concatenate([judged.measures.limits for judged in each], axis=1),
        is_low=are_low(each)[:, 0],
        bears=bears,
    )
    return alike_under_all(as_stated, each)._replace(choices=under)


def combinations_of(facts: Sequence[CompiledCharacteristic]) -> Sequence[tuple[int, ...]]:
    """Every combination of the choices of some facts; none where there are too many, or no facts."""
    combinations = list(product(*(range(len(item.characteristic.choices)) for item in facts)))
    return combinations if facts and len(combinations) <= MOST_COMBINATIONS else ()


def alike_under_all(as_stated: Judged, each: Sequence[Judged]) -> Judged:
    """The same verdicts, and those of what is not measured that come out alike under each combination."""
    codes = np.stack([judged.codes for judged in each])
    agreed = (as_stated.codes == _NOT_MEASURED) & (codes == codes[0]).all(axis=0)
    agreed &= (codes[0] != _NOT_MEASURED) & on_one_side(are_low(each), codes)
    return merged(as_stated, each, agreed)


def judged_either_way(as_stated: Judged, asked: Asked, evidence: Evidence, decision: Decision) -> Judged:
    """The same verdicts, and what breaks its must on the same side as measured and as computed, where these disagree.

    It is broken whichever of the two is wrong, and told in the numbers that miss by less. Nothing else is made of it.
    """
    inputs = asked.inputs
    names = sorted(evidence.disputed & inputs.names)
    if not names or len(names) > MOST_DISPUTED or not (inputs.across | inputs.viewed).isdisjoint(names):
        return as_stated
    ways = product((True, False), repeat=len(names))
    taken = (
        evidence.taken({name for name, is_measured in zip(names, way, strict=True) if is_measured}) for way in ways
    )
    each = [judged_with(columns, block, asked, decision) for columns, block in taken]
    codes = np.concatenate([judged.codes for judged in each])
    is_open = as_stated.codes[0] == Verdict.NOT_MEASURED
    agreed = is_open & (codes == Verdict.OUTSIDE).all(axis=0) & on_one_side(are_low(each)[:, 0], codes)
    if not agreed.any():
        return as_stated
    return merged(as_stated, each, agreed[np.newaxis], is_mildest=True)._replace(either_way=agreed)


def on_one_side(is_low: Truths, codes: Codes) -> Truths:
    """Where no choice finds too little what another finds too much: the remedies would be opposite."""
    return np.asarray((is_low == is_low[0]).all(axis=0) | ~np.isin(codes[0], AMISS))


def are_low(each: Sequence[Judged]) -> Truths:
    """Under which choices a value is nearer to its lower limit, or further below it; by choice, row and station."""
    with np.errstate(invalid="ignore"):
        counted = (alternative.measures.counted for alternative in each)
        margins = np.stack([np.where(np.isnan(own), np.inf, own) for own in counted])
    return np.asarray(margins.argmin(axis=1) < len(POSITIONS) // 2)


def open_facts(
    rule: CompiledRule, inputs: Inputs, block: Block, layout: Layout, set_aside: Collection[str]
) -> Iterator[CompiledCharacteristic]:
    """The facts a rule rests on that are missing somewhere and may be tried."""
    own = rule.stations
    seen_once = {None, own, *(layout.lineage(own) if own else ())}
    choices = (name for name in inputs.names if block.characteristics[name].unit is None)
    for name in sorted(frozenset(choices) - inputs.across - inputs.viewed - set(set_aside)):
        item = block.characteristics[name]
        may_be_tried = not item.characteristic.series and item.characteristic.per in seen_once
        if may_be_tried and np.isnan(_known(block, item)).any():
            yield item


def _known(block: Block, item: CompiledCharacteristic) -> Array:
    return block.fetch(Column(item.name, at=item.characteristic.per))


def filled(block: Block, facts: Sequence[CompiledCharacteristic], choices: Array) -> Block:
    """A row for each row of choices, one of each fact; what is known stays."""
    return block.with_values(stated(block, facts, choices))


def stated(block: Block, facts: Sequence[CompiledCharacteristic], choices: Array) -> Mapping[str, Array]:
    """The values of facts by name, a row for each row of choices; what is known stays."""
    return block.in_place_of_nothing({item.name: choices[:, [number]] for number, item in enumerate(facts)})


def _bears(codes: Codes, is_open: Truths, facts: int) -> Truths | None:
    """At which stations each fact is waited for, though the others were known; nothing where none would decide.

    The codes are those of all combinations, and then for each fact the same without it.
    """
    if len(codes) == 1:
        return None
    waits = codes.reshape(1 + facts, len(codes) // (1 + facts), -1) == Verdict.NOT_MEASURED
    if waits[0][:, is_open].all():
        return None
    bears: Truths = (waits[1:] & ~waits[:1]).any(axis=1)
    return bears


def _nothing_is_in_doubt(columns: Columns, inputs: Inputs, decision: Decision) -> bool:
    behind = (item for name, item in columns.gathered.items() if name in inputs.names)
    return not any(item.shared or any(item.moves(decision.needs_instruments)) for item in behind)


def _row_of(judged: Judged, row: int) -> Judged:
    """What came out for one row, where nothing was in doubt."""
    only = slice(row, row + 1)
    return judged._replace(
        measures=judged.measures.rows(only), codes=judged.codes[only], must_open=judged.must_open[only]
    )


def judged_with(columns: Columns, block: Block, asked: Asked, decision: Decision) -> Judged:
    """The rule's verdicts on another block, with all the doubt there is about its readings."""
    gathered = {name: item for name, item in columns.gathered.items() if name in asked.inputs.names}
    doubts = Doubts(block, Columns(gathered), [asked.inputs], decision.needs_instruments)
    measures = asked.measures(doubts.block)
    doubt = doubts.about_rule(asked._replace(measured=block), measures, decision)
    return judge(asked.rule, measures.rows(slice(1)), decision, doubt)


def merged(judged: Judged, each: Sequence[Judged], agreed: Truths, is_mildest: bool = False) -> Judged:
    """The verdicts that agree, by row and station, each with the numbers of the one with the least margin, or the most.

    Of several rows none is in doubt.
    """
    if not agreed.any():
        return judged
    margins = (alternative.measures.margins for alternative in each)
    least = np.stack([np.where(np.isnan(own), np.inf, own).min(axis=0) for own in margins])
    nearest = least.argmax(axis=0) if is_mildest else least.argmin(axis=0)

    def picked(own: Array, arrays: Sequence[Array]) -> Array:
        numbers = nearest if own.ndim == nearest.ndim else nearest[np.newaxis]
        return np.where(agreed, np.take_along_axis(np.stack(arrays), numbers[np.newaxis], axis=0)[0], own)

    every = (judged, *each)
    own, *seen = (outcome.measures.of_rows(len(judged.codes)) for outcome in every)
    doubt = joined([outcome.doubt for outcome in every], [judged.codes.shape[1]] * len(every), axis=-2)
    return Judged(
        rule=judged.rule,
        measures=Measures(
            picked(own.value, [measures.value for measures in seen]),
            picked(own.limits, [measures.limits for measures in seen]),
            picked(own.applies, [measures.applies for measures in seen]),
            own.asks_must,
        ),
        codes=np.where(agreed, each[0].codes, judged.codes),
        must_open=np.where(agreed, np.any([alternative.must_open for alternative in each], axis=0), judged.must_open),
        doubt=None if doubt is None else doubt.at(np.where(agreed, 1 + nearest, 0)[0], np.arange(agreed.shape[1])),
    )
