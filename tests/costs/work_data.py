"""Seeded assemblies for the work: so many are the first of any larger number.

The draws, and with them the assemblies, are those from which the counts in work_counts.csv come: blocks of 4,096
assemblies, each from SFC64 seeded with the seed and the number of the block.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from work import SIZES, STATIONS, USES

BLOCK = 4096
SEED = 7
_SHARES = (0.55, 0.2, 0.1, 0.15)
_NOT_MEASURED = 0.0008
_FAR_OFF = 0.0003
_SHIFT = 9.0
_SCATTER = 0.62


class Assemblies(NamedTuple):
    """By size an array of shape (stations, assemblies), NaN where nothing was measured; and the use of each."""

    uses: Any
    sizes: Mapping[str, Any]

    def some(self, rows: Any) -> Assemblies:
        """Some of them."""
        return Assemblies(
            self.uses[rows], {name: np.ascontiguousarray(one[:, rows]) for name, one in self.sizes.items()}
        )

    @property
    def columns(self) -> dict[str, Any]:
        """A column for each size at each station, counted from 0."""
        return {f"{name}_{station}": row for name, one in self.sizes.items() for station, row in enumerate(one)}


def assemblies(count: int, seed: int = SEED) -> Assemblies:
    """So many assemblies."""
    uses = np.empty(count, np.int64)
    sizes = {size.full: np.empty((STATIONS[size.place], count)) for size in SIZES}
    for block, start in enumerate(range(0, count, BLOCK)):
        kept = slice(start, min(start + BLOCK, count))
        random = np.random.Generator(np.random.SFC64(np.random.SeedSequence([seed, block])))
        own_uses = random.choice(len(USES), BLOCK, p=_SHARES)
        uses[kept] = own_uses[: kept.stop - start]
        for size in SIZES:
            shape = STATIONS[size.place], BLOCK
            values = random.standard_normal(shape, dtype=np.float32).astype(np.float64)
            values += (random.random(shape, dtype=np.float32) < _FAR_OFF) * _SHIFT
            values *= size.scatter * _SCATTER
            values += _middles(size.middle, own_uses, shape[0])
            tenth = 10.0**size.decimals
            values = np.rint(values * tenth) / tenth  # the nearest double to the decimal
            if size.name == "angle":
                values %= 360.0
            values[random.random(shape, dtype=np.float32) < _NOT_MEASURED] = np.nan
            sizes[size.full][:, kept] = values[:, : kept.stop - start]
    return Assemblies(uses, sizes)


def _middles(middle: Any, uses: Any, stations: int) -> Any:
    if isinstance(middle, tuple):
        return np.array(middle)[uses]
    if isinstance(middle, list):
        return np.tile(middle, stations // len(middle))[:, np.newaxis]
    return middle
