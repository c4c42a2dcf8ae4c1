"""Figures of one V8, as builders give them: common practice. What the packs must say of such an engine.

Sizes that are not stated with them (journals, bolts, a deck) are invented.
"""

from __future__ import annotations

from typing import Any

import pytest
from judging import finding, report

from checker import Verdict
from checker.units.units import unit

BORE = "4.060 in"
HEAD_BOLT = {"thread_standard": "inch", "thread_diameter": "0.4375 in", "thread_pitch": "0.0714 in"}


def verdict(use: str, rule: str, readings: dict[str, Any], station: int = 1, **sections: Any) -> Verdict:
    return finding(report(use, readings, **sections), rule, station).verdict


@pytest.mark.parametrize("station", range(1, 6))
def test_mains_a_little_over_a_thou_an_inch_are_good(station: int) -> None:
    clearances = ["0.0025 in", "0.0026 in", "0.0027 in", "0.0026 in", "0.0025 in"]
    readings = {"main_journal_diameter": ["2.249 in"] * 5, "main_oil_clearance": clearances}
    assert verdict("street-performance", "main-oil-clearance", readings, station) is Verdict.WITHIN


@pytest.mark.parametrize("clearance", ["0.0021 in", "0.0022 in", "0.0023 in"])
def test_rods_at_a_thou_an_inch_are_good(clearance: str) -> None:
    readings = {"rod_journal_diameter": "2.124 in", "rod_oil_clearance": clearance}
    assert verdict("street-performance", "rod-oil-clearance", readings) is Verdict.WITHIN


@pytest.mark.parametrize("stretch", ["0.0040 in", "0.0045 in"])
def test_rod_bolts_stretched_four_thou_hold(stretch: str) -> None:
    """Stock bolts; for those of a performance engine more is usual, which is advice and not a must."""
    assert verdict("street", "rod-bolt-stretch", {"rod_bolt_stretch": stretch}) is Verdict.WITHIN
    assert verdict("street-performance", "rod-bolt-stretch", {"rod_bolt_stretch": stretch}) is Verdict.ADVISORY


GAPLESS = {
    "cylinder_bore": BORE,
    "top_ring_gap": "0.030 in",
    "second_ring_gap": "0.025 in",
    "top_ring_gap_angle": "90 deg",
    "gapless_rail_gap_angle": "270 deg",
}
DESIGNS = {"top_ring_design": "gapless", "second_ring_design": "plain", "piston_alloy": "4032"}


@pytest.mark.parametrize(
    ("shot", "rule", "expected"),
    [
        ("", "top-ring-gap", Verdict.ADVISORY),
        ("500 hp", "top-ring-gap", Verdict.WITHIN),
        ("", "second-ring-gap", Verdict.WITHIN),
        ("", "second-over-top", Verdict.NOT_APPLICABLE),
        ("500 hp", "second-over-top", Verdict.NOT_APPLICABLE),
        ("", "gapless-ring-pieces", Verdict.WITHIN),
    ],
)
def test_a_gapless_top_ring_gapped_wide_for_rough_use_is_accepted(shot: str, rule: str, expected: Verdict) -> None:
    """On purpose wider than the street wants, and than the second, whose rule is then set aside."""
    facts = DESIGNS | ({"nitrous_power": shot, "number_of_cylinders": "8"} if shot else {})
    found = report("street-performance", GAPLESS, packs=("nitrous",) if shot else ("four-stroke",), facts=facts)
    assert finding(found, rule).verdict is expected


def test_a_centreline_of_109_with_lobes_114_apart_is_5_degrees_advanced() -> None:
    readings = {"lobe_separation": "114 deg", "intake_centreline_card": "114 ATDC", "intake_centreline": "109 ATDC"}
    made = finding(report("street-performance", readings), "cam-timing-error")
    assert unit("deg").from_si(made.value) == pytest.approx(-5)
    assert "The cam is 5" in made.remedy
    as_ground = {**readings, "intake_centreline_card": "109 ATDC"}
    assert verdict("street-performance", "cam-timing-error", as_ground) is Verdict.WITHIN


def test_a_lift_of_0_579_with_rockers_of_1_6_comes_from_a_lobe_of_0_3619() -> None:
    readings = {"lobe_lift": "0.3619 in", "rocker_ratio": "1.6", "valve_lift": "0.579 in"}
    made = finding(report("street-performance", readings), "rocker-ratio")
    assert made.verdict is Verdict.WITHIN
    assert made.value == pytest.approx(1, abs=2e-4)


