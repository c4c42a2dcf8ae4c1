"""The judgement: what each rule that is due says of one record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from checker.checking.book import Book
from checker.checking.kept import Asking, asking
from checker.checking.together import Together
from checker.expressions.expression import Expression
from checker.findings.context import Context
from checker.frozen import FrozenMapping
from checker.judging.choices import judged_either_way, judged_under_choices
from checker.judging.doubt import Doubts
from checker.judging.evidence import Evidence
from checker.judging.inspection import Inspector
from checker.judging.judge import Judged, Seen, Verdict, judge_together
from checker.judging.measures import Measures
from checker.judging.proof import Asked
from checker.judging.sheet_limits import held_open
from checker.packs.compiled import CompiledRule


class ForUse(NamedTuple):
    """A use asked about, as its context says: the milestones due by now, and the rules that part sheets bring.

    `asks` says of each rule of the packs on which something bears that was written down, or a part sheet, what it asks.
    """

    context: Context
    due: frozenset[str]
    alone: Mapping[str, CompiledRule]
    asks: Mapping[str, Asking]


class Judgement(NamedTuple):
    """What each rule that is due says, and the names of what it takes to be computed."""

    judged: tuple[Judged, ...]
    computed: frozenset[str]


def use_of(
    book: Book, evidence: Evidence, context: Context, due: frozenset[str], alone: Mapping[str, CompiledRule]
) -> ForUse:
    """A use, as its context says, with what its rules ask of a record."""
    resting = book.resting(context.chain, due)
    written = (*evidence.columns.gathered, *evidence.set_aside)
    bears = {rule for name in written for rule in resting.get(name, ())}
    if context.sheets.by_name:
        of_use = (name for name, rule in book.judging.items() if rule.before in due)
        bears |= {name for name in of_use if context.part_sheet(book.rules[name])}
    asks = {name: asking(book.rules[name], context) for name in book.judging if name in bears}
    return ForUse(context, due, alone, asks)


def together(evidence: Evidence, uses: Sequence[ForUse], judged: Mapping[Asking, Judged] = FrozenMapping()) -> Together:
    """What uses judged by one decision rule have in common; what is `judged` already needs no doubts any more."""
    rules = [(use, name) for use in uses for name in (*_anew(use, judged), *use.alone)]
    # Uses that are alike rest on the same inputs, which are one object: it is laid out once.
    inputs = {id(one): one for one in (use.context.inputs(name) for use, name in rules)}
    needs_instruments = uses[0].context.decision.needs_instruments
    doubts = Doubts(evidence.block, evidence.columns, tuple(inputs.values()), needs_instruments)
    return Together(doubts, judged, evidence.columns.gathered.keys() | evidence.set_aside.keys())


def judged_by(book: Book, evidence: Evidence, use: ForUse, shared: Together) -> Judgement:
    """What each rule that is due says; one on which nothing bears says what it says of every such record."""
    context, due, alone, asks = use
    every = [*(name for name, rule in book.judging.items() if rule.before in due), *alone]
    anew = {**{name: book.rules[name] for name in _anew(use, shared.judged)}, **alone}
    judged = _judged(anew, evidence, context, shared.doubts)
    rules = [*(book.rules[name] for name in asks), *alone.values()]
    computed = shared.names_behind(expression for rule in rules for expression in _evaluated(rule, context.chain))
    inspector = Inspector(
        block=shared.doubts.block,
        plan=context.plan,
        seen=evidence.seen,
        past=evidence.past,
        inputs=context.inputs,
        doubtful=frozenset((*evidence.set_aside, *shared.impossible(computed))),
    )
    said = {name: shared.judged[own] for name, own in asks.items() if name not in anew}
    said |= {name: inspector.inspected(judged_rule) for name, judged_rule in judged.items()}
    said |= _inspected_unmeasured(book, [name for name in every if name not in said], inspector, evidence, context)
    shared.judged.update((own, said[name]) for name, own in asks.items())
    return Judgement(tuple(said[name] for name in every), computed)


def _anew(use: ForUse, judged: Mapping[Asking, Judged]) -> Iterator[str]:
    """The rules of the packs that ask what is not judged yet."""
    return (name for name, own in use.asks.items() if own not in judged)


def _judged(
    rules: Mapping[str, CompiledRule], evidence: Evidence, context: Context, doubts: Doubts
) -> Mapping[str, Judged]:
    """What rules say, whether they are asked for or not."""
    asked = {name: asked_of(rule, context) for name, rule in rules.items()}
    seen = [_seen(one, doubts, context) for one in asked.values()]
    judged = {judged_rule.rule.name: judged_rule for judged_rule in judge_together(seen, context.decision)}
    for name in [name for name, judged_rule in judged.items() if (judged_rule.codes == Verdict.NOT_MEASURED).any()]:
        for way in (judged_under_choices, judged_either_way):
            judged[name] = way(judged[name], asked[name], evidence, context.decision)
        judged[name] = held_open(judged[name], asked[name].part)
    return judged


def _seen(asked: Asked, doubts: Doubts, context: Context) -> Seen:
    measures = asked.measures(doubts.block)
    is_missing = _is_missing_for_certain(asked.rule, measures)
    doubt = None if is_missing else doubts.about_rule(asked, measures, context.decision)
    return Seen(asked.rule, measures, doubt)


def _evaluated(rule: CompiledRule, chain: tuple[str, ...]) -> Iterator[Expression]:
    """All that is evaluated to judge a rule, and to see whether it is asked for."""
    yield from rule.expressions(chain)
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


def asked_of(rule: CompiledRule, context: Context) -> Asked:
    """A rule as it is asked of the record."""
    return Asked(rule, context.chain, context.part_limit(rule), context.inputs(rule.name), context.block)


def _is_missing_for_certain(rule: CompiledRule, measures: Measures) -> bool:
    """Whether nothing is there to be doubted: no value at any station, and no condition that could be in doubt."""
    return rule.when is None and rule.unless is None and bool(np.isnan(measures.value[0]).all())
