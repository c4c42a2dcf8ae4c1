"""What rules say where nothing was measured, and what of each of them stands whatever is measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from checker.expressions.faults import note, noting
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.judge import Judged, Seen, judge_together
from checker.judging.measures import measure
from checker.judging.rows import Ruled
from checker.packs.compiled import CompiledRule
from checker.packs.limits import PHYSICS


def standing(rule: CompiledRule, block: Block, chain: tuple[str, ...]) -> Ruled | None:
    """What of a rule stands for all records that differ from a block of one in its value alone; if that can be told."""
    if rule.is_demand:
        return None
    with noting() as faults:
        found = Ruled.of(rule, block, chain)
    # Where one of several limits of physics is not known, the value may tell whether another is broken.
    is_physics = any(rule.limits.candidates(chain, PHYSICS, side) for side in ("low", "high"))
    return None if faults or (is_physics and any(np.isnan(edge).any() for edge in found.bounds.edges)) else found


class Unmeasured:
    """What rules say of an assembly on which nothing was measured; each is asked once."""

    def __init__(self, rules: Mapping[str, CompiledRule], block: Block, chain: tuple[str, ...]) -> None:
        self._rules = rules
        self._block = block
        self._chain = chain
        self._judged: dict[str, Judged] = {}
        self._failed: dict[str, Mapping[str, str]] = {}
        self._standing: dict[str, Ruled | None] = {}

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
            seen = Seen(rule, measure(rule, self._block, self._chain), None)
        if faults:
            self._failed[rule.name] = faults
        return seen

    def standing(self, name: str) -> Ruled | None:
        """What of a rule stands for all records of which nothing bears on its limits, or on whether it applies."""
        if name not in self._standing:
            self._standing[name] = standing(self._rules[name], self._block, self._chain)
        return self._standing[name]