def test_a_ratio_of_9_76_runs_on_pump_petrol() -> None:
    """By a knock-controlled spark; the old table for a fixed curve asks for one octane number more."""
    readings = {"compression_ratio": "9.76:1", "fuel_octane": "98.0"}
    for control, expected in (("knock controlled", Verdict.WITHIN), ("fixed curve", Verdict.ADVISORY)):
        facts = {"fuel": "petrol", "spark_control": control}
        assert verdict("street-performance", "octane-for-compression", readings, facts=facts) is expected


@pytest.mark.parametrize(("deck", "expected"), [("0.013 in", Verdict.WITHIN), ("0 in", Verdict.OUTSIDE)])
def test_a_steel_gasket_of_0_027_wants_the_pistons_in_the_hole(deck: str, expected: Verdict) -> None:
    readings = {"head_gasket_thickness": "0.027 in", "deck_clearance": deck, "maximum_engine_speed": "6000 rpm"}
    facts = {"fuel": "petrol", "rod_material": "steel", "head_gasket_kind": "multi-layer steel"}
    assert verdict("street-performance", "quench", readings, facts=facts) is expected


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        (["40 lb-ft", "55 lb-ft", "70 lb-ft"], Verdict.WITHIN),
        (["40 lb-ft", "70 lb-ft"], Verdict.ADVISORY),
        (["55 lb-ft", "40 lb-ft", "70 lb-ft"], Verdict.ADVISORY),
    ],
)
def test_head_bolts_come_to_70_in_three_steps(steps: list[str], expected: Verdict) -> None:
    readings = {"fastener_torque_steps": {"1": steps}}
    assert verdict("street-performance", "torque-steps-rise", readings) is expected


@pytest.mark.parametrize(("washer", "expected"), [("0.120 in", Verdict.OUTSIDE), ("0 in", Verdict.ADVISORY)])
def test_washers_left_out_keep_the_thread_engaged(washer: str, expected: Verdict) -> None:
    lengths = {"under_head_length": "3.000 in", "grip_length": "2.420 in", "washer_thickness": washer}
    facts = {"thread_parent": "cast iron"}
    assert verdict("street-performance", "thread-engagement", {**HEAD_BOLT, **lengths}, facts=facts) is expected


@pytest.mark.parametrize(("torque", "expected"), [("140 lb-in", Verdict.WITHIN), ("140 lb-ft", Verdict.OUTSIDE)])
def test_the_intake_top_wants_140_inch_pounds(torque: str, expected: Verdict) -> None:
    screw = {"thread_standard": "inch", "thread_diameter": "0.3125 in", "thread_pitch": "0.0556 in"}
    readings = {**screw, "fastener_torque": torque}
    facts = {"fastener_grade": "SAE 5", "fastener_lubricant": "dry"}
    assert verdict("street-performance", "fastener-preload", readings, facts=facts) is expected


def test_373_8_hp_at_6000_is_327_2_lb_ft() -> None:
    readings = {"recorded_power": "373.8 hp", "recorded_engine_speed": "6000 rpm", "recorded_torque": "327.2 lb-ft"}
    made = finding(report("street-performance", readings), "power-agrees")
    assert made.verdict is Verdict.WITHIN
    assert made.value == pytest.approx(1, abs=2e-4)


def test_the_nearest_limit_is_the_one_that_is_nearest() -> None:
    """Only the ceiling is recommended; what is required at the other end is nearer."""
    sizes = {"cylinder_bore": "4.0000 in", "piston_diameter": "3.9978 in"}
    facts = {"piston_alloy": "4032", "skirt_coating": "bare", "bore_surface": "iron"}
    found = finding(report("street", sizes, facts=facts), "piston-to-wall-clearance")
    assert found.verdict is Verdict.WITHIN
    assert found.margin == pytest.approx(0.0002 * 0.0254)


HEIGHTS = ("across_top", "along_top", "across_middle", "along_middle", "across_bottom", "along_bottom")


