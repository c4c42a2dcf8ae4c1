"""What a checked expression calculates: steps over constants, columns and groups, in whatever values they are taken.

A part is plain data that compares by what it says, so that what stands in several places of an expression is one step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from checker.expressions.names import Column

Call: TypeAlias = Callable[..., Any]


class Group(NamedTuple):
    """Which stations of a kind belong together: those of one parent, or without one all of the assembly."""

    child: str
    parent: str | None


class Step(NamedTuple):
    """A call with what it is given."""

    call: Call
    given: tuple[Part, ...]


Leaf: TypeAlias = float | Column | Group
Part: TypeAlias = Leaf | Step


def step(call: Call, *given: Part) -> Part:
    """A call with what it is given; arithmetic between constants is done at once."""
    if call in ARITHMETIC and all(isinstance(part, float) for part in given):
        with np.errstate(all="ignore"):
            return constant(call(*given))
    return Step(call, given)


ARITHMETIC: frozenset[Call] = frozenset({np.add, np.subtract, np.multiply, np.divide, np.power})


def constant(value: float) -> float:
    """A number: always a float of numpy, so that no arithmetic is done in Python's integers."""
    return np.float64(value)


def are_alike(one: Part | None, other: Part | None) -> bool:
    """Whether two parts say the same."""
    return len({one, other}) == 1  # by their hashes: numpy would compare a number with each word of a column


def in_place(part: Part, others: Mapping[Leaf, Part]) -> Part:
    """A part with others in place of some of its leaves."""
    if isinstance(part, Step):
        return step(part.call, *(in_place(given, others) for given in part.given))
    return others.get(part, part)


class Program(NamedTuple):
    """The steps of a part in an order in which they can be taken, each once.

    A step gives the numbers of what it is given: the leaves are counted first, then the steps. The columns are those
    among the leaves.
    """

    columns: tuple[Column, ...]
    leaves: tuple[Leaf, ...]
    steps: tuple[tuple[Call, tuple[int, ...]], ...]

    def run(self, leaves: Iterable[Any], take: Callable[[Call, list[Any]], Any]) -> Any:
        """What comes out, of the values of the leaves; `take` takes one step with the values it is given."""
        values = list(leaves)
        for call, given in self.steps:
            values.append(take(call, [values[number] for number in given]))
        return values[-1]


def program_of(part: Part) -> Program:
    """The program of a part."""
    leaves: dict[Leaf, int] = {}
    steps: dict[Step, int] = {}
    taken: list[tuple[Call, list[int]]] = []

    def number(part: Part) -> int:
        """The number of a step; of a leaf its own, as long as not all are counted below zero."""
        if not isinstance(part, Step):
            return ~leaves.setdefault(part, len(leaves))
        known = steps.get(part)
        if known is None:
            given = [number(each) for each in part.given]
            taken.append((part.call, given))
            known = steps[part] = len(steps)
        return known

    number(part)
    columns = tuple(leaf for leaf in leaves if isinstance(leaf, Column))
    counted = ((call, tuple([~each if each < 0 else len(leaves) + each for each in given])) for call, given in taken)
    return Program(columns, tuple(leaves), tuple(counted))


def part_of(program: Program) -> Part:
    """The part of a program."""
    found: Part = program.run(program.leaves, lambda call, given: Step(call, tuple(given)))
    return found
