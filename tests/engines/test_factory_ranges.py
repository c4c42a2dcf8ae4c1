"""No must stops a factory-new engine: how near the shipped packs are to that, over 100 published tables.

The bounds are what holds today; they only ever come down. `python tests/tools/factory_tools.py` prints the table.
"""

from __future__ import annotations

import re

import pytest
from factory_tools import PLACES, advised_share, beyond_wear, engines, fared, stopped_at
from judging import rulebook

from checker import Verdict

# Names of no maker stand in the data: a source is an army manual by its number, or a table by its kind and year.
NAMED = re.compile(r"TM [\d-]+|service|manual|user|table", re.IGNORECASE)


BOTTOM_END = {
    "Balance",
    "Block deck",
    "Bores and pistons",
    "Compression and head gasket",
    "Crankshaft",
    "Crankshaft bearings",
    "Piston rings",
    "Rods and pins",
    "Temperature and press fits",
}
STOPPED = {
    # Shims set it, and the highest of the range, 0.023 in, is what the thinnest set leaves; every other engine ends at
    # 0.016 in, and with a clutch or a gear drive 0.023 in is too much.
    ("P31", "crankshaft-end-play"),
}
"""The engines that a must of the bottom end stops at an end of their new range, each with the reason."""


def test_engines_stopped_at_the_middle_of_new() -> None:
    assert stopped_at(["middle"]) == []


def test_engines_stopped_at_an_end_of_new() -> None:
    assert len(stopped_at(["low", "high"])) <= 1


def test_no_must_of_the_bottom_end_stops_an_engine_but_those_named() -> None:
    rules = {name for name, one in rulebook("four-stroke").layered.rules.items() if one.system in BOTTOM_END}
    stopped = {(one.name, rule) for one in engines() for place in PLACES for rule in fared(one.name, place).stopped}
    assert {(name, rule) for name, rule in stopped if rule in rules} == STOPPED


@pytest.mark.parametrize(("place", "most"), [*zip(PLACES, (0.134, 0.044, 0.126), strict=True)])
def test_advisories_for_each_value_judged(place: str, most: float) -> None:
    assert advised_share(place) <= most


def test_every_engine_is_judged_and_has_a_source() -> None:
    assert len({engine.name for engine in engines()}) == len(engines()) == 100
    assert [engine.name for engine in engines() if not fared(engine.name, "middle").judged] == []
    assert [engine.name for engine in engines() if not NAMED.search(engine.source)] == []


def test_one_step_beyond_a_printed_limit_of_wear_something_is_said() -> None:
    """Where general practice is silent, another maker prints as much as new: only the maker's own sheet can tell."""
    beyond = beyond_wear()
    silent = [one for one in beyond if one.said.isdisjoint({Verdict.OUTSIDE, Verdict.ADVISORY})]
    assert (len(beyond), len(silent)) == (345, 49)


def test_with_the_makers_own_sheet_it_is_outside() -> None:
    """But for an oil ring of 3 mm gap, which is taken for a slip: undecided until a person confirms it."""
    told = {(one.engine, one.characteristic, one.side): one.said_with_sheet for one in beyond_wear()}
    assert {at: said for at, said in told.items() if Verdict.OUTSIDE not in said} == {
        ("E07", "oil_ring_gap", "high"): {Verdict.UNDECIDED}
    }
