"""What pint makes of our unit file: the factor, the offset and the dimension of every unit (pint).

Importing pint and asking it would be a quarter of a whole check, so the outcome stands beside the unit file, and pint
is asked only where that file is no longer the one it was made from. After a change of units.txt:

    python -m checker.units.definitions > units.json && mv units.json checker/units/
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeAlias

import pint

Definition: TypeAlias = Mapping[str, Any]
"""A unit: `factor` and `offset` take a value to SI, `dimension` gives base dimensions their whole exponents."""


def definitions_in(text: str) -> dict[str, Definition]:
    """Every unit of a unit file, by name; the file is in pint's definition syntax."""
    # Decimal keeps the factors exact until they become floats.
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None, cache_folder=None, non_int_type=Decimal)
    registry.load_definitions(text.splitlines())
    # pint knows a difference of temperatures by a Greek letter too.
    return {name: _definition(registry, name) for name in sorted(registry) if name.isascii()}


def _definition(registry: pint.UnitRegistry[Any], name: str) -> Definition:
    zero, one = (registry.Quantity(Decimal(number), name).to_root_units().magnitude for number in (0, 1))
    exponents = registry.get_dimensionality(name).items()
    return {
        "factor": float(one - zero),
        "offset": float(zero),
        "dimension": {base.strip("[]"): int(str(exponent)) for base, exponent in sorted(exponents)},
    }


def text_of(raw: bytes) -> str:
    """The text of units.json for a unit file: a unit a line."""
    units = [f"{json.dumps(name)}: {json.dumps(text)}" for name, text in definitions_in(raw.decode("ascii")).items()]
    return f'{{"made_from": "{sha256(raw).hexdigest()}", "units": {{\n' + ",\n".join(units) + "\n}}\n"


if __name__ == "__main__":
    print(text_of(Path(__file__).with_name("units.txt").read_bytes()), end="")
