"""What is within at face value: nearer to its limit than the means by which it is usually read would tell.

It changes no verdict. A rule is judged once more as if every reading that names no instrument had the uncertainty that
is usual for it, and guarded by that; what is then no longer within stood on the reading as written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property, partial

import numpy as np

from checker.expressions.truth import Truths
from checker.graph import Inputs
from checker.judging.block import Block
from checker.judging.columns import Columns
from checker.judging.conformity import Decision
from checker.judging.doubt import Doubts
from checker.judging.judge import Judged, Seen, UnderChoices, Verdict, judge_together
from checker.judging.measures import Measures
from checker.packs.compiled import CompiledRule

GUARDED = Decision("guarded")


class FaceValue:
    """Which verdicts "within" of one record stand at face value; worked out when first asked for."""

    def __init__(
        self,
        block: Block,
        usual: Columns,
        judged: Iterable[Judged],
        inputs: Callable[[str], Inputs],
        measured: Callable[[CompiledRule, Block], Measures],
    ) -> None:
        """`usual` are the columns with usual uncertainties; `measured` gives what a rule sees of a block."""
        self._block = block
        self._usual = usual
        self._judged = tuple(judged)
        self._inputs = inputs
        self._measured = measured

    def of(self, judged: Judged) -> Truths | None:
        """At which stations a rule is within at face value, shape (stations,); nothing where it is nowhere."""
        return self._found.get(judged.rule.name)

    @property
    def count(self) -> int:
        """At how many stations of all rules."""
        return sum(int(found.sum()) for found in self._found.values())

    @cached_property
    def _found(self) -> Mapping[str, Truths]:
        may_be = [judged_rule for judged_rule in self._judged if self._may_be(judged_rule)]
        plain = [judged_rule for judged_rule in may_be if judged_rule.choices is None]
        masks = {
            judged_rule.rule.name: mask
            for judged_rule, mask in zip(plain, self._otherwise(plain, self._block), strict=True)
        }
        masks |= {
            judged_rule.rule.name: self._otherwise_for_some(judged_rule, judged_rule.choices)
            for judged_rule in may_be
            if judged_rule.choices
        }
        return {name: mask for name, mask in masks.items() if mask.any()}

    def _otherwise_for_some(self, judged: Judged, choices: UnderChoices) -> Truths:
        """The same for a rule that was judged under each choice of facts that nobody stated."""
        each = [next(self._otherwise([judged], choices.filled(self._block, row))) for row in range(len(choices.codes))]
        return np.asarray(np.any(each, axis=0))

    def _otherwise(self, asked: Sequence[Judged], block: Block) -> Iterator[Truths]:
        """At which stations each rule is within, and is not when guarded."""
        for judged_rule, again in zip(asked, judge_together(self._seen(asked, block), GUARDED), strict=True):
            yield np.asarray((judged_rule.codes[0] == Verdict.WITHIN) & (again.codes[0] != Verdict.WITHIN))

    def _may_be(self, judged: Judged) -> bool:
        """Whether it is within anywhere, and rests on a reading that has only a usual uncertainty."""
        if self._usual_only.isdisjoint(self._inputs(judged.rule.name).names):
            return False
        return bool((judged.codes[0] == Verdict.WITHIN).any())

    @cached_property
    def _usual_only(self) -> frozenset[str]:
        """The characteristics of which a reading has only a usual uncertainty."""
        return frozenset(name for name, item in self._usual.gathered.items() if item.is_usual)

    def _seen(self, asked: Sequence[Judged], block: Block) -> list[Seen]:
        inputs = [self._inputs(judged_rule.rule.name) for judged_rule in asked]
        doubts = Doubts(block, self._usual, inputs)
        seen = []
        for judged_rule, own in zip(asked, inputs, strict=True):
            again = partial(self._measured, judged_rule.rule)
            measures = again(doubts.block)
            seen.append(Seen(judged_rule.rule, measures, doubts.about(measures, own, again)))
        return seen
