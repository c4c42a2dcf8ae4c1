"""What is within at face value: nearer to its limit than the means by which it is usually read would tell.

It changes no verdict. A rule is judged once more as if every reading that names no instrument had the uncertainty that
is usual for it, and guarded by that; what is then no longer within stood on the reading as written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property

import numpy as np

from checker.expressions.truth import Truths
from checker.judging.block import Block
from checker.judging.columns import Columns
from checker.judging.conformity import Decision
from checker.judging.doubt import Doubts
from checker.judging.judge import Judged, Seen, Verdict, judge_together
from checker.judging.proof import Asked
from checker.packs.compiled import CompiledRule

_WITHIN = int(Verdict.WITHIN)  # looked for many times as fast as a member of an Enum
GUARDED = Decision("guarded")


class FaceValue:
    """Which verdicts "within" of one record stand at face value; worked out when first asked for."""

    def __init__(
        self, block: Block, usual: Columns, judged: Iterable[Judged], asked: Callable[[CompiledRule], Asked]
    ) -> None:
        """`usual` are the columns with usual uncertainties; `asked` gives a rule as it is asked of the record."""
        self._block = block
        self._usual = usual
        self._judged = tuple(judged)
        self._asked = asked

    def of(self, judged: Judged) -> Truths | None:
        """At which stations a rule is within at face value, shape (stations,); nothing where it is nowhere."""
        return self._found.get(judged.rule.name)

    @property
    def count(self) -> int:
        """At how many stations of all rules."""
        return sum(int(found.sum()) for found in self._found.values())

    @cached_property
    def _found(self) -> Mapping[str, Truths]:
        plain, masks = list[Judged](), dict[str, Truths]()
        for judged_rule in filter(self._may_be, self._judged):
            under = judged_rule.choices
            if under is None:
                plain.append(judged_rule)
                continue
            blocks = (under.filled(self._block, row) for row in range(len(under.codes)))
            each = [next(self._otherwise([judged_rule], block)) for block in blocks]
            masks[judged_rule.rule.name] = np.asarray(np.any(each, axis=0))
        for judged_rule, mask in zip(plain, self._otherwise(plain, self._block), strict=True):
            masks[judged_rule.rule.name] = mask
        return {name: mask for name, mask in masks.items() if mask.any()}

    def _otherwise(self, asked: Sequence[Judged], block: Block) -> Iterator[Truths]:
        """At which stations each rule is within, and is not when guarded."""
        guarded = judge_together([*self._seen(asked, block)], GUARDED)
        for judged_rule, again in zip(asked, guarded, strict=True):
            yield np.asarray((judged_rule.codes[0] == Verdict.WITHIN) & (again.codes[0] != Verdict.WITHIN))

    def _may_be(self, judged: Judged) -> bool:
        """Whether it is within anywhere, and rests on a reading that has only a usual uncertainty."""
        return _WITHIN in judged.codes[0].tolist() and not self._usual_only.isdisjoint(
            self._asked(judged.rule).inputs.names
        )

    @cached_property
    def _usual_only(self) -> frozenset[str]:
        """The characteristics of which a reading has only a usual uncertainty."""
        return frozenset(name for name, item in self._usual.gathered.items() if item.is_usual)

    def _seen(self, judged: Sequence[Judged], block: Block) -> Iterator[Seen]:
        every = [self._asked(judged_rule.rule) for judged_rule in judged]
        doubts = Doubts(block, self._usual, [asked.inputs for asked in every])
        for asked in every:
            measures = asked.measures(doubts.block)
            yield Seen(asked.rule, measures, doubts.about(measures, asked.inputs, asked.measures))
