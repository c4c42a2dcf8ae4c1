"""Columns of values for a block of records: arrays of shape (records, stations), missing values NaN."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from checker.compiled import CompiledCharacteristic
from checker.evaluate import evaluate
from checker.expressions import Expression
from checker.layout import Layout
from checker.names import VALUE, Column
from checker.truth import Array, greatest_equal, least_equal

MEASURED = "measured"
COMPUTED = "computed"


class Block:
    """Values of many assemblies of one layout; derived ones are computed when first asked for.

    `measured` holds the direct readings by name, `views` what was made of several readings at a station, both in SI.
    """

    def __init__(
        self,
        characteristics: Mapping[str, CompiledCharacteristic],
        layout: Layout,
        measured: Mapping[str, Array],
        views: Mapping[Column, Array] | None = None,
    ) -> None:
        self.characteristics = characteristics
        self.layout = layout
        self.measured = measured
        self.views = views or {}
        self._known: dict[Column, Array] = {}
        self._evaluated: dict[Expression, Array] = {}

    def evaluate(self, expression: Expression, at: str | None = None) -> Array:
        """The expression's value at every station it speaks of, or lifted to stations that belong to those.

        Many limits of a rule share one condition: it is evaluated once.
        """
        found = self._evaluated.get(expression)
        if found is None:
            found = self._evaluated[expression] = evaluate(expression, self.fetch, self.layout)
        if at is None or expression.stations in (None, at):
            return found
        return found[:, self.layout.children(at, expression.stations)]

    def fetch(self, column: Column) -> Array:
        """A column, lifted to the stations it is wanted at."""
        found = self._known.get(column)
        if found is None:
            found = self._made(column)
            found.flags.writeable = False
            self._known[column] = found
        return found

    def moved(self, moves: Sequence[tuple[Mapping[str, Array], float]]) -> Block:
        """One record as measured, and below it once more for each move, which shifts some readings.

        The spread of readings at a station moves by a multiple of the shift.
        """
        multiples = np.array([[0.0], *([multiple] for _, multiple in moves)])
        measured, views = dict(self.measured), dict(self.views)
        for name in {name for shifts, _ in moves for name in shifts}:
            none = np.zeros_like(self.measured[name])
            shift = np.concatenate([none, *(shifts.get(name, none) for shifts, _ in moves)])
            measured[name] = self.measured[name] + shift
            for view, factor in (("least_reading", 1.0), ("greatest_reading", 1.0), ("spread_of_readings", multiples)):
                views[Column(name, view)] = self.views[Column(name, view)] + shift * factor
        return Block(self.characteristics, self.layout, measured, views)

    def _made(self, column: Column) -> Array:
        item = self.characteristics[column.name]
        own = item.characteristic.per
        if column.at is not None and column.at != own and own is not None:
            return self.fetch(column._replace(at=own))[:, self.layout.children(column.at, own)]
        if column.view == VALUE:
            return self._value(item, own)
        if column.view == COMPUTED:
            return self._computed(item)
        if column.view == MEASURED:
            return plausible(self._direct(item), item)
        return self.views.get(column._replace(at=None), self._nothing(item))

    def _value(self, item: CompiledCharacteristic, own: str | None) -> Array:
        """What was measured; where nothing was, what can be computed."""
        direct = self._direct(item)
        if item.derived is None or not np.isnan(direct).any():
            return plausible(direct, item)
        computed = self.fetch(Column(item.name, COMPUTED, own))
        return np.where(np.isnan(direct), computed, plausible(direct, item)) if item.name in self.measured else computed

    def _computed(self, item: CompiledCharacteristic) -> Array:
        if item.derived is None:
            return self._nothing(item)
        found = self.evaluate(item.derived, item.characteristic.per)
        count = self.layout.count(item.characteristic.per)
        return plausible(np.broadcast_to(found, (found.shape[0], count)).copy(), item)

    def _direct(self, item: CompiledCharacteristic) -> Array:
        found = self.measured.get(item.name)
        return self._nothing(item) if found is None else np.array(found, dtype=np.float64)

    def _nothing(self, item: CompiledCharacteristic) -> Array:
        return np.full((1, self.layout.count(item.characteristic.per)), np.nan)


def plausible(values: Array, item: CompiledCharacteristic) -> Array:
    """Values that are possible at all; the others count as missing. "Not covered" stays."""
    possible = (values >= least_equal(item.low)) & (values <= greatest_equal(item.high))
    return np.where(possible | np.isinf(values), values, np.nan)
