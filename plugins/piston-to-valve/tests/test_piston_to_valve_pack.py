"""The pack, loaded through the entry point like any other, and what the README shows."""

from __future__ import annotations

from pathlib import Path

import checker
import pytest
from checker import Finding, Rulebook, Verdict, gather, vet

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
RECORD = README.partition("```yaml engine.yaml\n")[2].partition("```")[0]
TABLE, CAM = "intake-piston-to-valve-as-planned", "exhaust-piston-to-valve-by-the-cam"


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return checker.load_rulebook("four-stroke", "piston-to-valve")


def found(rulebook: Rulebook, rule: str, text: str = RECORD, station: int = 1) -> Finding:
    report = rulebook.check(checker.record_from_text(text))
    (one,) = (each for each in report.findings if each.name == rule and each.station == station - 1)
    return one


def test_the_plugin_adds_its_pack_and_functions() -> None:
    plugins = gather()
    assert "piston-to-valve" in plugins.rule_packs
    assert {"piston_drop", "least_piston_to_valve", "angle_of_least_drop_over_lift"} <= set(plugins.functions)


def test_every_case_holds_and_every_limit_is_guarded(rulebook: Rulebook) -> None:
    result = vet(rulebook, ["piston-to-valve"])
    assert result.failures == ()
    assert result.unguarded == ()


@pytest.mark.parametrize("name", ["intake_valve_drop_15_before", "intake_lobe_lift_5_after", "rocker_ratio"])
def test_a_table_with_a_hole_does_not_pass(rulebook: Rulebook, name: str) -> None:
    lines = [line for line in RECORD.splitlines() if not line.startswith(f"  {name}:")]
    assert found(rulebook, TABLE).verdict is Verdict.WITHIN
    assert found(rulebook, TABLE, "\n".join(lines)).verdict is Verdict.NOT_MEASURED


def test_a_least_that_the_dial_cannot_tell_from_the_limit_is_undecided(rulebook: Rulebook) -> None:
    """The table leaves 0.119 in where 0.080 are asked; readings good to 40 thou may be off by more."""
    blunt = RECORD.replace("expanded_uncertainty: 1 thou", "expanded_uncertainty: 40 thou")
    assert found(rulebook, TABLE, blunt).verdict is Verdict.UNDECIDED


def test_advance_and_gasket_move_the_verdict_with_the_least(rulebook: Rulebook) -> None:
    thin = RECORD.replace("  planned_cam_advance: 2 deg", "  planned_gasket_change: -0.060 in")
    assert found(rulebook, TABLE, thin).verdict is Verdict.OUTSIDE
    assert found(rulebook, CAM, station=2).verdict is Verdict.ADVISORY
    advanced = RECORD.replace("planned_cam_advance: 2 deg", "planned_cam_advance: 8 deg")
    assert found(rulebook, CAM, advanced, station=2).verdict is Verdict.WITHIN
