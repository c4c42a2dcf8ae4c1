"""How far what a rule sees may move in any row of a table; see expressions/sensitivity.py."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Set
from functools import reduce
from typing import NamedTuple

import numpy as np

from checker.expressions.boxes import Indices
from checker.expressions.differentiate import differentiate
from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import COMPUTED, MEASURED, VALUE, Column
from checker.expressions.sensitivity import ANYTHING, Sensitivity, UnboundedError, either, scaled, subtract
from checker.expressions.truth import Array
from checker.judging.block import Block
from checker.judging.columns import GREATEST, LEAST
from checker.judging.conformity import Reach
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS
from checker.packs.limits import PHYSICS
from checker.records.instruments import COVERAGE


class Sizes(NamedTuple):
    """Expanded uncertainties in SI by characteristic, shape (rows or 1, stations).

    `own` is that of each reading by itself, `shared` by instrument what it gives to all its readings alike.
    """

    own: Mapping[str, Array]
    shared: Mapping[str, Mapping[str, Array]]

    @property
    def names(self) -> Set[str]:
        """The characteristics whose readings are in doubt."""
        return self.own.keys() | {name for sizes in self.shared.values() for name in sizes}

    def of_rows(self, rows: Indices, names: Set[str]) -> Sizes:
        """Those of some names in some of the rows."""
        own, *shared = (
            {name: of_rows(sizes[name], rows) for name in sizes.keys() & names}
            for sizes in (self.own, *self.shared.values())
        )
        return Sizes(own, {gauge: sizes for gauge, sizes in zip(self.shared, shared, strict=True) if sizes})


def of_rows(values: Array, rows: Indices) -> Array:
    """Some of the rows; what is alike in all rows stays one."""
    return values if len(values) == 1 else values[rows]


class Ends:
    """Between what the values and the expanded uncertainties of a block lie; found once for all rules."""

    def __init__(self, block: Block, sizes: Sizes, part: float) -> None:
        """Values lie where doubt may move them, to a part of the expanded uncertainties."""
        self.block = block
        self.sizes = sizes
        self.part = part
        self._of_values: dict[Column, Array] = {}
        self._of_readings: dict[Column, Array] = {}
        self._of_sizes: dict[tuple[str, str], Array] = {}

    def of_values(self, column: Column) -> Array:
        """The least and the greatest known value at each station."""
        found = self._of_values.get(column)
        if found is None:
            values = self.block.fetch(column)
            alike = len(values) == 1
            ends = [values if alike else pick.reduce(values, axis=0, keepdims=True) for pick in (np.fmin, np.fmax)]
            found = self._of_values[column] = np.array(ends)
        return found

    def of_readings(self, column: Column) -> Array:
        """The same of what was measured, wherever it may really lie."""
        found = self._of_readings.get(column)
        if found is None:
            gauges = [gauge for gauge, sizes in self.sizes.shared.items() if column.name in sizes]
            own = ["", *gauges] if column.name in self.sizes.own else gauges
            squares = sum(self.of_sizes(column.name, gauge)[-1:] ** 2 for gauge in own)
            reach = self.part * np.sqrt(squares)
            found = self._of_readings[column] = self.of_values(column) + np.array([-reach, reach])
        return found

    def of_sizes(self, name: str, gauge: str = "") -> Array:
        """The least and the greatest expanded uncertainty of a known value, at each station; one if it is alike."""
        found = self._of_sizes.get((name, gauge))
        if found is None:
            sizes = self.sizes.shared[gauge][name] if gauge else self.sizes.own[name]
            if len(sizes) > 1:
                known = np.where(np.isnan(self.block.measured[name]), np.nan, sizes)
                sizes = np.nan_to_num(np.stack([np.fmin.reduce(known, axis=0), np.fmax.reduce(known, axis=0)]))
            found = self._of_sizes[name, gauge] = sizes
        return found


class SensitiveBlock:
    """How the values of all rows follow what is in doubt behind a rule: each reading, and what a gauge gives to all."""

    def __init__(self, ends: Ends, names: Set[str], across: Set[str]) -> None:
        """Of these `names` readings are in doubt, of those `across` stations each by itself."""
        self.layout = ends.block.layout
        self._ends = ends
        self._block = ends.block
        self._across = across
        self._own: dict[str, list[tuple[int, str]]] = defaultdict(list)
        self._causes = 1
        for name in sorted(names & ends.sizes.own.keys()):
            self._own[name].append((self._causes, ""))
            self._causes += ends.sizes.own[name].shape[1] if name in across else 1
        for gauge, sizes in ends.sizes.shared.items():
            for name in names & sizes.keys():
                self._own[name].append((self._causes, gauge))
            self._causes += not names.isdisjoint(sizes)
        self._known: dict[Column, Sensitivity] = {}
        self._evaluated: dict[Expression, Sensitivity] = {}

    def bears_on(self, expression: Expression) -> bool:
        """Whether anything in doubt bears on an expression."""
        return any(self._is_doubtful(column.name) for column in expression.columns)

    def _is_doubtful(self, name: str) -> bool:
        return self._block.rests_on(name, self._own.keys())

    def evaluate(self, expression: Expression, at: str | None) -> Sensitivity:
        """The sensitivity of an expression at stations that belong to its own. Raises UnboundedError."""
        found = self._evaluated.get(expression)
        if found is None:
            is_exact = not self.bears_on(expression)
            found = ANYTHING if is_exact else differentiate(expression, self.fetch, self.layout)
            self._evaluated[expression] = found
        if found is ANYTHING or at is None or expression.stations in (None, at):
            return found
        return found.at(self.layout.children(at, expression.stations))

    def holds_alike(self, *conditions: Expression | None) -> None:
        """Make sure that conditions come out as they do wherever their readings may lie; raises UnboundedError."""
        for condition in conditions:
            if condition is not None and self.evaluate(condition, None).moves is not None:
                raise UnboundedError

    def fetch(self, column: Column) -> Sensitivity:
        """The sensitivity of a column, lifted to the stations it is wanted at. Raises UnboundedError."""
        found = self._known.get(column)
        if found is None:
            found = self._known[column] = self._made(column)
        return found

    def _made(self, column: Column) -> Sensitivity:
        item = self._block.characteristics[column.name]
        own = item.characteristic.per
        if column.at is not None and column.at != own and own is not None:
            return self.fetch(column._replace(at=own)).at(self.layout.children(column.at, own))
        found = self._moved(column) if self._is_doubtful(column.name) else None
        if found is not None and found.moves is not None:
            return found
        low, high = self._ends.of_values(column)
        # Of some rows nothing is known, so that it is not the same in all of them.
        unclear = (low == high) & np.isnan(self._block.fetch(column)).any(axis=0, keepdims=True)
        return Sensitivity(np.where(unclear, -np.inf, low), np.where(unclear, np.inf, high))

    def _moved(self, column: Column) -> Sensitivity | None:
        """How a characteristic follows its causes: as measured, and as computed where that counts."""
        item, measured = self._block.characteristics[column.name], self._block.measured.get(column.name)
        derived, view = item.derived, column.view
        if view.startswith(KNOWN) and derived is not None and any(each.bounds is None for each in derived.added):
            raise UnboundedError  # it may be silent elsewhere
        if view not in (VALUE, MEASURED, COMPUTED, LEAST, GREATEST):
            return None
        own = None if measured is None or view == COMPUTED else self._as_measured(column)
        if derived is None or view not in (VALUE, COMPUTED):
            return own
        if own is not None and measured is not None and not np.isnan(measured).any():
            return own
        computed = self.evaluate(derived, item.characteristic.per)
        computed = computed.of_stations(self.layout.count(item.characteristic.per))
        either_way = computed if own is None else either(own, computed)
        low, high = self._ends.of_values(column)
        reach = either_way.reach(self._ends.part)
        return Sensitivity(low - reach, high + reach, either_way.moves)

    def _as_measured(self, column: Column) -> Sensitivity:
        own = self._own.get(column.name)
        if own is None:
            return ANYTHING
        sizes = [self._ends.of_sizes(column.name, gauge) for _, gauge in own]
        low, high = self._ends.of_readings(column)
        stations = low.shape[1]
        moves = np.zeros((1 if max(map(len, sizes)) == 1 else 2, self._causes, stations))
        for (number, gauge), size in zip(own, sizes, strict=True):
            if gauge or column.name not in self._across:
                moves[:, number] = size
            else:
                moves[:, range(number, number + stations), range(stations)] = size
        return Sensitivity(low, high, moves if len(moves) == 1 else np.concatenate([moves, moves[:1]]))


def reach_of(
    rule: CompiledRule, chain: tuple[str, ...], block: SensitiveBlock, limits_stand: bool, guard: float
) -> Reach | None:
    """Between what the doubt about the margins of a rule lies in all rows; none where that is not told.

    If its `limits_stand`, nothing in doubt bears on them, or on whether it applies. The `guard` is the width of a guard
    band in standard uncertainties.
    """
    if rule.is_demand:
        return None
    try:
        value = block.evaluate(rule.judges, rule.stations)
        margins = [value] if limits_stand else _margins(value, rule, chain, block)
    except UnboundedError:
        return None
    ends = np.empty((3, len(margins), 1, block.layout.count(rule.stations)))
    for position, margin in enumerate(margins):
        moves = np.array([margin.certain, margin.furthest])
        ends[:2, position, 0] = np.sqrt((moves[:, 1:] ** 2).sum(axis=1)) / COVERAGE
        ends[2, position, 0] = moves[1, 0]
    least, most, jump = ends
    is_told = np.isfinite(ends.sum(axis=0))
    known = is_told & (jump == 0)
    return Reach(
        np.where(known, least, 0.0), np.where(known, most, np.inf), np.where(is_told, guard * most + jump, np.inf)
    )


def _margins(
    value: Sensitivity, rule: CompiledRule, chain: tuple[str, ...], block: SensitiveBlock
) -> list[Sensitivity]:
    """How the margins follow what is in doubt, by position."""
    block.holds_alike(rule.when, rule.unless)
    physics = {side: [*_limits(rule, chain, PHYSICS, side, block)] for side in ("low", "high")}
    limits = (
        [*_limits(rule, chain, band, side, block), *(physics[side] if band == "must" else ())]
        for band, side in POSITIONS
    )
    return [subtract(value, reduce(either, each)) if each else value for each in limits]


def _limits(
    rule: CompiledRule, chain: tuple[str, ...], band: str, side: str, block: SensitiveBlock
) -> Iterator[Sensitivity]:
    """How each limit moves that may count at a position; nothing where nothing in doubt bears on any."""
    candidates = rule.limits.candidates(chain, band, side)
    block.holds_alike(*(candidate.when for candidate in candidates))
    bounds = [candidate.bound for candidate in candidates]
    expressions = [bound.expression or (rule.per_unit_of if bound.is_ratio else None) for bound in bounds]
    if any(expression is not None and block.bears_on(expression) for expression in expressions):
        for bound, expression in zip(bounds, expressions, strict=True):
            factor = bound.factor if bound.expression is not None else bound.factor * (bound.constant or 0.0)
            yield ANYTHING if expression is None else scaled(block.evaluate(expression, rule.stations), factor)
