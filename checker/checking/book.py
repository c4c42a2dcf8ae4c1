"""Packs compiled, and what follows from them alone whatever the record: asked once and remembered."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Set
from itertools import islice
from typing import NoReturn, Self

from checker.errors import Problem, UsageError, nearest, require
from checker.expressions.names import Scope
from checker.frozen import FrozenMapping
from checker.judging.block import Block
from checker.judging.judge import Judged
from checker.judging.unmeasured import Unmeasured
from checker.notation.vocabulary import Notation
from checker.packs.compiled import NO_INPUTS, CompiledCharacteristic, CompiledRule, Inputs, inputs_of
from checker.packs.compiled_packs import CompiledPacks
from checker.packs.inspection import Plan
from checker.packs.layers import Layered
from checker.packs.materials import Materials
from checker.packs.pack import Pack
from checker.packs.picturing import CompiledPicture
from checker.packs.rule import Rule
from checker.plugins import Plugins
from checker.records.layout import Layout

MOST_LAYOUTS = 64
"""How many layouts are remembered; a service must not grow with every odd record."""


class Book:
    """What judging needs of a rulebook; nobody sets an attribute of it."""

    compiled: CompiledPacks
    layered: Layered
    notation: Notation
    scope: Scope
    characteristics: Mapping[str, CompiledCharacteristic]
    per: Mapping[str, str | None]
    rules: Mapping[str, CompiledRule]
    materials: Materials
    pictures: Mapping[str, CompiledPicture]
    plugins: Plugins
    choice: str
    """Why these packs were taken, where nobody named them."""
    judging: Mapping[str, Rule]
    """The rules that judge, by name: all of them, or those that were chosen."""
    _inputs: dict[tuple[str, tuple[str, ...]], Inputs]
    _inputs_speaking: dict[tuple[str, tuple[int, ...]], Inputs]
    _limiting: dict[tuple[str, tuple[str, ...]], frozenset[str]]
    _asking: dict[str, Inputs]
    _resting: dict[tuple[tuple[str, ...], frozenset[str]], Mapping[str, Set[str]]]
    _blank: dict[Layout, Block]
    _unmeasured: dict[tuple[tuple[str, ...], Layout], Unmeasured]
    _unasked: dict[tuple[tuple[str, ...], Layout, str, tuple[str, ...]], dict[str, Judged]]

    def __init__(self, compiled: CompiledPacks, plugins: Plugins, choice: str) -> None:
        own = vars(self)
        own.update(compiled._asdict(), compiled=compiled, plugins=plugins, choice=choice)
        own["judging"] = compiled.layered.rules
        own.update((name, {}) for name in Book.__annotations__ if name.startswith("_"))

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"{name!r} cannot be set: a rulebook is shared and read-only")

    @property
    def packs(self) -> tuple[Pack, ...]:
        """The packs it is made of, each after those it builds on."""
        return self.layered.packs

    @property
    def applications(self) -> tuple[str, ...]:
        """The names of the uses that it can judge for."""
        return tuple(self.layered.applications)

    def rule(self, name: str) -> CompiledRule:
        """A rule by name; raises UsageError naming the nearest one, or who dropped it."""
        require(name, 'give the names of rules one by one, as in "backlash"', str)
        if name in self.layered.retired:
            raise UsageError(Problem(f"rule {name!r} is not asked here, by policy: {self.layered.retired[name]}"))
        if name not in self.rules:
            raise UsageError(Problem(f"no rule {name!r} in {self}", hint=nearest(name, self.rules)))
        return self.rules[name]

    def chain(self, application: str) -> tuple[str, ...]:
        """An application and those it is like; raises UsageError for an unknown one."""
        if not application:
            hint = f"name it with --application; known: {', '.join(self.applications)}"
            raise UsageError(Problem("the record does not say what it is used for", hint=hint))
        if application not in self.layered.applications:
            known = ", ".join(self.applications)
            hint = nearest(application, self.applications) or f"known: {known}"
            if application in (*self.plugins.rule_packs, *(pack.name for pack in self.packs)):
                hint = f"that is a rule pack: name it with --pack, or in the record, and with it one of {known}"
            raise UsageError(Problem(f"no application {application!r} in {self}", hint=hint))
        return self.layered.chains[application]

    def only(self, *rules: str) -> Self:
        """A rulebook of the same packs that judges by these rules alone; what they say is the same.

        A report says by how many of how many it was judged: that all of them hold is no word on the others.
        Records are read as by the whole rulebook. Raises UsageError for unknown names.
        """
        judging = FrozenMapping({(rule := self.rule(name).rule).name: rule for name in rules})
        found = object.__new__(type(self))  # a copy would be compiled again, as in another program
        vars(found).update(vars(self), judging=judging, _resting={})
        return found

    def inputs(self, rule: str, chain: tuple[str, ...]) -> Inputs:
        """What a rule rests on when judged for an application and those it is like."""
        inputs = self._inputs.get((rule, chain))
        if inputs is None:
            limits = self.rules[rule].limits
            alike = self._inputs_speaking.get((rule, speaking := limits.speaking(chain)))
            inputs = alike or inputs_of(self.rules[rule].expressions(chain), self.characteristics)
            self._inputs[rule, chain] = self._inputs_speaking[rule, speaking] = inputs
        return inputs

    def limiting(self, rule: str, chain: tuple[str, ...]) -> frozenset[str]:
        """What bears on the limits of a rule, and on whether it applies."""
        names = self._limiting.get((rule, chain))
        if names is None:
            beside_its_value = islice(self.rules[rule].expressions(chain), 1, None)
            names = self._limiting[rule, chain] = inputs_of(beside_its_value, self.characteristics).names
        return names

    def asking(self, rule: str) -> Inputs:
        """What the occasion on which a rule is asked for rests on."""
        inputs = self._asking.get(rule)
        if inputs is None:
            occasion = self.rules[rule].occasion
            inputs = NO_INPUTS if occasion is None else inputs_of([occasion], self.characteristics)
            self._asking[rule] = inputs
        return inputs

    def resting(self, chain: tuple[str, ...], due: frozenset[str]) -> Mapping[str, Set[str]]:
        """The rules of these milestones that rest on a characteristic, by its name."""
        rules = self._resting.get((chain, due))
        if rules is None:
            by_name: dict[str, set[str]] = defaultdict(set)
            for rule in self.judging.values():
                for name in self.inputs(rule.name, chain).names if rule.before in due else ():
                    by_name[name].add(rule.name)
            rules = self._resting[chain, due] = dict(by_name)
        return rules

    def blank(self, layout: Layout) -> Block:
        """An assembly of this layout on which nothing was measured."""
        block = self._blank.get(layout)
        if block is None:
            if len(self._blank) >= MOST_LAYOUTS:
                self._blank.clear()
            block = self._blank[layout] = Block(self.characteristics, layout, {})
        return block

    def unmeasured(self, chain: tuple[str, ...], layout: Layout) -> Unmeasured:
        """What rules say of an assembly of this layout on which nothing was measured."""
        unmeasured = self._unmeasured.get((chain, layout))
        if unmeasured is None:
            if len(self._unmeasured) >= MOST_LAYOUTS:
                self._unmeasured.clear()
                self._unasked.clear()
            unmeasured = self._unmeasured[chain, layout] = Unmeasured(self.rules, self.blank(layout), chain)
        return unmeasured

    def unasked(self, chain: tuple[str, ...], layout: Layout, plan: Plan) -> dict[str, Judged]:
        """What becomes of that where the plan does not ask for all of it, by rule, as far as it is known yet."""
        return self._unasked.setdefault((chain, layout, plan.level, plan.scope), {})

    def __str__(self) -> str:
        return ", ".join(map(str, self.packs))
