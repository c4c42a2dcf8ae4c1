"""Columns of values for a block of records: arrays of shape (records, stations), missing values NaN."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from typing import NamedTuple, TypeAlias

import numpy as np

from checker.expressions.evaluate import evaluate
from checker.expressions.expression import Expression
from checker.expressions.faults import note
from checker.expressions.functions import KNOWN
from checker.expressions.names import COMPUTED, MEASURED, VALUE, Column
from checker.expressions.truth import FALSE, TRUE, Array, Truths
from checker.packs.compiled import CompiledCharacteristic, Inputs, inputs_of
from checker.records.layout import Layout


class Shift(NamedTuple):
    """By how much the values of a characteristic are moved, by view, and at which stations: 1 there, else 0."""

    name: str
    sizes: Mapping[str, Array]
    stations: Array


Moves: TypeAlias = Mapping[str, Sequence[tuple[int, Shift]]]
"""The rows in which a characteristic differs from what was measured, and by how much."""


class Block:
    """Values of many assemblies of one layout; derived ones are computed when first asked for.

    `measured` holds the direct readings by name, `views` what was made of several readings at a station, both in SI.
    In a moved block the first row alone was measured, and says what is possible. Each block `beside` differs from this
    one in what rests on some names only: all else is as it is there, where it may be known already. `set_aside` says by
    name at which stations something was written down that does not count, and `not_computed` at which nothing does that
    can be computed. Where a function of a plugin failed, that is noted anew each time something that rests on it is
    asked for: the block may serve other records.
    """

    def __init__(
        self,
        characteristics: Mapping[str, CompiledCharacteristic],
        layout: Layout,
        measured: Mapping[str, Array],
        views: Mapping[Column, Array] | None = None,
        moves: Moves | None = None,
        rows: int = 1,
        beside: Sequence[tuple[Block, Set[str]]] = (),
        set_aside: Mapping[str, Truths] | None = None,
        not_computed: Mapping[str, Truths] | None = None,
    ) -> None:
        self.characteristics = characteristics
        self.layout = layout
        self.measured = measured
        self.views = {} if views is None else views
        self._moves = moves or {}
        self._rows = rows
        self._beside = beside
        self._set_aside = set_aside or {}
        self._not_computed = not_computed or {}
        self._known: dict[Column, Array] = {}
        self._evaluated: dict[Expression, Array] = {}
        self._knowing: dict[frozenset[str], Block] = {}
        self._failed: dict[str, str] = {}

    def evaluate(self, expression: Expression, at: str | None = None) -> Array:
        """The expression's value at every station it speaks of, or lifted to stations that belong to those.

        Many limits of a rule share one condition: it is evaluated once.
        """
        found = self._evaluated.get(expression)
        if found is None:
            found = self._result(expression)
            found.flags.writeable = False
            self._evaluated[expression] = found
        elif self._failed:
            self._note_again(expression)
        if at is None or expression.stations in (None, at):
            return found
        return found[:, self.layout.children(at, expression.stations)]

    def calculated(self, expression: Expression) -> Array:
        """The expression's value at every station it speaks of; it is not kept, for it is not asked for again."""
        return self.evaluate(expression) if expression in self._evaluated else self._result(expression)

    def fetch(self, column: Column) -> Array:
        """A column, lifted to the stations it is wanted at."""
        found = self._known.get(column)
        if found is None:
            for other, names in self._beside:
                if not self.rests_on(column.name, names):
                    return other.fetch(column)
            found = self._made(column)
            found.flags.writeable = False
            self._known[column] = found
        elif self._failed:
            self._note_again(self.characteristics[column.name].derived)
        return found

    def _note_again(self, expression: Expression | None) -> None:
        """Note what failed behind an expression that is known already."""
        for name in inputs_of([expression], self.characteristics).named & self._failed.keys():
            note(name, self._failed[name])

    def computed(self) -> Iterator[tuple[CompiledCharacteristic, Expression]]:
        """The characteristics that have been computed so far, in the order of the packs, and from what."""
        known = {column.name for column in self._known if column.view == COMPUTED}
        for name in self.characteristics if known else ():
            if name in known and (derived := self.characteristics[name].derived) is not None:
                yield self.characteristics[name], derived

    def refuses(self, item: CompiledCharacteristic, derived: Expression) -> Truths:
        """In which rows a value is beyond all that is possible, or a plugin gives nothing for what is there."""
        values = self.evaluate(derived)
        found = (np.isfinite(values) & ~item.allows(values)).any(axis=1)
        if derived.added:
            is_known = self.fetch(Column(item.name, KNOWN + VALUE, item.characteristic.per))
            found = found | np.isnan(is_known).any(axis=1)
        return np.asarray(found)

    def moved(self, moves: Moves, rows: int) -> Block:
        """One record as measured in the first of these rows, and some of its readings moved in others."""
        beside = [(other, names | moves.keys()) for other, names in self._beside]
        return self._of_same_records(self.measured, beside, moves, rows)

    def with_values(self, values: Mapping[str, Array]) -> Block:
        """The same records with other values of some characteristics, or many rows of them."""
        return self._of_same_records({**self.measured, **values}, [(self, values.keys())])

    def _of_same_records(
        self,
        measured: Mapping[str, Array],
        beside: Sequence[tuple[Block, Set[str]]],
        moves: Moves | None = None,
        rows: int = 1,
    ) -> Block:
        kept = self._set_aside, self._not_computed
        return Block(self.characteristics, self.layout, measured, self.views, moves, rows, beside, *kept)

    def in_place_of_nothing(self, choices: Mapping[str, Array]) -> Mapping[str, Array]:
        """Values of facts, a choice wherever nothing is known of one.

        What can be computed stays computed, so that it is in doubt as what it is computed from.
        """
        found = {}
        for name, choice in choices.items():
            per = self.characteristics[name].characteristic.per
            is_known = ~np.isnan(self.fetch(Column(name, at=per)))
            found[name] = np.where(is_known, self.fetch(Column(name, MEASURED, per)), choice)
        return found

    def knowing(self, *names: str) -> Block:
        """The same records if something possible were known of more characteristics."""
        found = self._knowing.get(frozenset(names))
        if found is None:
            items = (self.characteristics[name] for name in names)
            middles = {item.name: np.full_like(self._nothing(item), (item.low + item.high) / 2) for item in items}
            found = self._knowing[frozenset(names)] = self.with_values(middles)
        return found

    def _result(self, expression: Expression) -> Array:
        for other, names in self._beside:
            if not any(self.rests_on(column.name, names) for column in expression.columns):
                return other.evaluate(expression)
        return evaluate(expression, self.fetch, self.layout, self._failed)

    def places_of(self, inputs: Inputs, stations: str | None, station: int) -> Iterator[tuple[str, int]]:
        """What is seen from one station: names of characteristics, each with its own station."""
        for name in inputs.names:
            per = self.characteristics[name].characteristic.per
            is_across = name in inputs.across
            seen = range(self.layout.count(per)) if is_across else self.layout.related(stations, station, per)
            yield from ((name, index) for index in seen)

    def rests_on(self, name: str, some: Set[str]) -> bool:
        """Whether a characteristic, or anything it is derived from, is among some."""
        return name in some or not self.characteristics[name].inputs.names.isdisjoint(some)

    def _made(self, column: Column) -> Array:
        item = self.characteristics[column.name]
        own = item.characteristic.per
        if column.at is not None and column.at != own and own is not None:
            return self.fetch(column._replace(at=own))[:, self.layout.children(column.at, own)]
        if column.view.startswith(KNOWN):
            return self._is_there(item, column._replace(view=column.view.removeprefix(KNOWN)))
        if column.view == VALUE:
            return self._value(item, own)
        if column.view == COMPUTED:
            return self._computed(item)
        if column.view == MEASURED:
            return self._possible(self._direct(item), item)
        view = column._replace(at=None)
        return self._with_moves(view, self.views[view]) if view in self.views else self._nothing(item)

    def _is_there(self, item: CompiledCharacteristic, column: Column) -> Array:
        """1 where there is a value, 0 where there is none, missing where one was written down that does not count."""
        there = self._as_measured(np.isfinite(self.fetch(column)))
        if there.all():
            return there.astype(np.float64)
        refused = self._set_aside.get(item.name, np.zeros((1, there.shape[1]), dtype=np.bool_))
        if item.derived is not None and column.view != MEASURED:
            refused = refused | self.rests_on(item.name, self._set_aside.keys())
            # What comes out beyond all that is possible was refused too.
            refused = refused | self._as_measured(np.isfinite(self.evaluate(item.derived, item.characteristic.per)))
            refused = refused | self._is_refused(item.derived, item.characteristic.per)
        return np.where(there, TRUE, np.where(refused, np.nan, FALSE))

    def _is_refused(self, derived: Expression, at: str | None) -> Truths:
        """Where something behind an expression was refused, or a plugin gives nothing for what is there."""
        refused: Truths = np.zeros((1, self.layout.count(derived.stations)), dtype=np.bool_)
        lacks = refused
        for column in derived.columns:
            if column.view.startswith(KNOWN):
                continue
            known = self.fetch(column._replace(view=KNOWN + column.view))
            if column in derived.across:
                known = known.min(axis=1, keepdims=True)  # missing where one of them is
            refused, lacks = refused | np.isnan(known), lacks | (known == FALSE)
        if derived.added:
            refused = np.asarray(refused | ~lacks)
        if at is None or derived.stations in (None, at):
            return refused
        return np.asarray(refused[:, self.layout.children(at, derived.stations)])

    def _as_measured(self, truths: Truths) -> Truths:
        """The first row of a moved block: whether a value is there does not hang on how far it may be off."""
        return truths[:1] if self._moves else truths

    def _value(self, item: CompiledCharacteristic, own: str | None) -> Array:
        """What was measured; where nothing was, what can be computed: not where nobody knows what was measured."""
        if item.name not in self.measured:
            return self._nothing(item) if item.derived is None else self.fetch(Column(item.name, COMPUTED, own))
        direct = self._direct(item)
        lacks = self._as_measured(np.isnan(direct))
        if item.derived is None or not lacks.any():
            return self._possible(direct, item)
        return np.where(lacks, self.fetch(Column(item.name, COMPUTED, own)), self._possible(direct, item))

    def _computed(self, item: CompiledCharacteristic) -> Array:
        if item.derived is None:
            return self._nothing(item)
        found = self.evaluate(item.derived, item.characteristic.per)
        count = self.layout.count(item.characteristic.per)
        made = self._plausible(np.broadcast_to(found, (found.shape[0], count)), item)
        not_computed = self._not_computed.get(item.name)
        return made if not_computed is None else np.where(not_computed, np.nan, made)

    def _direct(self, item: CompiledCharacteristic) -> Array:
        found = self.measured.get(item.name)
        if found is None:
            return self._nothing(item)
        return self._with_moves(Column(item.name), np.asarray(found, dtype=np.float64).view())

    def _with_moves(self, column: Column, values: Array) -> Array:
        moves = self._moves.get(column.name)
        if not moves:
            return values
        moved = np.repeat(values, self._rows, axis=0)
        for row, shift in moves:
            if (size := shift.sizes.get(column.view)) is not None:
                moved[row] += size[0] * shift.stations
        return moved

    def _nothing(self, item: CompiledCharacteristic) -> Array:
        return np.full((1, self.layout.count(item.characteristic.per)), np.nan)

    def _possible(self, values: Array, item: CompiledCharacteristic) -> Array:
        """What was measured, as far as it counts."""
        return self._plausible(values, item)

    def _plausible(self, values: Array, item: CompiledCharacteristic) -> Array:
        """Values that are possible at all; the others count as missing. "Not covered" stays."""
        measured = values[:1] if self._moves else values
        is_refused = ~item.allows(measured) & np.isfinite(measured)
        return np.where(is_refused, np.nan, values) if is_refused.any() else values


def marked(
    places: Iterable[tuple[str, int]], characteristics: Mapping[str, CompiledCharacteristic], layout: Layout
) -> dict[str, Truths]:
    """By name which of its stations are among some places."""
    found: dict[str, Truths] = {}
    for name, station in places:
        if name not in found:
            found[name] = np.zeros((1, layout.count(characteristics[name].characteristic.per)), dtype=np.bool_)
        found[name][0, station] = True
    return found
