"""How the materials that packs name grow with heat."""

from __future__ import annotations

from collections.abc import Mapping

from checker.errors import Problem, nearest
from checker.expressions.names import Constant
from checker.packs.layers import Layered
from checker.units.dimensions import dimension_of

_PER_KELVIN = dimension_of("per_K")
MOST = 1e-3
"""Per kelvin; plastics grow by 2e-4 at most (handbooks, from memory)."""


def expansions_of(layered: Layered, constants: Mapping[str, Constant], problems: list[Problem]) -> dict[str, float]:
    """The linear expansion of every material, per kelvin."""
    expansions = {}
    for material in layered.materials.values():
        constant = constants.get(material.expansion)
        if constant is None:
            hint = nearest(material.expansion, constants)
            problems.append(Problem(f"no constant {material.expansion!r}", material.origin.place, hint))
        elif constant.dimension != _PER_KELVIN:
            message = f"{material.expansion} is no expansion: its unit is per K"
            problems.append(Problem(message, material.origin.place))
        elif not 0 <= constant.value <= MOST:
            message = f"{material.expansion} is no expansion: no part grows by {constant.value:g} of itself in a kelvin"
            problems.append(Problem(message, material.origin.place))
        else:
            expansions[material.name] = constant.value
    return expansions
