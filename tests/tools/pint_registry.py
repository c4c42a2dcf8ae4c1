"""pint with its own full unit file, a reference for the units here; loading it takes half a second."""

from __future__ import annotations

import pint

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()