def test_the_bore_across_its_middle_is_the_bore_where_no_other_is_written_down() -> None:
    readings = {f"cylinder_bore_{height}": "4.0002 in" for height in HEIGHTS} | {"piston_diameter": "3.9972 in"}
    facts = {"piston_alloy": "4032", "skirt_coating": "bare", "bore_surface": "iron"}
    found = finding(report("street", readings, facts=facts), "piston-to-wall-clearance")
    assert (found.verdict, found.shown_value) == (Verdict.WITHIN, "0.0030 in")
    worn = finding(
        report("street", {**readings, "cylinder_bore": "4.0062 in"}, facts=facts), "piston-to-wall-clearance"
    )
    assert worn.verdict is not Verdict.WITHIN


@pytest.mark.parametrize(
    ("readings", "units"),
    [
        ({"oil_pressure": [26, 58], "oil_pressure_speed": [850, 3000]}, {"pressure": "psi", "rotational speed": "rpm"}),
        ({"fastener_torque": [60, 80]}, {"torque": "lb-ft"}),
        ({"main_oil_clearance": [0.038, 0.038, 0.051, 0.038, 0.038]}, {"length": "mm"}),
        ({"top_ring_gap": ["0.0190", "0.0190", "0.0190", "0.0200", "0.0190", "0.0190"]}, {"length": "in"}),
        ({"cranking_pressure": [160, 160, 160, 160, 160, 167]}, {"pressure": "psi"}),
    ],
)
def test_what_differs_by_nature_or_by_a_step_of_its_gauge_is_no_slip(
    readings: dict[str, Any], units: dict[str, str]
) -> None:
    """58 psi at 3000/min is no 58 inHg, 80 lb-ft on the heads no 80 N m, and 0.051 mm the next mark of a strip.

    A blade of 20 thou goes in where the one of 19 does elsewhere, and a gauge of pressures is read to a few psi.
    """
    stations = {"oil-pressure-point": 2, "fastener": 2, "main": 5, "cylinder": 6}
    assert report("street", readings, units=units, stations=stations).flags == ()


def test_a_bore_finished_sixty_over_is_not_over_sixty() -> None:
    sizes = {"cylinder_bore": ["4.0602 in"], "standard_bore": "4.000 in"}
    assert verdict("street", "overbore", sizes) is Verdict.ADVISORY
    assert verdict("street", "overbore", {**sizes, "cylinder_bore": ["4.0612 in"]}) is Verdict.OUTSIDE


LEFT = {
    "camshaft_state": "left in place",
    "rotating_assembly": "original sizes",
    "deck_work": "left as they were",
    "head_work": "left as they were",
    "valve_sizes": "original size",
    "valve_pockets": "none",
    "pin_fit": "pressed",
    "piston_pins": "left in the rods",
    "rods_state": "used",
    "rod_bolt_tightening": "torque",
}


@pytest.mark.parametrize(
    ("rule", "changed"),
    [
        ("piston-to-valve-intake", {"deck_work": "surfaced"}),
        ("piston-to-valve-exhaust", {"head_work": "surfaced"}),
        ("pressed-pin-in-piston", {"piston_pins": "out of the rods"}),
        ("rod-bolt-stretch", {"rods_state": "new"}),
    ],
)
def test_what_was_left_as_it_was_is_not_asked_for(rule: str, changed: dict[str, str]) -> None:
    assert verdict("street", rule, {}, facts=LEFT) is Verdict.NOT_ASKED
    assert verdict("street", rule, {}, facts={**LEFT, **changed}) is Verdict.NOT_MEASURED


BY_ITS_MARKS = {**LEFT, "camshaft_state": "put back by its marks"}


@pytest.mark.parametrize(
    "rule",
    [
        "cam-card-states-its-lift",
        "cam-card-adds-up",
        "lobe-separation-adds-up",
        "cam-timing-error",
        "coils-not-solid",
        "coil-bind-margin",
        "piston-to-valve-intake",
    ],
)
def test_the_engines_own_camshaft_put_back_by_its_marks_has_no_card(rule: str) -> None:
    """Heads with the cams on them come off with the chain: nobody who puts the same cams back degrees them."""
    assert verdict("factory-rebuild", rule, {}, facts=BY_ITS_MARKS) is Verdict.NOT_ASKED
    assert verdict("factory-rebuild", rule, {}, facts={**LEFT, "camshaft_state": "used"}) is not Verdict.NOT_ASKED


