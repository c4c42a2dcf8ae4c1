"""The judgement: what each rule that is due says of one record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from checker.checking.kept import Kept, asking
from checker.checking.needs import Book
from checker.checking.together import Together
from checker.expressions.expression import Expression
from checker.expressions.names import COMPUTED, Column
from checker.findings.context import Context
from checker.graph import NO_INPUTS, Inputs
from checker.judging.block import Block
from checker.judging.choices import Open, judged_under_choices
from checker.judging.doubt import Doubts
from checker.judging.either_way import judged_either_way
from checker.judging.evidence import Evidence
from checker.judging.inputs import expressions_of
from checker.judging.inspection import Inspector
from checker.judging.judge import Judged, Seen, Verdict, judge_together
from checker.judging.measures import Measures, measure_for
from checker.judging.proof import Asked
from checker.judging.sheet_limits import held_open
from checker.packs.compiled import CompiledRule


class ForUse(NamedTuple):
    """A use asked about, as its context says: the milestones due by now, and the rules that part sheets bring."""

    context: Context
    due: frozenset[str]
    alone: Mapping[str, CompiledRule]


def together(book: Book, evidence: Evidence, uses: Sequence[ForUse]) -> Together:
    """What several uses judged by one decision rule have in common."""
    # Uses that are alike rest on the same inputs, which are one object: it is laid out once.
    inputs = {id(one): one for use in uses for one in _inputs(use, [*_involved(book, evidence, use), *use.alone])}
    doubts = Doubts(
        evidence.block, evidence.columns, tuple(inputs.values()), uses[0].context.decision.needs_instruments
    )
    return Together(doubts)


class Judgement(NamedTuple):
    """What each rule that is due says, the doubts behind it, and the names of what may be computed for several uses."""

    judged: tuple[Judged, ...]
    doubts: Doubts
    computed: frozenset[str]


def judged_by(book: Book, evidence: Evidence, use: ForUse, kept: Kept, shared: Together | None = None) -> Judgement:
    """What each rule that is due says; one on which nothing bears says what it says of every such record."""
    context, due, alone = use
    every = [*(name for name, rule in book.judging.items() if rule.before in due), *alone]

    def rule_of(name: str) -> CompiledRule:
        return alone[name] if name in alone else book.rules[name]

    def behind_it(name: str) -> frozenset[str]:
        occasion = NO_INPUTS if name in alone else book.asking(name)
        return context.inputs(name, context.chain).names | occasion.names

    involved = _involved(book, evidence, use)
    before = kept.judged if shared is None else shared.judged
    # What nothing bears on is known already, but not for every use.
    may_stay = involved if shared is None else [name for name in every if name not in alone]
    asks = {name: asking(book.rules[name], context) for name in may_stay} if before or shared else {}
    stays = {
        name: before[own]
        for name, own in asks.items()
        if own in before and (not kept.changed or kept.changed.isdisjoint(behind_it(name)))
    }
    involved |= alone.keys()
    names = [name for name in every if name not in stays] if stays else every
    if shared is None:
        inputs = tuple(_inputs(use, filter(involved.__contains__, names)))
        doubts = Doubts(evidence.block, evidence.columns, inputs, context.decision.needs_instruments)
    else:
        doubts = shared.doubts

    involved |= {name for name in every if context.sheets.by_name and context.part_sheet(rule_of(name))}
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
        open_rule = Open(judged[name], asked, _again(asked))
        open_rule = open_rule._replace(judged=judged_under_choices(open_rule, evidence, context.decision))
        judged[name] = held_open(judged_either_way(open_rule, evidence, context.decision), open_rule.asked.part)
    if kept.computed:
        rested_on = frozenset[str]().union(*map(behind_it, stays))
        for item in (book.characteristics[name] for name in kept.computed & rested_on):
            doubts.block.fetch(Column(item.name, COMPUTED, item.characteristic.per))
    computed = frozenset[str]()
    if shared is None:
        impossible = doubts.block.impossible()
    else:
        for name in involved - alone.keys():
            if asks[name] not in shared.behind:
                shared.behind[asks[name]] = shared.names_behind(_evaluated(book.rules[name], context.chain))
        of_sheets = (shared.names_behind(_evaluated(rule, context.chain)) for rule in alone.values())
        computed = computed.union(*(shared.behind[asks[name]] for name in involved - alone.keys()), *of_sheets)
        impossible = frozenset(shared.impossible(computed))
    inspector = Inspector(
        block=doubts.block,
        plan=context.plan,
        seen=evidence.seen,
        past=evidence.past,
        inputs=lambda name: context.inputs(name, context.chain),
        doubtful=frozenset(evidence.set_aside) | impossible,
    )
    made = {name: inspector.inspected(judged_rule) for name, judged_rule in judged.items()}
    made |= _inspected_unmeasured(book, [name for name in names if name not in made], inspector, evidence, context)
    by_name = made | stays
    said = tuple(by_name[name] for name in every)
    if shared is not None:
        shared.judged.update((own, by_name[name]) for name, own in asks.items())
    return Judgement(said, doubts, computed)


def _involved(book: Book, evidence: Evidence, use: ForUse) -> set[str]:
    """The rules of the packs on which something bears that was written down."""
    resting = book.resting(use.context.chain, use.due)
    written = (*evidence.columns.gathered, *evidence.set_aside)
    return {rule for name in written for rule in resting.get(name, ())}


def _inputs(use: ForUse, rules: Iterable[str]) -> Iterator[Inputs]:
    return (use.context.inputs(name, use.context.chain) for name in rules)


def _evaluated(rule: CompiledRule, chain: tuple[str, ...]) -> Iterator[Expression]:
    """All that is evaluated to judge a rule, and to see whether it is asked for."""
    yield from expressions_of(rule, chain)
    if rule.occasion is not None:
        yield rule.occasion


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


def _is_missing_for_certain(rule: CompiledRule, measures: Measures) -> bool:
    """Whether nothing is there to be doubted: no value at any station, and no condition that could be in doubt."""
    return rule.when is None and rule.unless is None and bool(np.isnan(measures.value[0]).all())
