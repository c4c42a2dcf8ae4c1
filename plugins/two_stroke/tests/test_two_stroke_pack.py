"""The pack, loaded through the entry point like any other."""

from __future__ import annotations

import re
from pathlib import Path

import checker
import pytest
from checker import Report, Rulebook, Verdict, gather, record_from_text, vet

from checker_two_stroke.functions import FUNCTIONS

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")

SOUND = """
record: 1
assembly: Training single
application: road-race
rule_packs: {two-stroke: ">=1,<2"}
stations: {cylinder: 1, exhaust-port: 1, transfer-port: 2}
facts: {cooling: liquid, bore_surface: plated, plating: sound, piston_make: cast, rings_on_piston: one,
        top_ring_design: plain, exhaust_port_layout: single, transfer_roofs: level, intake_kind: reed valve}
readings:
  stroke: 54 mm
  rod_length: 110 mm
  cylinder_bore: 54 mm
  piston_diameter: 53.96 mm
  maximum_power_speed: 10000 rpm
  maximum_engine_speed: 11000 rpm
  top_ring_gap: 0.22 mm
  top_ring_width: 0.8 mm
  top_ring_side_clearance: 0.06 mm
  top_ring_peg_angle: 180 deg
  exhaust_port_chord: 33 mm
  exhaust_port_centre: 0 deg
  exhaust_port_depth: 26 mm
  exhaust_port_floor_depth: 54 mm
  exhaust_side_skirt: 56 mm
  exhaust_open_area: 5.5 cm2
  transfer_port_chord: {all: 20 mm}
  transfer_port_centre: [80 deg, 280 deg]
  transfer_port_depth: [40 mm, 40 mm]
  transfer_open_area: 5.0 cm2
  squish_clearance: {1: [0.95 mm, 0.95 mm]}
  squish_bowl_diameter: 40 mm
  squish_bowl_volume: 9 cc
  head_volume: 10 cc
  spark_advance: 18 deg
"""

MOTOCROSS = """
record: 1
assembly: Training motocross single
application: motocross
rule_packs: {two-stroke: ">=1,<2"}
stations: {cylinder: 1, exhaust-port: 2, transfer-port: 4}
facts: {cooling: liquid, bore_surface: plated, plating: sound, piston_make: cast, rings_on_piston: one,
        top_ring_design: plain, exhaust_port_layout: bridged, transfer_roofs: level, intake_kind: reed valve}
readings:
  stroke: 54.5 mm
  rod_length: 105 mm
  cylinder_bore: 54.008 mm
  piston_diameter: 53.972 mm
  maximum_power_speed: 11000 rpm
  maximum_engine_speed: 12000 rpm
  top_ring_gap: 0.50 mm
  top_ring_width: 1.0 mm
  top_ring_side_clearance: 0.04 mm
  top_ring_peg_angle: 180 deg
  exhaust_port_chord: [21 mm, 21 mm]
  exhaust_port_centre: [-27 deg, 27 deg]
  exhaust_port_depth: [28.0 mm, 28.05 mm]
  exhaust_port_floor_depth: [54.5 mm, 54.5 mm]
  exhaust_port_corner_radius: {all: 6 mm}
  exhaust_side_skirt: 57 mm
  transfer_port_chord: [22 mm, 22 mm, 18 mm, 18 mm]
  transfer_port_centre: [80 deg, 280 deg, 130 deg, 230 deg]
  transfer_port_depth: [42.0 mm, 42.0 mm, 42.1 mm, 42.0 mm]
  transfer_port_floor_depth: {all: 54.5 mm}
  transfer_port_corner_radius: {all: 3 mm}
  squish_clearance: {1: [0.95 mm, 1.00 mm]}
  squish_bowl_diameter: 38 mm
  squish_bowl_volume: 9 cc
  head_volume: 10.0 cc
  spark_advance: 18 deg
"""
"""As such engines come from the factory, from memory; rings, piston and windows by the service tables beside."""

