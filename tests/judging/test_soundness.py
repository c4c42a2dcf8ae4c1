"""Nothing unmeasured passes: whatever the missing readings turn out to be, a verdict given without them stands.

Made-up records with gaps are judged; then every gap is filled with values from anywhere in its plausible range, and
the records are judged again. A verdict of within, advisory or outside that the gaps could still have turned is wrong.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from pack_tools import gear_rulebook

from checker.expressions.names import Column
from checker.expressions.truth import Array
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.judge import Verdict, judge
from checker.judging.measures import measure
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.released import lock_path
from checker.plugins import gather
from checker.rulebook import Rulebook, load_rulebook
from checker.vetting.trial import trial_block

ASKS_WHAT_IS_KNOWN = {"known", "measured", "count_of_readings", "least_known", "greatest_known", "mean_known"}
"""Functions whose answer a reading may change by merely being there."""
FACE_VALUE = Decision("simple")


def completed(block: Block, seed: int) -> Block:
    """The same records with every gap filled, each value anywhere in its plausible range."""
    random = np.random.default_rng(seed)
    values = {name: _filled(block, item, random) for name, item in sorted(block.characteristics.items())}
    return Block(block.characteristics, block.layout, values)


def _filled(block: Block, item: CompiledCharacteristic, random: np.random.Generator) -> Array:
    direct = block.measured[item.name]
    known = block.fetch(_value_of(item))
    if item.unit is None:
        anything = random.integers(0, len(item.characteristic.choices), direct.shape).astype(np.float64)
    else:
        anything = random.uniform(item.low, item.high, direct.shape)
    return np.where(np.isnan(known), anything, direct)


def _value_of(item: CompiledCharacteristic) -> Column:
    return Column(item.name, at=item.characteristic.per)


def asks_what_is_known(rule: CompiledRule, rulebook: Rulebook, chain: tuple[str, ...]) -> bool:
    """Whether a rule, or what it computes with, depends on which readings there are."""
    return not rulebook.inputs(rule.name, chain).named.isdisjoint(ASKS_WHAT_IS_KNOWN)


def turned(rulebook: Rulebook, before: Block, after: Block) -> Iterator[str]:
    """The rules and uses whose verdicts the gaps could still turn."""
    for rule in rulebook.rules.values():
        for application in rulebook.applications:
            chain = rulebook.chain(application)
            if asks_what_is_known(rule, rulebook, chain):
                continue
            was, now = (judge(rule, measure(rule, block, chain), FACE_VALUE).codes for block in (before, after))
            was, now = np.broadcast_arrays(was, now)
            for verdict in (Verdict.WITHIN, Verdict.ADVISORY, Verdict.OUTSIDE):
                if ((was == verdict) & (now != verdict)).any():
                    yield f"{rule.name} ({application}): {verdict}"


def test_a_verdict_is_given_only_where_the_missing_cannot_turn_it() -> None:
    rulebook = gear_rulebook()
    before = trial_block(rulebook)

    @examples(20)
    @given(st.integers(0, 2**32))
    def holds(seed: int) -> None:
        assert list(turned(rulebook, before, completed(before, seed))) == []

    holds()


def test_so_it_is_with_every_shipped_rule() -> None:
    plugins = gather()
    rulebook = load_rulebook(
        *(name for name, folder in plugins.rule_packs.items() if folder.parent == lock_path().parent)
    )
    before = trial_block(rulebook)
    assert list(turned(rulebook, before, completed(before, 1))) == []


def test_the_test_itself_sees_a_verdict_that_rests_on_nothing() -> None:
    """A judge that took a gap for nought would be caught."""
    rulebook = gear_rulebook()
    before = trial_block(rulebook)
    careless = Block(
        rulebook.characteristics,
        before.layout,
        {name: np.nan_to_num(values) for name, values in before.measured.items()},
    )
    assert list(turned(rulebook, careless, completed(before, 1)))