def test_what_wears_on_a_camshaft_put_back_is_measured_while_it_is_out() -> None:
    asked = report("factory-rebuild", {}, facts=BY_ITS_MARKS, stations={"cam-journal": 4, "valve": 12})
    for rule in ("cam-journal-roundness", "lobe-lift", "retainer-to-seal"):
        assert finding(asked, rule).verdict is Verdict.NOT_MEASURED


INJECTED = {"fuel": "petrol", "fuel_system": "port injection"}


@pytest.mark.parametrize("rule", ["injector-duty", "fuel-pump-margin"])
def test_an_engine_that_keeps_its_own_injection_is_asked_for_no_sizes(rule: str) -> None:
    own = {**INJECTED, "fuel_delivery": "as made"}
    assert verdict("factory-rebuild", rule, {}, facts=own) is Verdict.NOT_ASKED
    for facts in (INJECTED, {**own, "fuel_delivery": "others"}):
        assert verdict("factory-rebuild", rule, {}, facts=facts) is Verdict.NOT_MEASURED
    for pack in ("alcohol", "boosted", "nitrous"):
        asked = finding(report("street", {}, packs=("four-stroke", pack), facts=own), rule)
        assert asked.verdict is Verdict.NOT_MEASURED


@pytest.mark.parametrize(
    ("rule", "facts"),
    [
        (
            "flat-lifter-open-load",
            {"lifter_type": "solid flat", "camshaft_location": "block", "rocker_mounting": "shaft"},
        ),
        ("rocker-sweep", {"camshaft_location": "block", "rocker_mounting": "shaft"}),
    ],
)
def test_valve_gear_that_ran_together_and_cannot_be_set_is_not_asked_for(rule: str, facts: dict[str, str]) -> None:
    assert verdict("street", rule, {}, facts={**BY_ITS_MARKS, **facts}) is Verdict.NOT_ASKED
    assert verdict("street", rule, {}, facts={**facts, "camshaft_state": "used"}) is Verdict.NOT_MEASURED


@pytest.mark.parametrize("rule", ["piston-to-intake-valve-cam-advanced", "piston-to-exhaust-valve-cam-retarded"])
def test_a_moving_cam_that_was_put_back_meets_the_pistons_it_met_before(rule: str) -> None:
    facts = {**BY_ITS_MARKS, "cam_movement": "phaser", "rod_material": "steel"}
    assert verdict("street", rule, {}, facts=facts) is Verdict.NOT_ASKED
    assert verdict("street", rule, {}, facts={**facts, "head_work": "surfaced"}) is Verdict.NOT_MEASURED
    diesel = {"fuel": "diesel", "camshaft_state": "used"}
    assert verdict("diesel", rule, {}, facts=diesel) is Verdict.NOT_ASKED


def test_lobes_are_shown_good_by_their_lift_or_by_their_height() -> None:
    """The manuals of overhead cams print the height of a lobe and no lift, and a micrometer reads it."""
    facts = {"camshaft_state": "put back by its marks", "camshaft_location": "head"}
    heights = {"lobe_height": ["37.10 mm", "37.09 mm"], "new_lobe_height": ["37.11 mm", "37.11 mm"]}
    judged = report("street", heights, facts=facts, stations={"valve": 2})
    assert finding(judged, "lobe-height").verdict is Verdict.WITHIN
    assert finding(judged, "lobe-lift").verdict is Verdict.NOT_ASKED
    one = report("street", {name: {1: value[0]} for name, value in heights.items()}, facts=facts, stations={"valve": 2})
    assert finding(one, "lobe-lift", 2).verdict is Verdict.NOT_MEASURED
    worn = {**heights, "lobe_height": ["37.10 mm", "36.50 mm"]}
    assert (
        finding(report("street", worn, facts=facts, stations={"valve": 2}), "lobe-height", 2).verdict is Verdict.OUTSIDE
    )


def test_rockers_that_can_be_set_are_set_with_any_camshaft() -> None:
    facts = {**BY_ITS_MARKS, "camshaft_location": "block", "rocker_mounting": "stud"}
    assert verdict("street", "rocker-sweep", {}, facts=facts) is Verdict.NOT_MEASURED


