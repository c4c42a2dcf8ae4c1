"""The pack, loaded through the entry point like any other."""

from __future__ import annotations

from pathlib import Path

import checker
import pytest
from checker.documents.document import parse_yaml
from checker.judging.judge import Verdict
from checker.plugins import gather
from checker.records.record import record_in
from checker.reports.report import Report
from checker.rulebook import Rulebook
from checker.vetting.vetting import vet

README = Path(__file__).parents[1] / "README.md"

SOUND = """
record: 1
assembly: Training single
application: road-race
rule_packs: {two-stroke: ">=1,<2"}
stations: {cylinder: 1, exhaust-port: 1, transfer-port: 2}
facts: {cooling: liquid, rings_on_piston: one, top_ring_design: plain, exhaust_port_layout: single,
        transfer_roofs: level, intake_kind: reed valve}
readings:
  stroke: 54 mm
  rod_length: 110 mm
  cylinder_bore: 54 mm
  piston_diameter: 53.92 mm
  maximum_power_speed: 10000 rpm
  maximum_engine_speed: 11000 rpm
  top_ring_gap: 0.22 mm
  top_ring_width: 0.8 mm
  top_ring_side_clearance: 0.06 mm
  top_ring_peg_angle: 180 deg
  exhaust_port_chord: 33 mm
  exhaust_port_centre: 0 deg
  exhaust_port_depth: 26 mm
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


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return checker.load_rulebook("two-stroke")


def judged(rulebook: Rulebook, text: str = SOUND) -> Report:
    return rulebook.check(record_in(parse_yaml(text.encode(), "record.yaml")))


def test_the_plugin_adds_its_pack_and_functions() -> None:
    plugins = gather()
    assert "two-stroke" in plugins.rule_packs
    assert {"port_opening_angle", "piston_travel", "greatest_squish_velocity"} <= set(plugins.functions)


def test_every_case_holds_and_every_limit_is_guarded(rulebook: Rulebook) -> None:
    result = vet(rulebook)
    assert result.failures == ()
    assert result.unguarded == ()


def test_a_sound_engine_has_nothing_open_but_what_no_figure_is_known_for(rulebook: Rulebook) -> None:
    report = judged(rulebook)
    silent = {Verdict.WITHIN, Verdict.NOT_APPLICABLE}
    assert [str(finding) for finding in report.findings if finding.verdict not in silent] == [
        "Mean piston speed: 3898 ft/min not covered"
    ]


def test_a_peg_over_the_exhaust_stops_the_build(rulebook: Rulebook) -> None:
    report = judged(rulebook, SOUND.replace("top_ring_peg_angle: 180 deg", "top_ring_peg_angle: 30 deg"))
    (finding,) = report.outside
    assert finding.name == "top-ring-ends-exhaust"
    assert report.status == 1


def test_a_low_roof_is_told_by_how_much(rulebook: Rulebook) -> None:
    """Inverse of the closed form: 190 degrees of 54 x 54, rod 110, need a roof 27.986 mm below the crown."""
    report = judged(rulebook, SOUND.replace("exhaust_port_depth: 26 mm", "exhaust_port_depth: 28.5 mm"))
    (finding,) = (finding for finding in report.advisory if finding.name == "exhaust-duration")
    assert finding.remedy == "Raise the roof 0.5141 mm."


@pytest.mark.parametrize(
    "name", [line.split(":")[0].strip() for line in SOUND.partition("readings:\n")[2].splitlines()]
)
def test_nothing_unmeasured_passes(rulebook: Rulebook, name: str) -> None:
    lines = [line for line in SOUND.splitlines() if not line.startswith(f"  {name}:")]
    before, after = judged(rulebook), judged(rulebook, "\n".join(lines))
    were = {(finding.name, finding.station): finding.verdict for finding in before.findings}
    for finding in after.findings:
        assert finding.verdict is not Verdict.WITHIN or were[finding.name, finding.station] is Verdict.WITHIN
    assert after.counts[Verdict.WITHIN] < before.counts[Verdict.WITHIN]


def test_the_readme_record_is_judged(rulebook: Rulebook) -> None:
    text = README.read_text().partition("```yaml\n")[2].partition("```")[0]
    report = judged(rulebook, text)
    assert report.counts[Verdict.OUTSIDE] == 0
    assert report.counts[Verdict.WITHIN] > 0
    assert report.status == 3
