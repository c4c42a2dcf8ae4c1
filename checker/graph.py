"""What lies above and what lies behind: stations of stations, uses like uses, and values derived from values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from typing import NamedTuple, Protocol

from checker.expressions.names import MEASURED, VALUE, Column


def lineage(name: str | None, above: Mapping[str, str | None]) -> tuple[str, ...]:
    """A name, what is above it, what is above that and so on; it ends where it would come round. Nothing for none."""
    names: list[str] = []
    while name is not None and name not in names:
        names.append(name)
        name = above.get(name)
    return tuple(names)


def comes_round(name: str, above: Mapping[str, str | None]) -> bool:
    """Whether what is above a name never ends."""
    return above.get(lineage(name, above)[-1]) is not None


class Inputs(NamedTuple):
    """Names of characteristics; those in `across` are compared or summed over stations somewhere on the way.

    `named` are the names of all that the expressions on the way name, functions among them. Of those in `viewed`
    something else than their value counts as well, such as whether there is one at all. Those in `computed` count where
    they were not measured too. Whether anything on the way `bends`: leaves a straight line, or may come out either way.
    """

    names: frozenset[str]
    across: frozenset[str]
    named: frozenset[str] = frozenset()
    viewed: frozenset[str] = frozenset()
    computed: frozenset[str] = frozenset()
    bends: bool = True


NO_INPUTS = Inputs(frozenset(), frozenset(), bends=False)


class _Expression(Protocol):
    @property
    def columns(self) -> tuple[Column, ...]: ...
    @property
    def across(self) -> AbstractSet[Column]: ...
    @property
    def names(self) -> AbstractSet[str]: ...
    @property
    def bends(self) -> bool: ...


class _Item(Protocol):
    @property
    def inputs(self) -> Inputs: ...


def inputs_of(expressions: Iterable[_Expression | None], items: Mapping[str, _Item]) -> Inputs:
    """Everything that may bear on the values of expressions, from what is known of each thing that they name."""
    names, across, named, viewed, computed = (set[str]() for _ in range(5))
    bends = False
    for expression in expressions:
        if expression is None:
            continue
        named |= expression.names
        bends = bends or expression.bends
        for column in expression.columns:
            if column.view != VALUE:
                viewed.add(column.name)
            item = items.get(column.name)
            if item is None:
                continue
            names.add(column.name)
            if column in expression.across:
                across.add(column.name)
            if column.view == MEASURED:
                continue
            computed.add(column.name)
            below = item.inputs
            if not below.names and not below.named:
                continue
            names |= below.names
            named |= below.named
            viewed |= below.viewed
            computed |= below.computed
            across |= below.names if column in expression.across else below.across
            bends = bends or below.bends
    return Inputs(frozenset(names), frozenset(across), frozenset(named), frozenset(viewed), frozenset(computed), bends)
