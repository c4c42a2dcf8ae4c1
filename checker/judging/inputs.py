"""Which readings a rule rests on, through all that is derived from them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from checker.expressions.expression import Expression
from checker.expressions.names import VALUE
from checker.judging.block import MEASURED
from checker.packs.compiled import DEMANDS, POSITIONS, CompiledCharacteristic, CompiledRule
from checker.records.layout import Layout


class Inputs(NamedTuple):
    """Names of characteristics; those in `across` are compared or summed over stations somewhere on the way.

    `named` are the names of all that the expressions on the way name, functions among them. Of those in `viewed`
    something else than their value counts as well, such as whether there is one at all.
    """

    names: frozenset[str]
    across: frozenset[str]
    named: frozenset[str] = frozenset()
    viewed: frozenset[str] = frozenset()

    def places(
        self,
        stations: str | None,
        station: int,
        characteristics: Mapping[str, CompiledCharacteristic],
        layout: Layout,
    ) -> Iterator[tuple[str, int]]:
        """What is seen from one station: names of characteristics, each with its own station."""
        for name in self.names:
            per = characteristics[name].characteristic.per
            seen = range(layout.count(per)) if name in self.across else layout.related(stations, station, per)
            yield from ((name, index) for index in seen)


def inputs_of(
    rule: CompiledRule, characteristics: Mapping[str, CompiledCharacteristic], chain: tuple[str, ...]
) -> Inputs:
    """Everything that may bear on what a rule says of an application; `chain` is that and those it is like."""
    return _behind(expressions_of(rule, chain), characteristics)


def inputs_behind(item: CompiledCharacteristic, characteristics: Mapping[str, CompiledCharacteristic]) -> Inputs:
    """Everything that may bear on the value of a characteristic, itself included."""
    found = _behind((item.derived,) if item.derived else (), characteristics)
    return found._replace(names=found.names | {item.name})


def behind_expression(expression: Expression, characteristics: Mapping[str, CompiledCharacteristic]) -> Inputs:
    """Everything that may bear on the value of an expression."""
    return _behind((expression,), characteristics)


def _behind(expressions: Iterable[Expression], characteristics: Mapping[str, CompiledCharacteristic]) -> Inputs:
    names: set[str] = set()
    across: set[str] = set()
    named: set[str] = set()
    viewed: set[str] = set()
    waiting = [(expression, False) for expression in expressions]
    while waiting:
        expression, reduced = waiting.pop()
        named |= expression.names
        for column in expression.columns:
            if column.view != VALUE:
                viewed.add(column.name)
            is_across = reduced or column in expression.across
            if column.name in (across if is_across else names) or column.name not in characteristics:
                continue
            names.add(column.name)
            if is_across:
                across.add(column.name)
            derived = characteristics[column.name].derived
            if derived is not None and column.view != MEASURED:
                waiting.append((derived, is_across))
    return Inputs(frozenset(names), frozenset(across), frozenset(named), frozenset(viewed))


def expressions_of(rule: CompiledRule, chain: tuple[str, ...]) -> Iterator[Expression]:
    """Every expression of a rule that judging for an application evaluates."""
    plain: Iterable[Expression | None] = (rule.judges, rule.when, rule.unless, rule.per_unit_of)
    yield from (expression for expression in plain if expression is not None)
    for band, side in (*POSITIONS, *DEMANDS):
        for candidate in rule.limits.candidates(chain, band, side):
            both = (candidate.when, candidate.bound.expression)
            yield from (expression for expression in both if expression is not None)
