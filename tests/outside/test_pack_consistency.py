"""The shipped packs against themselves: what must be so whatever the figures are."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from judging import rulebook

from checker import Rulebook
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.judge import judge, measure
from checker.packs.compiled import POSITIONS, CompiledRule
from checker.records.layout import Layout
from checker.units.units import unit

Array = npt.NDArray[np.float64]
MUST_LOW, SHOULD_LOW, SHOULD_HIGH, MUST_HIGH = range(4)
SLACK = 1e-9


@cache
def book() -> Rulebook:
    """All uses of the four-stroke packs side by side."""
    return rulebook("boosted", "nitrous", "alcohol")


def block(**columns: Any) -> Block:
    """Assemblies with one station of each kind, one a row; a choice by its name."""
    parents = {name: stations.of for name, stations in book().layered.stations.items()}
    measured = {name: np.atleast_2d(_in_si(name, given)).reshape(-1, 1) for name, given in columns.items()}
    return Block(book().characteristics, Layout(dict.fromkeys(parents, 1), parents), measured)


def _in_si(name: str, given: Any) -> Array:
    if isinstance(given, str):
        return np.array(float(book().characteristics[name].characteristic.choices.index(given)))
    return np.asarray(given, dtype=np.float64)


def limits(rule: str, application: str, **columns: Any) -> Array:
    """The four limits of a rule in the order of POSITIONS, a row for each assembly."""
    return measure(book().rules[rule], block(**columns), book().chain(application)).limits[:, :, 0]


# --- hotter uses are never less open where the trade says so --------------------------------------------------------

INCH = 0.0254
BORES = st.lists(st.floats(1.5, 7.0), min_size=1, max_size=20)
ORDERS = [
    ("street", "street-performance", "boosted", "nitrous"),
    ("street", "street-performance", "circle-track"),
    ("street", "street-performance", "drag", "alcohol", "alcohol-blown"),
    ("street", "street-performance", "boosted", "boosted-race"),
    ("street", "marine"),
]
NARROWED = ["top-ring-gap-in-smallest-bore", "top-ring-gap-down-the-taper"]
GAPS = ["top-ring-gap", *NARROWED, "second-ring-gap"]


@pytest.mark.parametrize("at", ["usual height", "close to the crown"])
@pytest.mark.parametrize("alloy", ["cast", "hypereutectic", "4032", "2618"])
@pytest.mark.parametrize("rule", GAPS)
@given(bores=BORES)
@settings(max_examples=10, deadline=None)
def test_hotter_uses_want_wider_ring_gaps_at_every_bore(rule: str, alloy: str, at: str, bores: list[float]) -> None:
    """The packs for added load state one gap for hypereutectic pistons, wherever their top ring sits."""
    sizes = np.array(bores) * INCH
    alike = alloy != "hypereutectic" or at == "usual height"
    for order in ORDERS if alike else [("street", "street-performance", "circle-track"), ("street", "marine")]:
        floors = [limits(rule, use, cylinder_bore=sizes, piston_alloy=alloy, top_ring_position=at) for use in order]
        for cooler, hotter in pairwise(floors):
            assert (hotter[MUST_LOW] >= cooler[MUST_LOW] * (1 - SLACK)).all(), order
            assert (hotter[SHOULD_LOW] >= cooler[SHOULD_LOW] * (1 - SLACK)).all(), order


@pytest.mark.parametrize("alloy", ["cast", "hypereutectic", "4032", "2618"])
@pytest.mark.parametrize("rule", NARROWED)
def test_a_gap_has_one_floor_wherever_in_the_bore_it_is(rule: str, alloy: str) -> None:
    for use in book().applications:
        given = {"cylinder_bore": 0.1, "piston_alloy": alloy, "top_ring_position": "usual height"}
        narrowed, plain = (limits(name, use, **given) for name in (rule, "top-ring-gap"))
        assert narrowed[MUST_LOW].tolist() == plain[MUST_LOW].tolist(), use


@given(bores=BORES)
@settings(max_examples=20, deadline=None)
def test_alloys_that_grow_more_want_more_room(bores: list[float]) -> None:
    sizes = np.array(bores) * INCH
    for use in ("street-performance", "circle-track", "drag", "marine", "boosted", "nitrous"):
        floors = [
            limits("piston-to-wall-clearance", use, cylinder_bore=sizes, piston_alloy=alloy)[MUST_LOW]
            for alloy in ("hypereutectic", "4032", "2618")
        ]
        assert (floors[0] <= floors[1]).all()
        assert (floors[1] <= floors[2]).all()


@pytest.mark.parametrize("coating", ["bare", "coated"])
@pytest.mark.parametrize("alloy", ["4032", "2618"])
def test_a_forged_piston_has_a_floor_in_every_use(alloy: str, coating: str) -> None:
    """Trade press 2012 and 2014: 0.004 to 0.005 in on a 4 in bore; half a thou, over a coating or not, seizes."""
    rule = "piston-to-wall-clearance" if coating == "bare" else "coated-piston-to-wall-clearance"
    given = {"cylinder_bore": 4 * INCH, "piston_alloy": alloy, "skirt_coating": coating, "bore_surface": "iron"}
    for use in set(book().applications) - {"diesel"}:
        assert limits(rule, use, **given)[MUST_LOW, 0] > 0.0005 * INCH, use


@pytest.mark.parametrize("alloy", ["hypereutectic", "4032", "2618"])
@given(bores=BORES)
@settings(max_examples=20, deadline=None)
def test_hotter_uses_want_more_piston_clearance(alloy: str, bores: list[float]) -> None:
    sizes = np.array(bores) * INCH
    for order in (("street-performance", "drag"), ("street-performance", "boosted"), ("street-performance", "nitrous")):
        cooler, hotter = (
            limits("piston-to-wall-clearance", use, cylinder_bore=sizes, piston_alloy=alloy)[MUST_LOW] for use in order
        )
        assert (hotter >= cooler).all()


@pytest.mark.parametrize(("rule", "journal"), [("main", "main_journal_diameter"), ("rod", "rod_journal_diameter")])
@given(journals=st.lists(st.floats(1.5, 4.0), min_size=1, max_size=20))
@settings(max_examples=20, deadline=None)
def test_harder_use_leaves_more_room_for_oil(rule: str, journal: str, journals: list[float]) -> None:
    """The aims; the ceiling of the street is where production engines are worn out, which a tuned one may not reach."""
    sizes = {journal: np.array(journals) * INCH, "rod_material": "steel"}
    for order in (
        ("street", "street-performance", "circle-track"),
        ("street-performance", "drag"),
        ("street", "boosted"),
    ):
        bands = [limits(f"{rule}-oil-clearance", use, **sizes) for use in order]
        for cooler, hotter in pairwise(bands):
            assert (hotter[SHOULD_LOW] >= cooler[SHOULD_LOW]).all(), order
            assert order[0] == "street" or (hotter[MUST_HIGH] >= cooler[MUST_HIGH]).all(), order


def test_power_adders_want_a_richer_mixture_a_later_spark_and_a_shorter_gap() -> None:
    given = {
        "fuel": "petrol",
        "ignition_system": "electronic",
        "combustion_chamber": "closed wedge",
        "boost_pressure": 10 * unit("psi").factor,
        "nitrous_power": 150 * unit("hp").factor,
    }
    for rule in ("lambda-full-throttle", "total-spark-advance", "spark-plug-gap"):
        plain = limits(rule, "street-performance", **given)[SHOULD_HIGH, 0]
        for use in ("boosted", "nitrous"):
            assert limits(rule, use, **given)[SHOULD_HIGH, 0] < plain, (rule, use)


POWER_ADDERS = ("boosted", "boosted-race", "nitrous")
LEAN = [(use, fuel) for use in POWER_ADDERS for fuel in ("petrol", "e85", "methanol")]


@pytest.mark.parametrize(("use", "fuel"), [*LEAN, ("alcohol-blown", "e85"), ("alcohol-blown", "methanol")])
def test_lean_under_a_power_adder_is_stopped_whatever_the_fuel(use: str, fuel: str) -> None:
    """Trade: leaner than the range with boost or nitrous damages; without either it is only advised against."""
    plain, added = (limits("lambda-full-throttle", name, fuel=fuel)[:, 0] for name in ("drag", use))
    assert added[MUST_HIGH] <= plain[SHOULD_HIGH]
    assert added[SHOULD_HIGH] < added[MUST_HIGH]


HELD_AS_IN_RACING = [
    ("thrust-wall-thickness", (MUST_LOW, SHOULD_LOW)),
    ("exhaust-valve-margin", (MUST_LOW, SHOULD_LOW)),
    ("seat-runout", (SHOULD_HIGH, MUST_HIGH)),
    ("bore-roundness", (SHOULD_HIGH, MUST_HIGH)),
    ("bore-taper", (SHOULD_HIGH, MUST_HIGH)),
    ("journal-roughness", (SHOULD_HIGH,)),
    ("main-journal-runout", (SHOULD_HIGH, MUST_HIGH)),
]


@pytest.mark.parametrize(("rule", "positions"), HELD_AS_IN_RACING)
def test_power_added_never_softens_what_racing_asks(rule: str, positions: tuple[int, ...]) -> None:
    for race in ("drag", "circle-track"):
        for use in ("boosted-race", "nitrous", "alcohol-blown"):
            if (rule, use) == ("thrust-wall-thickness", "nitrous"):
                continue  # nitrous goes into street engines too, whose walls are as cast: there it is advice
            asked, found = (limits(rule, name)[:, 0] for name in (race, use))
            for position in positions:
                harder = (
                    found[position] - asked[position] if position <= SHOULD_LOW else asked[position] - found[position]
                )
                assert harder >= -1e-12, (race, use)


# --- every must band contains its should band ------------------------------------------------------------------------

# Sizes that engines have, in the unit of the characteristic: at the ends of what is possible, rules made of a share of
# a size and a plain amount mean nothing. What is not named lies anywhere in its plausible range.
USUAL = {
    "boost_pressure": (3, 40),
    "compression_ratio": (7, 22),
    "computed_bob_weight": (500, 4000),
    "cylinder_bore": (2, 6.5),
    "dynamic_compression_ratio": (6, 10),
    "expected_power": (50, 2000),
    "intake_valve_diameter": (1, 3),
    "main_bearing_bore": (1.5, 6.5),
    "main_housing_bore": (1.6, 7),
    "main_journal_diameter": (1.5, 6.5),
    "main_journal_plane_spacing": (0.5, 1.5),
    "main_oil_clearance": (0.001, 0.004),
    "maximum_engine_speed": (1500, 11000),
    "nitrous_power": (50, 500),
    "number_of_cylinders": (2, 12),
    "oil_pressure_speed": (800, 9000),
    "piston_protrusion": (0.48, 0.9),
    "rod_bearing_bore": (1.2, 4.5),
    "rod_journal_diameter": (1.3, 4.5),
    "rod_journal_plane_spacing": (0.5, 1.2),
    "rod_oil_clearance": (0.001, 0.004),
    "second_ring_width": (0.9, 4),
    "thread_diameter": (0.25, 1),
    "thread_pitch": (0.03, 0.1),
    "top_ring_gap": (0.01, 0.05),
    "top_ring_temperature": (350, 700),
    "top_ring_width": (0.9, 4),
}
STATED_BANDS = {"main_housing_bore", "rod_housing_bore", "main_clearance_aim", "rod_clearance_aim"}


@cache
def usual_engines(count: int = 400) -> Block:
    """Engines with sizes drawn at random, always the same ones."""
    draw = np.random.default_rng(20260701)
    columns: dict[str, Any] = {}
    for name, item in book().characteristics.items():
        if item.unit is None:
            columns[name] = draw.integers(len(item.characteristic.choices), size=count).astype(float)
        elif name in USUAL:
            low, high = USUAL[name]
            columns[name] = item.unit.to_si(draw.uniform(low, high, count))
        elif item.derived is None:
            columns[name] = draw.uniform(item.low, item.high, count)
    for name in STATED_BANDS:
        columns[f"{name}_greatest"] = columns[f"{name}_least"] + 0.001 * INCH
    for name in ("main_journal", "rod_journal"):
        columns[f"nominal_{name}"] = columns[f"{name}_diameter"]  # made as they measure
    return block(**columns)


@pytest.mark.parametrize("application", book().applications)
def test_every_must_band_contains_its_should_band(application: str) -> None:
    chain = book().chain(application)
    for name in book().rules:
        rule = book().rules[name]
        if rule.is_demand or not rule.rule.not_for.keys().isdisjoint(chain):
            continue
        low, should_low, should_high, high = measure(rule, usual_engines(), chain).limits
        for outer, inner in ((low, should_low), (should_low, should_high), (should_high, high), (low, high)):
            known = np.isfinite(outer) & np.isfinite(inner)
            assert (outer[known] <= inner[known] + SLACK * np.abs(inner[known]) + 1e-12).all(), name


def test_the_check_of_bands_sees_numbers_at_all() -> None:
    found = measure(book().rules["top-ring-gap"], usual_engines(), book().chain("street")).limits
    assert np.isfinite(found[[MUST_LOW, SHOULD_LOW, SHOULD_HIGH]]).all()


# --- scaling a size and what is judged by it -------------------------------------------------------------------------


def is_scalable(rule: CompiledRule, application: str) -> bool:
    """Whether all that counts for a use is so much for each unit of the size."""
    if rule.per_unit_of is None or rule.per_unit_of.column is None or rule.judges.column is None:
        return False
    chain = book().chain(application)
    counting = [c for position in POSITIONS for c in rule.limits.candidates(chain, *position)]
    return bool(counting) and all(candidate.bound.is_ratio for candidate in counting)


SCALABLE = [
    (name, application)
    for name in book().rules
    for application in book().applications
    if is_scalable(book().rules[name], application)
]


@given(
    which=st.sampled_from(SCALABLE),
    size=st.floats(1.0, 6.0),
    ratio=st.floats(0.0001, 0.012),
    scale=st.floats(0.25, 4.0),
    choice=st.integers(0, 11),
)
@settings(max_examples=150, deadline=None)
def test_scaling_size_and_value_together_changes_no_verdict(
    which: tuple[str, str], size: float, ratio: float, scale: float, choice: int
) -> None:
    name, application = which
    rule = book().rules[name]
    assert rule.per_unit_of is not None and rule.per_unit_of.column is not None and rule.judges.column is not None
    sizes = np.array([size, size * scale]) * INCH
    facts = {
        item.name: item.characteristic.choices[choice % len(item.characteristic.choices)]
        for item in book().characteristics.values()
        if item.unit is None
    }
    characteristics = book().characteristics
    possible = characteristics[rule.per_unit_of.column.name]
    assume(((sizes >= possible.low) & (sizes <= possible.high)).all())
    assume((sizes * ratio <= characteristics[rule.judges.column.name].high).all())
    both = block(**{**facts, rule.per_unit_of.column.name: sizes, rule.judges.column.name: sizes * ratio})
    codes = judge(rule, measure(rule, both, book().chain(application)), Decision("simple")).codes
    assert codes[0] == codes[1]


def test_there_are_rules_to_scale() -> None:
    assert {"second-ring-gap", "top-ring-gap-in-smallest-bore", "damper-face-runout"} <= {name for name, _ in SCALABLE}
