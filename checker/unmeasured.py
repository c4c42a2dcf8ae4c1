"""What is said of assemblies on which nothing was measured, by their layout."""

from __future__ import annotations

from collections.abc import Mapping

from checker.judging.block import Block
from checker.judging.judge import Judged
from checker.judging.unmeasured import Unmeasured
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.inspection import Plan
from checker.records.layout import Layout

MOST_LAYOUTS = 64
"""How many layouts are remembered; a service must not grow with every odd record."""


class UnmeasuredAssemblies:
    """It follows from the packs and the layout alone; what was asked once is remembered."""

    def __init__(
        self, rules: Mapping[str, CompiledRule], characteristics: Mapping[str, CompiledCharacteristic]
    ) -> None:
        self._rules = rules
        self._characteristics = characteristics
        self._blocks: dict[Layout, Block] = {}
        self._said: dict[tuple[tuple[str, ...], Layout], Unmeasured] = {}
        self._unasked: dict[tuple[tuple[str, ...], Layout, str, tuple[str, ...]], dict[str, Judged]] = {}

    def block(self, layout: Layout) -> Block:
        """The block of such an assembly."""
        block = self._blocks.get(layout)
        if block is None:
            if len(self._blocks) >= MOST_LAYOUTS:
                self._blocks.clear()
            block = self._blocks[layout] = Block(self._characteristics, layout, {})
        return block

    def said(self, chain: tuple[str, ...], layout: Layout) -> Unmeasured:
        """What rules say of it for an application and those it is like."""
        unmeasured = self._said.get((chain, layout))
        if unmeasured is None:
            if len(self._said) >= MOST_LAYOUTS:
                self._said.clear()
                self._unasked.clear()
            unmeasured = self._said[chain, layout] = Unmeasured(self._rules, self.block(layout), chain)
        return unmeasured

    def unasked(self, chain: tuple[str, ...], layout: Layout, plan: Plan) -> dict[str, Judged]:
        """What becomes of that where the plan does not ask for all of it, by rule, as far as it is known yet."""
        return self._unasked.setdefault((chain, layout, plan.level, plan.scope), {})