SCOOTER = """
record: 1
assembly: Training scooter 50
application: road
rule_packs: {two-stroke: ">=1,<2"}
stations: {cylinder: 1, exhaust-port: 1, transfer-port: 3}
facts: {cooling: air, bore_surface: iron, piston_make: cast, rings_on_piston: two,
        top_ring_design: plain, exhaust_port_layout: single, transfer_roofs: staggered, intake_kind: reed valve}
readings:
  stroke: 39.2 mm
  rod_length: 80 mm
  cylinder_bore: 40.00 mm
  piston_diameter: 39.96 mm
  maximum_power_speed: 6500 rpm
  maximum_engine_speed: 8000 rpm
  top_ring_gap: 0.22 mm
  second_ring_gap: 0.22 mm
  top_ring_width: 1.2 mm
  top_ring_side_clearance: 0.04 mm
  second_ring_side_clearance: 0.04 mm
  top_ring_peg_angle: 150 deg
  second_ring_peg_angle: 210 deg
  exhaust_port_chord: 22 mm
  exhaust_port_centre: 0 deg
  exhaust_port_depth: 23.6 mm
  exhaust_port_floor_depth: 39.2 mm
  exhaust_side_skirt: 42 mm
  transfer_port_chord: [14 mm, 14 mm, 10 mm]
  transfer_port_centre: [85 deg, 275 deg, 180 deg]
  transfer_port_depth: [30.5 mm, 30.5 mm, 31.0 mm]
  squish_clearance: {1: [1.1 mm, 1.15 mm]}
  squish_bowl_diameter: 28 mm
  squish_bowl_volume: 4.5 cc
  head_volume: 6.2 cc
  spark_advance: 17 deg
"""
"""The same, an air-cooled fifty in iron."""


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return checker.load_rulebook("two-stroke")


@pytest.fixture(scope="module")
def sound(rulebook: Rulebook) -> Report:
    return judged(rulebook)


def judged(rulebook: Rulebook, text: str = SOUND) -> Report:
    return rulebook.check(record_from_text(text))


def test_the_plugin_adds_its_pack_and_functions() -> None:
    plugins = gather()
    assert "two-stroke" in plugins.rule_packs
    assert set(FUNCTIONS) <= set(plugins.functions)


def test_every_case_holds_and_every_limit_is_guarded(rulebook: Rulebook) -> None:
    result = vet(rulebook)
    assert result.failures == ()
    assert result.unguarded == ()


def test_a_sound_engine_is_clear_to_proceed(rulebook: Rulebook) -> None:
    report = judged(rulebook)
    silent = {Verdict.WITHIN, Verdict.NOT_APPLICABLE}
    assert [str(finding) for finding in report.findings if finding.verdict not in silent] == []
    assert report.status == 0


@pytest.mark.parametrize(("engine", "advised"), [(MOTOCROSS, {"squish-velocity"}), (SCOOTER, {"trapped-compression"})])
def test_a_healthy_engine_of_another_kind_is_not_stopped(rulebook: Rulebook, engine: str, advised: set[str]) -> None:
    report = judged(rulebook, engine)
    assert {finding.name for finding in report.advisory} == advised
    assert (report.outside, report.undecided, report.not_measured) == ((), (), ())


def test_a_peg_over_the_exhaust_stops_the_build(rulebook: Rulebook) -> None:
    report = judged(rulebook, SOUND.replace("top_ring_peg_angle: 180 deg", "top_ring_peg_angle: 30 deg"))
    (finding,) = report.outside
    assert finding.name == "top-ring-ends-exhaust"
    assert report.status == 1


def test_a_low_roof_is_told_by_how_much(rulebook: Rulebook) -> None:
    """Inverse of the closed form: 190 degrees of 54 x 54, rod 110, need a roof 27.986 mm below the crown."""
    report = judged(rulebook, SOUND.replace("exhaust_port_depth: 26 mm", "exhaust_port_depth: 28.5 mm"))
    (finding,) = (finding for finding in report.advisory if finding.name == "exhaust-duration")
    assert finding.remedy.startswith("The roof stands 0.5141 mm low: base gaskets that much thicker lift it.")


@pytest.mark.parametrize("ruinous", ["hone", "bore the", "Bore it", "next oversize"])
@pytest.mark.parametrize("piston", ["53.999 mm", "53.70 mm"])
def test_no_remedy_ruins_a_plated_bore(rulebook: Rulebook, piston: str, ruinous: str) -> None:
    """Whatever is wrong with it: too tight or too loose, out of round, tapered, its ring gap wide."""
    text = SOUND.replace("piston_diameter: 53.96 mm", f"piston_diameter: {piston}\n  bore_out_of_round: 0.15 mm")
    text = text.replace("top_ring_gap: 0.22 mm", "top_ring_gap: 1.5 mm").replace("plating: sound", "plating: peeling")
    remedies = {finding.name: finding.remedy for finding in judged(rulebook, text).outside}
    assert set(remedies) >= {"piston-clearance-in-a-plated-bore", "plating-sound", "bore-roundness", "top-ring-gap"}
    for name, remedy in remedies.items():
        for clause in remedy.replace(":", ".").replace(";", ".").split("."):
            refused = any(word in clause for word in ("never", "neither", "nor ", "an iron bore"))
            assert ruinous not in clause or refused, f"{name}: {clause}"


