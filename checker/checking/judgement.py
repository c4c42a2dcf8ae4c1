"""The judgement: what each rule that is due says of one record."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np

from checker.checking.kept import Kept
from checker.checking.needs import Book
from checker.expressions.names import COMPUTED, Column
from checker.findings.context import Context
from checker.graph import NO_INPUTS
from checker.judging.block import Block
from checker.judging.choices import Open, judged_under_choices
from checker.judging.doubt import Doubts
from checker.judging.either_way import judged_either_way
from checker.judging.evidence import Evidence
from checker.judging.inspection import Inspector
from checker.judging.judge import Judged, Seen, Verdict, judge_together
from checker.judging.measures import Measures, measure_for
from checker.judging.proof import Asked
from checker.judging.sheet_limits import held_open
from checker.packs.compiled import CompiledRule


def judged_by(
    book: Book,
    context: Context,
    evidence: Evidence,
    due: frozenset[str],
    alone: Mapping[str, CompiledRule],
    kept: Kept,
) -> tuple[Doubts, tuple[Judged, ...]]:
    """What each rule that is due says; one on which nothing bears says what it says of every such record."""
    every = [*(name for name, rule in book.judging.items() if rule.before in due), *alone]

    def rule_of(name: str) -> CompiledRule:
        return alone[name] if name in alone else book.rules[name]

    def behind_it(name: str) -> frozenset[str]:
        asking = NO_INPUTS if name in alone else book.asking(name)
        return context.inputs(name, context.chain).names | asking.names

    def stay(name: str) -> bool:
        is_same = name not in alone and kept.is_alike(rule_of(name), context)
        return is_same and kept.changed.isdisjoint(behind_it(name))

    resting = book.resting(context.chain, due)
    involved = {
        name for written in (*evidence.columns.gathered, *evidence.set_aside) for name in resting.get(written, ())
    }
    involved |= alone.keys()
    stays = {name: kept.judged[name] for name in involved & kept.judged.keys() if stay(name)}
    names = [name for name in every if name not in stays] if stays else every
    inputs = [context.inputs(name, context.chain) for name in names if name in involved]
    doubts = Doubts(evidence.block, evidence.columns, inputs, context.decision.needs_instruments)

    involved |= {name for name in names if context.sheets.by_name and context.part_sheet(rule_of(name))}
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
    rested_on = frozenset[str]().union(*map(behind_it, stays))
    for item in (book.characteristics[name] for name in kept.computed & rested_on):
        doubts.block.fetch(Column(item.name, COMPUTED, item.characteristic.per))
    inspector = Inspector(
        block=doubts.block,
        plan=context.plan,
        seen=evidence.seen,
        past=evidence.past,
        inputs=lambda name: context.inputs(name, context.chain),
        doubtful=frozenset(evidence.set_aside) | doubts.block.impossible(),
    )
    made = {name: inspector.inspected(judged_rule) for name, judged_rule in judged.items()}
    made |= _inspected_unmeasured(book, [name for name in names if name not in made], inspector, evidence, context)
    return doubts, tuple(stays[name] if name in stays else made[name] for name in every)


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
