"""What each rule rests on, for each use, and which rules rest on each characteristic."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Set
from copy import copy
from itertools import islice

from checker.graph import NO_INPUTS, Inputs, inputs_of
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.rule import Rule


class Resting:
    """It follows from the packs alone; what was asked once is remembered."""

    def __init__(
        self,
        rules: Mapping[str, CompiledRule],
        characteristics: Mapping[str, CompiledCharacteristic],
        judging: Mapping[str, Rule],
    ) -> None:
        self._rules = rules
        self._characteristics = characteristics
        self._judging = judging
        self._inputs: dict[tuple[str, tuple[str, ...]], Inputs] = {}
        self._inputs_speaking: dict[tuple[str, tuple[int, ...]], Inputs] = {}
        self._limiting: dict[tuple[str, tuple[str, ...]], frozenset[str]] = {}
        self._asking: dict[str, Inputs] = {}
        self._by_characteristic: dict[tuple[tuple[str, ...], frozenset[str]], Mapping[str, Set[str]]] = {}

    def only(self, judging: Mapping[str, Rule]) -> Resting:
        """The same where only these rules judge."""
        chosen = copy(self)
        chosen._judging, chosen._by_characteristic = judging, {}
        return chosen

    def inputs(self, rule: str, chain: tuple[str, ...]) -> Inputs:
        """What a rule rests on when judged for an application and those it is like."""
        inputs = self._inputs.get((rule, chain))
        if inputs is None:
            limits = self._rules[rule].limits
            alike = self._inputs_speaking.get((rule, speaking := limits.speaking(chain)))
            inputs = alike or inputs_of(self._rules[rule].expressions(chain), self._characteristics)
            self._inputs[rule, chain] = self._inputs_speaking[rule, speaking] = inputs
        return inputs

    def limiting(self, rule: str, chain: tuple[str, ...]) -> frozenset[str]:
        """What bears on the limits of a rule, and on whether it applies."""
        names = self._limiting.get((rule, chain))
        if names is None:
            beside_its_value = islice(self._rules[rule].expressions(chain), 1, None)
            names = self._limiting[rule, chain] = inputs_of(beside_its_value, self._characteristics).names
        return names

    def asking(self, rule: str) -> Inputs:
        """What the occasion on which a rule is asked for rests on."""
        inputs = self._asking.get(rule)
        if inputs is None:
            occasion = self._rules[rule].occasion
            inputs = NO_INPUTS if occasion is None else inputs_of([occasion], self._characteristics)
            self._asking[rule] = inputs
        return inputs

    def by_characteristic(self, chain: tuple[str, ...], due: frozenset[str]) -> Mapping[str, Set[str]]:
        """The rules of these milestones that rest on a characteristic, by its name."""
        rules = self._by_characteristic.get((chain, due))
        if rules is None:
            by_name: dict[str, set[str]] = defaultdict(set)
            for rule in self._judging.values():
                for name in self.inputs(rule.name, chain).names if rule.before in due else ():
                    by_name[name].add(rule.name)
            rules = self._by_characteristic[chain, due] = dict(by_name)
        return rules
