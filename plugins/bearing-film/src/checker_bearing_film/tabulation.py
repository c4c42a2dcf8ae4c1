"""Making the table of films once, from the solution: `python -m checker_bearing_film.tabulation`, two minutes."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from checker_bearing_film.reynolds import Array, solved

TABLE = Path(__file__).parent / "films.json"
"""Beside this module, and read by table.py."""

LOG_NUMBERS = np.linspace(np.log(0.001), np.log(60.0), 56)
LOG_WIDTHS = np.linspace(np.log(0.2), np.log(1.6), 15)
ECCENTRICITIES = 1.0 / (1.0 + np.exp(np.linspace(-6.2, 7.2, 40)))
"""From 0.998 down to 0.0007: evenly in the logarithm of film over what is left of the clearance."""


def tabulated() -> dict[str, list[list[float]]]:
    """Each variable by width and Sommerfeld number, as they are interpolated."""
    columns: dict[str, list[list[float]]] = {"film": [], "friction": [], "flow": [], "side_share": []}
    for log_width in LOG_WIDTHS:
        films = [solved(float(each), float(np.exp(log_width))) for each in ECCENTRICITIES]
        log_number = np.log([film.sommerfeld_number for film in films])
        found = {
            "film": np.log(1.0 / ECCENTRICITIES - 1.0),
            "friction": np.log([film.friction for film in films]),
            "flow": np.array([film.flow for film in films]),
            "side_share": np.array([film.side_flow / film.flow for film in films]),
        }
        for name, values in found.items():
            columns[name].append([round(float(each), 5) for each in _through(log_number, values)])
    return columns


def _through(x: Array, y: Array) -> Array:
    """At LOG_NUMBERS, the cubic through the four points about each."""
    first = np.clip(np.searchsorted(x, LOG_NUMBERS) - 2, 0, len(x) - 4)
    points = first[:, np.newaxis] + np.arange(4)
    total = np.zeros(len(LOG_NUMBERS))
    for one in range(4):
        weight = np.ones(len(LOG_NUMBERS))
        for other in set(range(4)) - {one}:
            weight *= (LOG_NUMBERS - x[points[:, other]]) / (x[points[:, one]] - x[points[:, other]])
        total += weight * y[points[:, one]]
    return total


if __name__ == "__main__":
    written = {"log_number": LOG_NUMBERS.tolist(), "log_width": LOG_WIDTHS.tolist(), **tabulated()}
    rows = ",\n".join(f"{json.dumps(name)}: {json.dumps(values)}" for name, values in written.items())
    TABLE.write_text(f"{{{rows}}}\n", encoding="utf-8")
