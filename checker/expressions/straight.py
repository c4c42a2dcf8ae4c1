"""Straight lines: which programs can only follow what they read along one, however far that may be off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from checker.expressions import truth
from checker.expressions.functions import FUNCTIONS
from checker.expressions.stations import by_parent, has_neighbour, lifted, neighbour
from checker.expressions.steps import Call, Leaf, Program
from checker.expressions.subsets import of_known, of_those
from checker.frozen import Applied

_STRAIGHT: frozenset[Call] = frozenset(
    [
        *(np.add, np.subtract, lifted, neighbour, has_neighbour),
        # These hand on what comparisons say, which turn by themselves.
        *(truth.told, truth.same, truth.all_of, truth.any_of, truth.negation, truth.choose),
        *(FUNCTIONS[name] for name in ("mean", "mean_known", "total", "count")),
    ]
)
_OF_PARTS: frozenset[Call] = frozenset([by_parent, of_those, of_known])
"""What is done to parts of what is given bends where that which is done bends."""


def bends(program: Program) -> bool:
    """Whether a value may leave its straight line somewhere, or a comparison come out either way."""
    return not all(_is_straight(call, given, program.leaves) for call, given in program.steps)


def _is_straight(call: Call, given: Sequence[int], leaves: Sequence[Leaf]) -> bool:
    if call is np.multiply:
        return any(_is_constant(number, leaves) for number in given)
    if call is np.divide:
        return _is_constant(given[1], leaves)
    return _can_only_be_straight(call)


def _can_only_be_straight(call: Any) -> bool:
    if isinstance(call, Applied):
        return call.function in _STRAIGHT or (call.function in _OF_PARTS and _can_only_be_straight(call.first[0]))
    return call in _STRAIGHT


def _is_constant(number: int, leaves: Sequence[Leaf]) -> bool:
    return number < len(leaves) and isinstance(leaves[number], float)
