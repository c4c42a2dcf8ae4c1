"""Made-up records: what rules say of values anywhere within their plausible ranges."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from checker.expressions.truth import Array
from checker.judging.block import Block
from checker.packs.compiled import CompiledCharacteristic
from checker.records.layout import Layout
from checker.rulebook import Rulebook

TRIALS = 2048
STATIONS = 2
"""Of every kind, so that stations can differ from each other."""


def trial_block(rulebook: Rulebook, alike: Iterable[Rulebook] = ()) -> Block:
    """Made-up values for every characteristic; the same ones as any other rulebook `alike` gets for its own."""
    parents = rulebook.layered.parents
    layout = Layout(dict.fromkeys(parents, STATIONS), parents)
    known: dict[str, CompiledCharacteristic] = {}
    for book in sorted((rulebook, *alike), key=str):
        known.update(book.characteristics)
    values = {name: _values(item, known[name]) for name, item in rulebook.characteristics.items()}
    return Block(rulebook.characteristics, layout, values)


def _values(item: CompiledCharacteristic, drawn_from: CompiledCharacteristic) -> Array:
    stations = STATIONS if item.characteristic.per else 1
    random = np.random.default_rng(list(item.name.encode()))
    missing = 0.5 if item.derived is not None else 0.1
    values = _drawn(drawn_from, (TRIALS, stations), random)
    if item.unit is None and drawn_from.unit is None:
        values = _recoded(values, drawn_from.characteristic.choices, item.characteristic.choices)
    return np.where(random.uniform(size=values.shape) < missing, np.nan, values)


def _drawn(item: CompiledCharacteristic, shape: tuple[int, int], random: np.random.Generator) -> Array:
    if item.unit is None:
        return random.integers(0, len(item.characteristic.choices), shape).astype(np.float64)
    # The ends of the range come up often: conditions are likeliest to hold there.
    return item.low + (item.high - item.low) * np.clip(random.uniform(-0.2, 1.2, shape), 0.0, 1.0)


def _recoded(values: Array, drawn: tuple[str, ...], own: tuple[str, ...]) -> Array:
    """Choices by their number in another list; missing where that list does not have them."""
    codes: Mapping[str, int] = {choice: number for number, choice in enumerate(own)}
    table = np.array([float(codes.get(choice, np.nan)) for choice in drawn])
    return table[values.astype(np.intp)]
