"""The walk over an expression: what every part must agree on, and the problems found on the way."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from checker.errors import Problem
from checker.expressions.functions import UNKNOWN_RANGE
from checker.expressions.guards import key, narrow, narrowed
from checker.expressions.intervals import Interval, RangeError
from checker.expressions.names import Column, Scope
from checker.expressions.problems import fault
from checker.expressions.steps import Part
from checker.expressions.terms import WRONG, Nature, Neighbour, Term, seen_from
from checker.graph import lineage
from checker.units.dimensions import Dimension, describe, dimension_of

Meaning: TypeAlias = Callable[["Walk", Any], Term]

TEMPERATURE = dimension_of("K")

_WORDS: Mapping[Nature | None, str] = {"number": "a number", "truth": "a condition", "choice": "a choice"}


@dataclass(slots=True)
class Walk:
    """Where the walk stands: `meanings` says for each type of node how to find out what it is."""

    text: str
    scope: Scope
    meanings: Mapping[type[ast.expr], Meaning]
    refused: frozenset[ast.expr] = frozenset()
    across: set[Column] = field(default_factory=set)
    neighbours: dict[Neighbour, None] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    _ranges: dict[ast.expr, Interval] = field(default_factory=dict)
    _guards: list[tuple[str, Interval]] = field(default_factory=list)
    _is_reducing: bool = False

    def term(self, node: ast.expr) -> Term:
        """What a part is, within the range that the conditions around it leave."""
        if node in self.refused:
            return WRONG
        term = self.meanings[type(node)](self, node)
        if term.nature != "number":
            return term
        if self._guards:
            term = term._replace(interval=self._guarded(node, term.interval))
        self._ranges[node] = term.interval
        return term

    def _guarded(self, node: ast.expr, interval: Interval) -> Interval:
        own = key(node)
        for guarded, limits in self._guards:
            if guarded == own:
                interval = narrow(interval, limits)
        return interval

    @contextmanager
    def given(self, condition: ast.expr, outcome: bool) -> Iterator[None]:
        """What is walked meanwhile counts only where a condition, walked before, has this outcome."""
        before = len(self._guards)
        self._guards.extend(narrowed(condition, outcome, self._ranges))
        yield
        del self._guards[before:]

    @contextmanager
    def reducing(self) -> Iterator[None]:
        """What is walked meanwhile is read at all stations, also where a condition around it does not hold."""
        outer = self._guards, self._is_reducing
        self._guards, self._is_reducing = [], True
        yield
        self._guards, self._is_reducing = outer

    def read(self, term: Term, at: str | None) -> Part:
        """What a term calculates, its values seen from the given stations."""
        if term.column is not None:
            own, there = term.column, at if term.stations else None
            column = own if own.at == there else Column(own.name, own.view, there)
            if self._is_reducing:
                self.across.add(column)
            return column
        return seen_from(at, term.tree, term.stations)

    def source(self, node: ast.expr) -> str:
        """A part as written."""
        return self.text[node.col_offset : node.end_col_offset]

    def problem(self, node: ast.expr, message: str, hint: str = "") -> Term:
        """Note a problem; what it was found in is wrong."""
        self.problems.append(fault(message, node.col_offset + 1, hint))
        return WRONG

    def are(self, nature: Nature, nodes: Sequence[ast.expr], terms: Sequence[Term]) -> bool:
        """Whether all parts have the nature needed; a problem for each that has another."""
        fits = True
        for node, term in zip(nodes, terms, strict=True):
            if term.nature == nature:
                continue
            fits = False
            if term.nature is not None:
                needed = _WORDS[nature]
                self.problem(node, f"{needed} is needed here, {self.source(node)} is {_WORDS[term.nature]}")
        return fits

    def common_dimension(self, node: ast.expr, terms: Iterable[Term], verb: str) -> Dimension | None:
        """The dimension all have; a problem when they differ. A bare zero has any."""
        known = [term.dimension for term in terms]
        stated = list(dict.fromkeys(dimension for dimension in known if dimension is not None))
        if len(stated) > 1:
            first, second = describe(stated[0]), describe(stated[1])
            hint = _bare_number_hint({first, second})
            self.problem(node, f"{self.source(node)}: {first} and {second} cannot be {verb}", hint)
        elif stated == [TEMPERATURE] and None in known:
            self.problem(node, f"{self.source(node)}: a temperature of 0 needs its unit", "write 0 K")
        return stated[0] if stated else None

    def meet(self, node: ast.expr, terms: Iterable[Term]) -> str | None:
        """The station set at which all values are seen: the lowest, of which the others are ancestors."""
        lowest: str | None = None
        for stations in dict.fromkeys(term.stations for term in terms if term.stations):
            if lowest is None or lowest in lineage(stations, self.scope.parents):
                lowest = stations
            elif stations not in lineage(lowest, self.scope.parents):
                self._strangers(node, lowest, stations)
                return lowest
        return lowest

    def _strangers(self, node: ast.expr, first: str, second: str) -> None:
        shared = [name for name in lineage(first, self.scope.parents) if name in lineage(second, self.scope.parents)]
        hint = f'for example greatest(..., "{shared[0]}")' if shared else ""
        self.problem(
            node,
            f"{first} and {second} are different stations: a value at one cannot be combined with a value at the "
            "other; use spread, least, greatest, mean, count or total",
            hint,
        )

    def interval(self, node: ast.expr, bounds: Callable[..., Interval], *terms: Term) -> Interval:
        """Where a result lies; a problem when it cannot always be calculated."""
        try:
            return bounds(*(term.interval for term in terms))
        except RangeError as error:
            if error.__cause__ is not None:  # no value of any reading is to blame
                self.problem(node, f"{self.source(node)}: {error}")
                return UNKNOWN_RANGE
            hint = "allow only for values that can be calculated: ... if condition else ..."
            self.problem(node, f"{self.source(node)}: {error} within the plausible ranges", hint)
            return UNKNOWN_RANGE


def _bare_number_hint(kinds: set[str]) -> str:
    """What mends a bare number beside something with a unit."""
    if "bare number" not in kinds:
        return ""
    return "divide the angle by 1 rad" if "angle" in kinds else "a number needs its unit behind it, as in 0.5 thou"
