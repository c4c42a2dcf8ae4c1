"""What 10,000 films cost against the plain clearance rule on the same array, as a ratio within one run."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from checker_bearing_film.bearing import least_film
from checker_bearing_film.reynolds import Array

BEARINGS, TRIES = 10_000, 50

_random = np.random.default_rng(0)
_diameter = _random.uniform(0.05, 0.06, (BEARINGS, 1))
_bore = _diameter + _random.uniform(3e-5, 9e-5, (BEARINGS, 1))
_load = _random.uniform(3e3, 2e4, (BEARINGS, 1))
_viscosity, _speed, _width = (np.full((BEARINGS, 1), each) for each in (3.5e-3, 100.0, 0.021))


def plain() -> Array:
    """Bore less journal against a must and a should that go with the journal."""
    clearance = _bore - _diameter
    must = (clearance >= np.maximum(0.0003 * _diameter, 1.27e-5)) & (clearance <= 0.0014 * _diameter)
    should = (clearance >= 0.00075 * _diameter) & (clearance <= 0.0010 * _diameter)
    return np.where(np.isnan(clearance), 3.0, np.where(must, np.where(should, 0.0, 1.0), 2.0))


def film() -> Array:
    """The least film of the same."""
    return least_film(_viscosity, _speed, _load, _diameter, _width, _bore - _diameter)


def best_of(work: Callable[[], Array]) -> float:
    """Processor time, the least of several tries."""
    times = []
    for _ in range(TRIES):
        before = time.process_time()
        work()
        times.append(time.process_time() - before)
    return min(times)


if __name__ == "__main__":
    print(f"{BEARINGS:,} films cost {best_of(film) / best_of(plain):.1f} times the clearance rule")