def test_the_journals_of_a_used_overhead_camshaft_are_shown_good_by_their_clearance() -> None:
    """Factories state the clearance of journals that run in the head, and no roundness."""
    facts = {"camshaft_state": "used", "camshaft_location": "head"}
    measured = {"cam_oil_clearance": "0.0020 in"}
    assert verdict("street", "cam-journal-roundness", measured, facts=facts) is Verdict.NOT_ASKED
    assert verdict("street", "cam-journal-roundness", {}, facts=facts) is Verdict.NOT_MEASURED
    in_block = {**facts, "camshaft_location": "block"}
    assert verdict("street", "cam-journal-roundness", measured, facts=in_block) is Verdict.NOT_MEASURED


@pytest.mark.parametrize(
    ("rule", "facts"),
    [
        ("firing-order-complete", {"number_of_cylinders": "1"}),
        ("rod-mass-spread", {"rod_bolts": "none"}),
    ],
)
def test_what_the_engine_cannot_have_is_not_asked_for(rule: str, facts: dict[str, str]) -> None:
    """A single fires in one order only; the rods of a crank that is pressed together are on no scale."""
    assert verdict("street", rule, {}, facts=facts) is Verdict.NOT_ASKED
    assert verdict("street", rule, {}) is Verdict.NOT_MEASURED


def test_either_leak_down_or_cranking_pressure_shows_that_the_cylinders_seal() -> None:
    stations = {"cylinder": 2}
    leaked = report("street", {"leak_down": ["5 %", "6 %"]}, stations=stations)
    cranked = report("street", {"cranking_pressure": ["160 psi", "162 psi"]}, stations=stations)
    neither = report("street", {}, stations=stations)
    for rule in ("cranking-pressure-floor", "cranking-pressure-evenness"):
        assert finding(leaked, rule).verdict is Verdict.NOT_ASKED
        assert finding(neither, rule).verdict is Verdict.NOT_MEASURED
    assert finding(cranked, "leak-down").verdict is Verdict.NOT_ASKED
    assert finding(neither, "leak-down").verdict is Verdict.NOT_MEASURED
    one = report("street", {"leak_down": {1: "5 %"}}, stations=stations)
    assert finding(one, "cranking-pressure-floor", 2).verdict is Verdict.NOT_MEASURED
    assert finding(one, "cranking-pressure-evenness").verdict is Verdict.NOT_MEASURED


@pytest.mark.parametrize(
    ("rules", "facts"),
    [
        (["rod-bend", "rod-twist"], {"rods_state": "reconditioned"}),
        (["pickup-to-pan"], {}),
        (["piston-mass-spread", "rod-mass-spread"], {"rods_state": "used"}),
        (["parts-at-one-temperature"], {}),
    ],
)
def test_a_look_serves_where_no_shop_writes_down_a_figure(rules: list[str], facts: dict[str, str]) -> None:
    """Rods that were only resized are held to the fixture; a pickup that its maker placed is looked at.

    What goes back as it came out, or comes in one box, was weighed by its maker; all lay in one room overnight.
    """
    look = {"rule": rules, "station": "all", "by": "A. Bench", "dated": "2026-05-03", "clear": True}
    for rule in rules:
        assert verdict("street", rule, {}, facts=facts, seen=[look]) is Verdict.SEEN
        assert verdict("street", rule, {}, facts=facts) is Verdict.NOT_MEASURED


@pytest.mark.parametrize("written", ["14 tpi", "14 threads per inch", "0.0714286 in"])
def test_a_pitch_is_written_as_threads_per_inch(written: str) -> None:
    found = report("street", {"thread_pitch": written}, stations={"fastener": 1})
    (pitch,) = (reading for reading in found.readings if reading.characteristic == "thread_pitch")
    assert pitch.middle == pytest.approx(0.0254 / 14, rel=1e-6)


def test_threads_per_inch_are_no_diameter() -> None:
    found = report("street", {"main_journal_diameter": "14 tpi"}, stations={"main": 1})
    assert found.readings[0].set_aside


def test_alcohol_asks_for_pump_and_mixture_under_a_carburettor_too() -> None:
    """A pump that was enough for petrol is not: both are asked for always where alcohol burns (common practice)."""
    facts = {"fuel": "methanol", "fuel_system": "carburettor"}
    for rule in ("fuel-pump-margin", "lambda-full-throttle"):
        asked = finding(report("street", {}, packs=("four-stroke", "alcohol"), facts=facts), rule)
        assert (asked.verdict, asked.must_open) == (Verdict.NOT_MEASURED, True)
