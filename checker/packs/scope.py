"""What the expressions of layered packs may name: characteristics, constants, tables, functions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial

from checker.errors import PackError, Problem
from checker.expressions.functions import FUNCTIONS, Function
from checker.expressions.names import WORDS_OF_THE_LANGUAGE, Constant, Scope
from checker.frozen import FrozenMapping
from checker.notation.vocabulary import Notation
from checker.packs.characteristics import (
    circles_in,
    compiled_characteristics,
    derivation_of,
    strange_characteristics,
    symbol_of,
)
from checker.packs.compiled import CompiledCharacteristic, Inputs, inputs_of
from checker.packs.figures import Constant as StatedConstant
from checker.packs.figures import Table
from checker.packs.layers import Layered
from checker.packs.limits import BELOW
from checker.packs.programs import Programs
from checker.packs.stations import sound_parents, strange_stations
from checker.packs.tables import table_function
from checker.packs.texts import unit_at

OWN_OF_REMEDIES = ("value", "limit")
"""What a remedy calls the value it is about, and the limit that was missed."""


def build_scope(
    layered: Layered,
    functions: Mapping[str, Function],
    notation: Notation,
    programs: Programs,
    strict: bool,
) -> tuple[Scope, Mapping[str, CompiledCharacteristic], list[Problem]]:
    """Compile the characteristics of layered packs and the scope that rules are read in.

    `functions` are those added by plugins, by name; with `notation` the values of characteristics are read; `programs`
    are known of expressions. Problems are listed, not raised. If strict, every derivation is checked
    now; else it was when its pack was released, and waits until it is needed.
    """
    problems: list[Problem] = []
    named = _all_functions(layered, functions, problems)
    problems.extend(_taken(layered, named))
    problems.extend(strange_stations(layered))
    problems.extend(strange_characteristics(layered) if strict else ())
    constants = FrozenMapping(_constants(layered, problems))
    items = dict(compiled_characteristics(layered, notation, problems))
    symbols = FrozenMapping({name: symbol_of(item) for name, item in items.items()})
    stated = {*layered.characteristics, *layered.constants, *layered.tables}
    scope = Scope(
        symbols=symbols,
        parents=sound_parents(layered),
        functions=named,
        constants=constants,
        unusable=frozenset(stated - {*symbols, *constants, *named}),
        elsewhere=FrozenMapping(_elsewhere(layered)),
        programs=programs,
    )
    derive = partial(derivation_of, scope=scope, problems=problems)

    def inputs(item: CompiledCharacteristic) -> Inputs:
        return inputs_of([item.derived], characteristics)

    characteristics = FrozenMapping(
        {
            name: replace(item, _derive=derive, _inputs=inputs) if item.characteristic.derived is not None else item
            for name, item in items.items()
        }
    )
    if strict:
        problems.extend(circles_in(characteristics))
    return scope, characteristics, problems


def _elsewhere(layered: Layered) -> Iterator[tuple[str, tuple[str, str]]]:
    """Titles of characteristics, and names of rules: they are no names in an expression."""
    for name, item in layered.characteristics.items():
        yield item.title, ("is a title, not the name of a characteristic", f"write {name}")
    for name, rule in layered.rules.items():
        own = name.replace("-", "_")
        meant = own if own in layered.characteristics else rule.judges
        yield name, ("is the name of a rule, not of a characteristic", f"did you mean what it judges: {meant}?")


def _all_functions(layered: Layered, added: Mapping[str, Function], problems: list[Problem]) -> Mapping[str, Function]:
    known = dict(FUNCTIONS)
    known.update(added)
    for table in layered.tables.values():
        made = _table_function(table, problems)
        if made:
            known[table.name] = made
    return FrozenMapping(known)


def _table_function(table: Table, problems: list[Problem]) -> Function | None:
    x, y = (unit_at(name, lambda: table.origin.place, problems) for name in (table.x.unit, table.y.unit))
    if x is None or y is None:
        return None
    try:
        return table_function(table, x, y)
    except PackError as error:
        problems.extend(error.problems)
        return None


def _taken(layered: Layered, functions: Mapping[str, Function]) -> Iterator[Problem]:
    reserved = set(functions) - set(layered.tables) | WORDS_OF_THE_LANGUAGE | {*OWN_OF_REMEDIES, BELOW}
    sections: Iterable[Mapping[str, object]] = (layered.characteristics, layered.constants, layered.tables)
    seen: set[str] = set()
    for section in sections:
        for name, thing in section.items():
            if name in reserved or name in seen:
                origin = getattr(thing, "origin")  # noqa: B009 - the three kinds share only this
                yield Problem(f"{name!r} already stands for something else in expressions", origin.place)
            seen.add(name)


def _constants(layered: Layered, problems: list[Problem]) -> Iterator[tuple[str, Constant]]:
    for constant in layered.constants.values():
        yield from _constant(constant, problems)


def _constant(constant: StatedConstant, problems: list[Problem]) -> Iterator[tuple[str, Constant]]:
    unit = unit_at(constant.unit, lambda: constant.origin.place, problems)
    if unit:
        yield constant.name, Constant(unit.to_si(constant.value), unit.dimension)
