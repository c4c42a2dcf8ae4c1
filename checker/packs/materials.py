"""What parts and gauges are made of, and how the materials that packs name grow with heat."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from checker.errors import Problem, nearest
from checker.expressions.names import Constant
from checker.frozen import FrozenMapping
from checker.packs.characteristic import Characteristic
from checker.packs.layers import Layered
from checker.units.dimensions import dimension_of
from checker.units.units import UNITS

_PER_KELVIN = dimension_of("per_K")
MOST = 1e-3
"""Per kelvin; plastics grow by 2e-4 at most (handbooks, from memory)."""
ALUMINIUM = 24e-6
"""How much a material that nobody names may grow, per kelvin: few parts grow more (handbooks, from memory)."""


class Materials(NamedTuple):
    """The linear expansion of every material, per kelvin, and those of which usual gauges and their standards are."""

    expansions: Mapping[str, float]
    of_gauges: tuple[str, ...]

    def growth(self, materials: Iterable[str]) -> tuple[float, float]:
        """Between what something grows, per kelvin, that is of one of these; of nobody knows what if there are none."""
        known = [self.expansions[name] for name in materials]
        return (min(known), max(known)) if known else (0.0, max((ALUMINIUM, *self.expansions.values())))

    def named(self) -> str:
        """The materials there are, in words."""
        return f"known: {', '.join(self.expansions)}" if self.expansions else "no pack names a material"


def materials_of(layered: Layered, constants: Mapping[str, Constant], problems: list[Problem]) -> Materials:
    """The materials of packs; what is wrong with them, or with what is made of them, is added to the problems."""
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
    for item in layered.characteristics.values():
        problems.extend(_amiss(item, layered) if item.made_of else ())
    of_gauges = tuple(name for name in expansions if layered.materials[name].of_gauges)
    return Materials(FrozenMapping(expansions), of_gauges)


def _amiss(item: Characteristic, layered: Layered) -> Iterator[Problem]:
    """What is wrong with what a characteristic is said to be made of."""
    place = item.origin.at("made_of")
    unit = UNITS.get(item.unit or "")
    if unit is None or unit.kind != "length":
        yield Problem(f"{item.name} is not a length, and only lengths are brought to 20 degrees C", place)
    for name in item.made_of:
        fact = layered.characteristics.get(name)
        if name in layered.materials:
            continue
        if fact is None or not fact.choices:
            hint = nearest(name, [*layered.materials, *layered.characteristics])
            yield Problem(f"{name!r} is neither a material nor a fact", place, hint or "for example steel")
        elif fact.per is not None:
            yield Problem(f"{name} is a fact of each {fact.per}, and a part is made of one material", place)
        elif layered.materials.keys().isdisjoint(fact.choices):
            hint = f"the materials are {', '.join(layered.materials)}"
            yield Problem(f"none of the choices of {name} is a material", place, hint)
