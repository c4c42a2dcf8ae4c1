"""Which readings a rule rests on, through all that is derived from them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from checker.expressions.expression import Expression
from checker.graph import Inputs
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.records.layout import Layout


def places_of(
    inputs: Inputs,
    stations: str | None,
    station: int,
    characteristics: Mapping[str, CompiledCharacteristic],
    layout: Layout,
) -> Iterator[tuple[str, int]]:
    """What is seen from one station: names of characteristics, each with its own station."""
    for name in inputs.names:
        per = characteristics[name].characteristic.per
        seen = range(layout.count(per)) if name in inputs.across else layout.related(stations, station, per)
        yield from ((name, index) for index in seen)


def expressions_of(rule: CompiledRule, chain: tuple[str, ...]) -> Iterator[Expression]:
    """Every expression of a rule that judging for an application evaluates, the value that it judges first."""
    plain: Iterable[Expression | None] = (rule.judges, rule.when, rule.unless, rule.per_unit_of)
    yield from (expression for expression in plain if expression is not None)
    for candidate in rule.limits.every_candidate(chain):
        both = (candidate.when, candidate.bound.expression)
        yield from (expression for expression in both if expression is not None)