@pytest.mark.parametrize("missing", ["bore_surface: plated, ", "piston_make: cast, "])
def test_what_decides_whether_a_piston_seizes_is_asked_for(rulebook: Rulebook, missing: str) -> None:
    report = judged(rulebook, SOUND.replace(missing, ""))
    fits = [finding for finding in report.findings if "clearance" in finding.name and "piston" in finding.name]
    assert Verdict.WITHIN not in {finding.verdict for finding in fits}


def test_a_port_may_be_measured_from_the_deck_and_a_width_along_the_bore(rulebook: Rulebook) -> None:
    """The same cylinder: 1 mm of deck, and an arc of 54 asin(33/54) = 35.50 mm."""
    text = SOUND.replace("exhaust_port_depth: 26 mm", "exhaust_port_below_deck: 26.5 mm\n  crown_below_deck: 0.5 mm")
    other = judged(rulebook, text.replace("exhaust_port_chord: 33 mm", "exhaust_port_arc: 35.50 mm"))
    assert other.status == 0
    values = {
        each: [finding.value for finding in report.findings if finding.name == "exhaust-window-width"]
        for each, report in (("chord", judged(rulebook)), ("arc", other))
    }
    assert values["arc"] == pytest.approx(values["chord"], rel=1e-3)


def test_roof_and_degree_wheel_that_disagree_count_for_nothing(rulebook: Rulebook) -> None:
    """26 mm of 54 x 54, rod 110, are 80.9 degrees: a wheel that shows 84 is set wrong, or the roof was measured so."""
    for wheel, verdict in (("81.5", Verdict.WITHIN), ("84", Verdict.NOT_MEASURED)):
        report = judged(rulebook, f"{SOUND}  exhaust_port_opening: {wheel} deg\n")
        (finding,) = (each for each in report.findings if each.name == "exhaust-duration")
        assert finding.verdict is verdict


def test_a_reading_with_an_instrument_is_decided_by_the_crank_too(rulebook: Rulebook) -> None:
    """A roof good to 0.1 mm is 198.2 degrees within 190 and 202 by a margin of 1.8 mm; one good to 3 mm is not."""
    for uncertainty, verdict in (("0.1", Verdict.WITHIN), ("3.0", Verdict.UNDECIDED)):
        gauge = f"instruments: {{gauge: {{title: Depth gauge, expanded_uncertainty: {uncertainty} mm}}}}\n"
        text = SOUND.replace("readings:", f"{gauge}readings:").replace(
            "exhaust_port_depth: 26 mm", "exhaust_port_depth: {value: 26 mm, with: gauge}"
        )
        (finding,) = (each for each in judged(rulebook, text).findings if each.name == "exhaust-duration")
        assert finding.verdict is verdict


def test_a_shop_states_the_time_area_it_wants_as_a_sheet(rulebook: Rulebook) -> None:
    """No published figure could be read for the blowdown; a shop has its own."""
    text = SOUND.replace("  exhaust_open_area: 5.5 cm2\n", "  exhaust_port_corner_radius: 5 mm\n")
    sheet = "part_limits: {blowdown_time_area: {at_least: %s s/m, source: our best engine}}\n"
    verdicts = [
        finding.verdict
        for least in ("0.0009", "0.0020")
        for finding in judged(rulebook, text + sheet % least).findings
        if "lowdown" in finding.title and "time-area" in finding.title
    ]
    assert verdicts == [Verdict.WITHIN, Verdict.OUTSIDE]


@pytest.mark.parametrize(
    "name", [line.split(":")[0].strip() for line in SOUND.partition("readings:\n")[2].splitlines()]
)
def test_nothing_unmeasured_passes(rulebook: Rulebook, sound: Report, name: str) -> None:
    lines = [line for line in SOUND.splitlines() if not line.startswith(f"  {name}:")]
    after = judged(rulebook, "\n".join(lines))
    were = {(finding.name, finding.station): finding.verdict for finding in sound.findings}
    for finding in after.findings:
        assert finding.verdict is not Verdict.WITHIN or were[finding.name, finding.station] is Verdict.WITHIN
    if name != "piston_diameter":  # the bore's roundness still asks for nothing of it
        assert after.counts[Verdict.WITHIN] < sound.counts[Verdict.WITHIN]


def test_the_readme_names_every_function(rulebook: Rulebook) -> None:
    assert set(re.findall(r"^\| `([a-z_]+)\(", README, re.MULTILINE)) == set(FUNCTIONS)
