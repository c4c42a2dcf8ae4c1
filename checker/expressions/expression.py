"""A checked expression: what it calculates of what, and what is known of the result."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from checker.expressions.functions import Function, of_plugins
from checker.expressions.names import OF_ITS_KIND, Column
from checker.expressions.steps import Part, Program, constant, part_of, program_of, step
from checker.expressions.straight import bends
from checker.expressions.terms import Nature, Neighbour
from checker.units.dimensions import Dimension


@dataclass(frozen=True, slots=True, eq=False)
class Expression:
    """A checked expression, ready to be evaluated by any thread.

    The program is what it calculates. `across` are the columns read inside a reduction over stations.
    """

    text: str
    nature: Nature
    dimension: Dimension | None
    stations: str | None
    low: float
    high: float
    program: Program
    across: frozenset[Column]
    names: frozenset[str]
    ends: bool
    """Whether the result may be infinite: not covered by a table."""
    neighbours: tuple[Neighbour, ...] = ()
    """The neighbours it reads at each station: at the end of a line it has no value."""
    column: Column | None = field(init=False)
    """The one column this is, when it calculates nothing."""

    def __post_init__(self) -> None:
        is_column = bool(self.program.columns) and not self.program.steps
        object.__setattr__(self, "column", self.program.columns[0] if is_column else None)

    @property
    def columns(self) -> tuple[Column, ...]:
        """All that it reads."""
        return self.program.columns

    @property
    def tree(self) -> Part:
        """The same as one part, to be put into others."""
        return part_of(self.program)

    @property
    def characteristic(self) -> str | None:
        """The characteristic that this is a value of, when it calculates nothing."""
        column = self.column
        return column.name if column is not None and column.view in OF_ITS_KIND else None

    @property
    def bends(self) -> bool:
        """Whether it may leave a straight line, or turn, by itself; what it reads may besides."""
        return bends(self.program)

    @property
    def added(self) -> tuple[Function, ...]:
        """The functions of plugins that it calls."""
        return of_plugins(call for call, _ in self.program.steps)

    def negated(self) -> Expression:
        """The condition that holds where this one does not."""
        return self.calculating(step(np.subtract, constant(1.0), self.tree), text=f"not ({self.text})")

    def calculating(self, tree: Part, **changes: Any) -> Expression:
        """An expression that calculates something else."""
        return replace(self, program=program_of(tree), **changes)
