"""The shipped packs against themselves: what must be so whatever the figures are."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pytest
from examples import examples
from hypothesis import assume, given
from hypothesis import strategies as st
from judging import rulebook

from checker import Rulebook
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.judge import judge
from checker.judging.measures import measure
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.limit_set import POSITIONS
from checker.records.layout import Layout
from checker.units.units import unit
from checker.vetting.trial import trial_block

Array = npt.NDArray[np.float64]
MUST_LOW, SHOULD_LOW, SHOULD_HIGH, MUST_HIGH = range(4)
SLACK = 1e-9


class Build(NamedTuple):
    """A use, the packs on top of it, and the facts that choose its class."""

    use: str
    packs: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()


ADDED = {
    "moderate boost": (("boosted",), (("boost_class", "moderate"),)),
    "race boost": (("boosted",), (("boost_class", "race"),)),
    "a mild shot": (("nitrous",), (("nitrous_class", "mild"),)),
    "a race shot": (("nitrous",), (("nitrous_class", "race"),)),
}
ON_TOP = [(), ("boosted",), ("nitrous",), ("alcohol",), ("alcohol", "boosted", "nitrous")]


def build(use: str, added: str = "") -> Build:
    return Build(use, *ADDED[added]) if added else Build(use)


@cache
def book(*packs: str) -> Rulebook:
    """The four-stroke pack, with others on top."""
    return rulebook(*(packs or ("four-stroke",)))


def block(packs: tuple[str, ...] = (), **columns: Any) -> Block:
    """Assemblies with one station of each kind, one a row; a choice by its name."""
    items, stations = book(*packs).characteristics, book(*packs).layered.stations
    parents = {name: kind.of for name, kind in stations.items()}
    measured = {name: np.atleast_2d(_in_si(items[name], given)).reshape(-1, 1) for name, given in columns.items()}
    return Block(items, Layout(dict.fromkeys(parents, 1), parents), measured)


def _in_si(item: CompiledCharacteristic, given: Any) -> Array:
    if isinstance(given, str):
        return np.array(float(item.characteristic.choices.index(given)))
    return np.asarray(given, dtype=np.float64)


def asked_of(of: Build, **columns: Any) -> Block:
    """Assemblies with these columns, as far as the packs of a build know them, and the facts that choose its class."""
    known = {name: given for name, given in columns.items() if name in book(*of.packs).characteristics}
    return block(of.packs, **(known | dict(of.facts)))


def limits_on(asked: Block, rule: str, of: Build) -> Array:
    """The four limits of a rule in the order of POSITIONS, a row for each assembly."""
    return measure(book(*of.packs).rules[rule], asked, book().chain(of.use)).limits[:, :, 0]


def limits(rule: str, of: Build, **columns: Any) -> Array:
    """The same for assemblies with these columns."""
    return limits_on(asked_of(of, **columns), rule, of)


# --- hotter uses are never less open where the trade says so --------------------------------------------------------

INCH = 0.0254
BORES = np.linspace(1.5, 7.0, 1101) * INCH
JOURNALS = np.linspace(1.5, 4.0, 501) * INCH
"""Every five thousandths of an inch: of one rule, many sizes cost no more than one."""
USES = book().applications
PETROL = [use for use in USES if "diesel" not in book().chain(use)]
ON_STREET = [
    [build("street"), build("street-performance"), build("circle-track")],
    [build("street"), build("street-performance"), build("drag")],
    [build("factory-rebuild"), build("street-performance")],
]
WITH_POWER = [
    *([build(use), build(use, "moderate boost"), build(use, "race boost")] for use in PETROL),
    *([build(use), build(use, "a mild shot"), build(use, "a race shot")] for use in PETROL),
    *([build("street", added), build("street-performance", added), build("drag", added)] for added in ADDED),
]
NARROWED = ["top-ring-gap-in-smallest-bore", "top-ring-gap-down-the-taper"]
GAPS = ["top-ring-gap", *NARROWED, "second-ring-gap"]


@pytest.mark.parametrize("at", ["usual height", "close to the crown"])
@pytest.mark.parametrize("alloy", ["cast", "hypereutectic", "4032", "2618"])
@pytest.mark.parametrize("rule", GAPS)
def test_hotter_uses_and_more_power_want_wider_ring_gaps_at_every_bore(rule: str, alloy: str, at: str) -> None:
    for order in (*ON_STREET, [build("street"), build("marine")], *WITH_POWER):
        floors = [limits(rule, of, cylinder_bore=BORES, piston_alloy=alloy, top_ring_position=at) for of in order]
        for cooler, hotter in pairwise(floors):
            assert (hotter[MUST_LOW] >= cooler[MUST_LOW] * (1 - SLACK)).all(), order
            assert (hotter[SHOULD_LOW] >= cooler[SHOULD_LOW] * (1 - SLACK)).all(), order


@pytest.mark.parametrize("alloy", ["cast", "hypereutectic", "4032", "2618"])
@pytest.mark.parametrize("rule", NARROWED)
def test_a_gap_has_one_floor_wherever_in_the_bore_it_is(rule: str, alloy: str) -> None:
    given = {"cylinder_bore": 0.1, "piston_alloy": alloy, "top_ring_position": "usual height"}
    for of in (build(use, added) for use in USES for added in ("", *ADDED)):
        narrowed, plain = (limits(name, of, **given) for name in (rule, "top-ring-gap"))
        assert narrowed[MUST_LOW].tolist() == plain[MUST_LOW].tolist(), of


def test_alloys_that_grow_more_want_more_room() -> None:
    for use in ("street-performance", "circle-track", "drag", "marine"):
        for of in (build(use, added) for added in ("", *ADDED)):
            floors = [
                limits("piston-to-wall-clearance", of, cylinder_bore=BORES, piston_alloy=alloy)[MUST_LOW]
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
    for use in ("street", "street-performance", "circle-track", "drag", "marine"):
        for added in ("", *ADDED):
            assert limits(rule, build(use, added), **given)[MUST_LOW, 0] > 0.0005 * INCH, (use, added)


@pytest.mark.parametrize("alloy", ["hypereutectic", "4032", "2618"])
def test_hotter_uses_and_more_power_want_more_piston_clearance(alloy: str) -> None:
    for order in ([build("street-performance"), build("drag")], *WITH_POWER):
        floors = [
            limits("piston-to-wall-clearance", of, cylinder_bore=BORES, piston_alloy=alloy)[MUST_LOW] for of in order
        ]
        for cooler, hotter in pairwise(floors):
            assert (hotter >= cooler * (1 - SLACK)).all(), order


@pytest.mark.parametrize(("rule", "journal"), [("main", "main_journal_diameter"), ("rod", "rod_journal_diameter")])
def test_harder_use_leaves_more_room_for_oil(rule: str, journal: str) -> None:
    """The aims; the ceiling of the street is where production engines are worn out, which a tuned one may not reach."""
    sizes = {journal: JOURNALS, "rod_material": "steel"}
    for order in (*ON_STREET, *WITH_POWER):
        bands = [limits(f"{rule}-oil-clearance", of, **sizes) for of in order]
        uses = (of.use for of in order)
        for (cooler_use, hotter_use), (cooler, hotter) in zip(pairwise(uses), pairwise(bands), strict=True):
            assert (hotter[SHOULD_LOW] >= cooler[SHOULD_LOW]).all(), order
            is_tuned = cooler_use in ("street", "factory-rebuild") and cooler_use != hotter_use
            assert is_tuned or (hotter[MUST_HIGH] >= cooler[MUST_HIGH]).all(), order


FORM = [
    *(f"{shaft}-journal-{error}" for shaft in ("main", "rod") for error in ("roundness", "taper")),
    *("bore-roundness", "bore-taper", "main-journal-runout", "deck-flatness", "deck-squareness", "seat-runout"),
    *("head-flatness-along", "head-flatness-across", "rod-bend", "rod-twist", "valve-face-runout"),
]
"""What is judged is how far a part is from its shape: no use excuses more of it than a milder one."""


@pytest.mark.parametrize("rule", FORM)
def test_harder_use_excuses_no_more_error_of_form(rule: str) -> None:
    for order in ON_STREET:
        tops = [measure(book().rules[rule], _made_up(), book().chain(of.use)).limits[SHOULD_HIGH:] for of in order]
        for cooler, hotter in pairwise(tops):
            is_told = ~np.isnan(cooler) & ~np.isnan(hotter)
            assert (hotter <= cooler + SLACK * np.abs(cooler))[is_told].all(), order


@cache
def _made_up() -> Block:
    return trial_block(book())


def test_power_adders_want_a_richer_mixture_a_later_spark_and_a_shorter_gap() -> None:
    given = {
        "fuel": "petrol",
        "ignition_system": "electronic",
        "combustion_chamber": "closed wedge",
        "boost_pressure": 10 * unit("psi").factor,
        "nitrous_power": 150 * unit("hp").factor,
    }
    for rule in ("lambda-full-throttle", "total-spark-advance", "spark-plug-gap"):
        for use in PETROL:
            plain = limits(rule, build(use), **given)[SHOULD_HIGH, 0]
            for added in ADDED:
                assert limits(rule, build(use, added), **given)[SHOULD_HIGH, 0] < plain, (rule, use, added)


@pytest.mark.parametrize("fuel", ["petrol", "e85", "methanol"])
@pytest.mark.parametrize("added", ADDED)
def test_lean_under_a_power_adder_is_stopped_whatever_the_fuel(added: str, fuel: str) -> None:
    """Trade: leaner than the range with boost or nitrous damages; without either it is only advised against."""
    for use in PETROL:
        plain, with_it = (limits("lambda-full-throttle", of, fuel=fuel)[:, 0] for of in (build(use), build(use, added)))
        assert with_it[MUST_HIGH] <= plain[SHOULD_HIGH]
        assert with_it[SHOULD_HIGH] < with_it[MUST_HIGH]


MOVED_OUTWARDS = {
    "top-ring-gap": {SHOULD_HIGH},
    "second-over-top": {SHOULD_LOW},
    "piston-to-wall-clearance": {SHOULD_HIGH, MUST_HIGH},
    "main-oil-clearance": {SHOULD_HIGH, MUST_HIGH},
    "rod-oil-clearance": {SHOULD_HIGH, MUST_HIGH},
    "floating-pin-in-piston": {SHOULD_HIGH, MUST_HIGH},
    "exhaust-guide-clearance": {SHOULD_HIGH, MUST_HIGH},
    "exhaust-seat-width": {SHOULD_HIGH},
    "spring-seat-load": {SHOULD_HIGH},
    "lobe-separation-for-use": {SHOULD_HIGH},
    "mean-effective-pressure": {SHOULD_HIGH},
    "lambda-full-throttle": {SHOULD_LOW},
    "total-spark-advance": {SHOULD_LOW},
    "spark-plug-gap": {SHOULD_LOW},
    "plug-heat-range": {SHOULD_HIGH},
}
"""The limits that added power moves outwards, for the reason that its pack gives; every other one it only tightens."""


@pytest.mark.parametrize("added", ADDED)
def test_what_is_on_top_is_never_softer_than_the_use_below(added: str) -> None:
    packs, facts = ADDED[added]
    columns = usual_columns(packs)
    plain, powered = asked_of(Build(""), **columns), asked_of(Build("", packs, facts), **columns)
    compared = 0
    for name in (name for name in book(*packs).rules if name in book().rules and not book().rules[name].is_demand):
        for use in PETROL:
            below, above = limits_on(plain, name, Build(use)), limits_on(powered, name, Build(use, packs))
            if below.shape != above.shape:
                below, above = np.broadcast_arrays(below, above)
            for position in {MUST_LOW, SHOULD_LOW, SHOULD_HIGH, MUST_HIGH} - MOVED_OUTWARDS.get(name, set()):
                inward = 1 if position <= SHOULD_LOW else -1
                known = np.isfinite(below[position])
                assert not np.isnan(above[position][known]).any(), (name, use)
                tighter = inward * (above[position][known] - below[position][known])
                assert (tighter >= -SLACK * np.abs(below[position][known])).all(), (name, use, position)
                compared += int(known.sum())
    assert compared > 100_000


HELD_AS_IN_RACING = [
    ("exhaust-valve-margin", (MUST_LOW, SHOULD_LOW)),
    ("seat-runout", (SHOULD_HIGH, MUST_HIGH)),
    ("bore-roundness", (SHOULD_HIGH, MUST_HIGH)),
    ("bore-taper", (SHOULD_HIGH, MUST_HIGH)),
    ("journal-roughness", (SHOULD_HIGH,)),
    ("main-journal-runout", (SHOULD_HIGH, MUST_HIGH)),
]


@pytest.mark.parametrize(("rule", "positions"), HELD_AS_IN_RACING)
def test_race_power_on_the_street_never_softens_what_racing_asks(rule: str, positions: tuple[int, ...]) -> None:
    for race in ("drag", "circle-track"):
        for added in ("race boost", "a race shot"):
            asked, found = (limits(rule, of)[:, 0] for of in (build(race), build("street", added)))
            for position in positions:
                inward = 1 if position <= SHOULD_LOW else -1
                assert inward * (found[position] - asked[position]) >= -1e-12, (race, added)


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
def usual_columns(packs: tuple[str, ...] = (), count: int = 400) -> Mapping[str, Any]:
    """Engines with sizes drawn at random, always the same ones."""
    draw = np.random.default_rng(20260701)
    columns: dict[str, Any] = {}
    for name, item in book(*packs).characteristics.items():
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
    return columns


@cache
def usual_engines(packs: tuple[str, ...] = ()) -> Block:
    return block(packs, **usual_columns(packs))


@pytest.mark.parametrize(
    ("application", "packs"), [*((use, ()) for use in USES), *((use, packs) for use in PETROL for packs in ON_TOP[1:])]
)
def test_every_must_band_contains_its_should_band(application: str, packs: tuple[str, ...]) -> None:
    chain = book().chain(application)
    for name, rule in book(*packs).rules.items():
        if rule.is_demand or not rule.rule.not_for.keys().isdisjoint(chain):
            continue
        low, should_low, should_high, high = measure(rule, usual_engines(packs), chain).limits
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
@examples(150)
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
