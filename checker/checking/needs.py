"""What judging needs of a rulebook."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import Protocol

from checker.expressions.names import Scope
from checker.graph import Inputs
from checker.judging import evidence
from checker.judging.judge import Judged
from checker.judging.unmeasured import Unmeasured
from checker.packs.inspection import Plan
from checker.packs.picturing import CompiledPicture
from checker.packs.rule import Rule
from checker.plugins import Plugins
from checker.records.layout import Layout


class Book(evidence.Book, Protocol):
    """What judging needs of a rulebook."""

    choice: str
    scope: Scope

    @property
    def judging(self) -> Mapping[str, Rule]: ...
    @property
    def plugins(self) -> Plugins: ...
    @property
    def pictures(self) -> Mapping[str, CompiledPicture]: ...
    def chain(self, application: str) -> tuple[str, ...]: ...
    def inputs(self, rule: str, chain: tuple[str, ...]) -> Inputs: ...
    def resting(self, chain: tuple[str, ...], due: frozenset[str]) -> Mapping[str, Set[str]]: ...
    def limiting(self, rule: str, chain: tuple[str, ...]) -> frozenset[str]: ...
    def asking(self, rule: str) -> Inputs: ...
    def unmeasured(self, chain: tuple[str, ...], layout: Layout) -> Unmeasured: ...
    def unasked(self, chain: tuple[str, ...], layout: Layout, plan: Plan) -> dict[str, Judged]: ...
