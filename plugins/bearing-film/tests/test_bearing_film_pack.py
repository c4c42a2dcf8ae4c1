"""The pack, loaded through the entry point like any other, and what the README shows."""

from __future__ import annotations

from pathlib import Path

import checker
import pytest
from checker import Finding, Report, Rulebook, Verdict, gather, vet

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
RECORD = README.partition("```yaml engine.yaml\n")[2].partition("```")[0]
OURS = {
    f"{where}-{rule}"
    for where in ("rod", "main")
    for rule in ("film", "clearance-for-oil", "oil-leaving", "film-temperature")
}


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return checker.load_rulebook("four-stroke", "bearing-film")


def judged(rulebook: Rulebook, text: str = RECORD) -> Report:
    return rulebook.check(checker.record_from_text(text))


def found(report: Report, rule: str, station: int) -> Finding:
    (one,) = (each for each in report.findings if each.name == rule and each.station == station - 1)
    return one


def test_the_plugin_adds_its_pack_and_functions() -> None:
    plugins = gather()
    assert "bearing-film" in plugins.rule_packs
    assert {"least_film", "eccentricity_ratio", "film_friction", "kinematic_viscosity"} <= set(plugins.functions)


def test_every_case_holds_and_every_limit_is_guarded(rulebook: Rulebook) -> None:
    result = vet(rulebook, ["bearing-film"])
    assert result.failures == ()
    assert result.unguarded == ()


@pytest.mark.parametrize(
    "name",
    [
        "rod_journal_diameter",
        "rod_bearing_bore",
        "rod_bearing_width",
        "rod_bearing_load",
        "film_speed",
        "bearing_oil_temperature",
    ],
)
def test_nothing_unmeasured_passes(rulebook: Rulebook, name: str) -> None:
    lines = [line for line in RECORD.splitlines() if not line.startswith(f"  {name}:")]
    verdicts = {each.verdict for each in judged(rulebook, "\n".join(lines)).findings if each.name in OURS}
    assert Verdict.WITHIN not in verdicts


def test_a_film_that_the_gauge_cannot_tell_from_the_limit_is_undecided(rulebook: Rulebook) -> None:
    """Under 12,000 lbf the film of rod 1 is some 45 uin; a gauge good to 0.8 thou may be off by more."""
    near = RECORD.replace("2500 lbf", "12000 lbf")
    sharp = found(judged(rulebook, near), "rod-film", 1)
    worse = near.replace("expanded_uncertainty: 0.2 thou", "expanded_uncertainty: 0.8 thou")
    blunt = found(judged(rulebook, worse), "rod-film", 1)
    assert (sharp.verdict, blunt.verdict) == (Verdict.WITHIN, Verdict.UNDECIDED)


def test_a_journal_wider_than_the_table_is_not_covered(rulebook: Rulebook) -> None:
    report = judged(rulebook, RECORD.replace("rod_bearing_width: 0.84 in", "rod_bearing_width: 3.5 in"))
    assert found(report, "rod-film", 1).verdict is Verdict.NOT_COVERED
