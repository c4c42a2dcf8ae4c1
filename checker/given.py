"""Sizes and facts given without a record: read, held to what is possible, and made into values to evaluate with."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from numbers import Real
from typing import Any, TypeAlias

import numpy as np

from checker.checking.book import Book
from checker.errors import Problem, UsageError, nearest, require
from checker.findings.display import shown_in
from checker.frozen import FrozenMapping
from checker.judging.block import Block
from checker.notation.read import NotationError, read_quantity
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.records.layout import Layout
from checker.records.plain_data import quantity_written
from checker.units.units import Unit

GivenValue: TypeAlias = Any
"""A size or fact: text as the bench writes it, a number in the usual unit of its characteristic, or a quantity."""


@dataclass(frozen=True)
class Given:
    """Sizes and facts that are known: values in SI, and the units by kind that lengths and the like are shown in."""

    values: Mapping[str, float]
    units: Mapping[str, str]

    def block(self, book: Book, not_known: Iterable[str] = (), branching: int = 1) -> Block:
        """One assembly of which only this is known, the same everywhere; each thing has `branching` of its parts.

        What is not given may be known of an assembly or not, unless it is said to be `not_known`, or is a class that
        follows from what is given.
        """
        parents, items = book.layered.parents, book.characteristics
        alone = Layout({}, parents)
        counts = {name: branching ** (1 + len(alone.lineage(name))) for name in parents}
        layout = Layout(counts, parents)
        shapes = {name: (1, layout.count(item.characteristic.per)) for name, item in items.items()}
        settled = {*self.values, *not_known, *(name for name, item in items.items() if self._decides(item))}
        everywhere = {shape: np.ones(shape, dtype=np.bool_) for shape in set(shapes.values())}
        left_open = {name: everywhere[shapes[name]] for name in items if name not in settled}
        measured = {name: np.full(shapes[name], value) for name, value in self.values.items()}
        return Block(items, layout, measured, set_aside=left_open)

    def _decides(self, item: CompiledCharacteristic) -> bool:
        """Whether it is a class that follows from what is given alone."""
        columns = item.derived.columns if item.characteristic.choices and item.derived is not None else ()
        return bool(columns) and all(column.name in self.values for column in columns)


def characteristic(asked: str, items: Mapping[str, CompiledCharacteristic]) -> str:
    """The name of the characteristic that is asked for by its name or its title; else what was asked."""
    if (name := "_".join(asked.lower().split())) in items:
        return name
    return next((name for name, item in items.items() if item.characteristic.title.lower() == asked.lower()), asked)


def read_given(given: Mapping[str, GivenValue], items: Mapping[str, CompiledCharacteristic]) -> Given:
    """Understand sizes and facts by name or title of their characteristic; a number alone is in its usual unit.

    Raises UsageError naming every one that is unknown, stated twice, cannot be read or is not possible.
    """
    values: dict[str, float] = {}
    units: dict[str, str] = {}
    problems: list[Problem] = []
    for asked, written in given.items():
        require(asked, "give sizes and facts by name, as in {'shaft_diameter': 30.0}", str)
        item = items.get(name := characteristic(asked, items))
        if item is None:
            problems.append(Problem(f"unknown characteristic {name!r}", hint=nearest(name, items)))
            continue
        if name in values:
            problems.append(Problem(f"{name} is given twice"))
            continue
        try:
            values[name], unit = _read_one(item, written)
        except NotationError as error:
            problems.append(Problem(f"{name}: {error}", hint=_example(item, written)))
            continue
        if unit is not None:
            units[unit.kind] = unit.name
    if problems:
        raise UsageError(problems)
    return Given(FrozenMapping(values), FrozenMapping(units))


def _read_one(item: CompiledCharacteristic, written: GivenValue) -> tuple[float, Unit | None]:
    """A value in SI and the unit it was given in; facts are the number of their choice."""
    if item.unit is None:
        choices = item.characteristic.choices
        if str(written) not in choices:
            raise NotationError(f"it cannot be {str(written)!r}")
        return float(choices.index(str(written))), None
    try:
        written = quantity_written(written) or written
    except ValueError as error:
        raise NotationError(str(error)) from None
    if isinstance(written, str):
        quantity = read_quantity(written.strip(), item.unit, item.unit)
        if not quantity.is_one_value:
            raise NotationError(f"{written!r} is not one value")
        value, unit = quantity.spans[0].low, quantity.unit
    elif isinstance(written, bool) or not isinstance(written, Real | Decimal):
        raise NotationError(f"found {type(written).__name__}, expected a number or a text as the bench writes it")
    else:
        try:
            value, unit = item.unit.to_si(float(written)), item.unit
        except (OverflowError, ValueError):  # of a signalling NaN
            raise NotationError("a number beyond any measurement") from None
    if not item.allows(np.array([value])).all():
        least, greatest = (write_quantity(end, item.unit) for end in (item.low, item.high))
        raise NotationError(f"{written} is outside what is possible, {least} to {greatest}")
    return value, unit


def _example(item: CompiledCharacteristic, written: GivenValue) -> str:
    """What could be written instead: for a bare number that is not possible, the unit in which it is."""
    if item.unit is None:
        return f"one of {', '.join(item.characteristic.choices)}"
    for other in (shown_in(item.unit, {"length": length}) for length in ("mm", "in")):
        with suppress(ValueError, TypeError, OverflowError):
            if not isinstance(written, bool) and item.allows(np.array([other.to_si(float(written))])).all():
                return f"did you mean {written} {other.name}?"
    return f"write {item.name}=VALUE {item.unit.name}"
