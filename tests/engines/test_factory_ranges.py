"""No must stops a factory-new engine: how near the shipped packs are to that, over 80 published tables.

The bounds are what holds today; they only ever come down. `python tests/factory_tools.py` prints the table.
"""

from __future__ import annotations

import re

import pytest
from factory_tools import PLACES, advised_share, engines, fared, stopped_at

# Names of no maker stand in the data: a source is an army manual by its number, or a table by its kind and year.
NAMED = re.compile(r"TM [\d-]+|service|manual|user|table", re.IGNORECASE)


def test_engines_stopped_at_the_middle_of_new() -> None:
    assert len(stopped_at(["middle"])) <= 31


def test_engines_stopped_at_an_end_of_new() -> None:
    assert len(stopped_at(["low", "high"])) <= 63


@pytest.mark.parametrize(("place", "most"), [*zip(PLACES, (0.197, 0.188, 0.254), strict=True)])
def test_advisories_for_each_value_judged(place: str, most: float) -> None:
    assert advised_share(place) <= most


def test_every_engine_is_judged_and_has_a_source() -> None:
    assert len({engine.name for engine in engines()}) == len(engines()) == 80
    assert [engine.name for engine in engines() if not fared(engine.name, "middle").judged] == []
    assert [engine.name for engine in engines() if not NAMED.search(engine.source)] == []
