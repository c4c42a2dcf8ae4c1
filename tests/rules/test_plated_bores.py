"""A plated bore is never honed or bored: under the plating, a few thou thick, is soft aluminium (common practice).

Said of every remedy about a bore, whether its surface is stated or not: what cuts names iron, and a plated one is
plated anew or gets another piston. A fit that only an iron bore bears is not all within while no surface is stated.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from judging import finding, report, rulebook

from checker import Report, Verdict

PACKS = (("four-stroke",), ("four-stroke", "boosted"), ("four-stroke", "nitrous"), ("four-stroke", "alcohol"))
OF_THE_BORE = re.compile("cylinder_bore|bore_|piston_to_wall|thrust_wall|other_wall|widest_bore|crosshatch")
CUTTING = re.compile(
    r"\b(hone[ds]?|bored|bore to|bore and hone|rebored?|sleeved?|stone|oversize|plateau|recut)\b", re.IGNORECASE
)
SPARING = re.compile(r"\b(iron|never)\b")
BORES = {
    "cylinder_bore": "4.0600 in",
    "standard_bore": "4.0000 in",
    "bore_when_finished": "4.0500 in",
    "bore_before_boring": "4.0000 in",
}
HEIGHTS = ("across_top", "across_middle", "across_bottom", "along_top", "along_middle", "along_bottom")
WORN = {f"cylinder_bore_{height}": f"{4.0600 + number * 0.001:.4f} in" for number, height in enumerate(HEIGHTS)}
MISSED: dict[str, dict[str, Any]] = {
    "piston-to-wall-clearance low": {"piston_to_wall_clearance": "0.0001 in"},
    "piston-to-wall-clearance high": {"piston_to_wall_clearance": "0.0120 in"},
    "coated-piston-to-wall-clearance low": {"piston_to_wall_clearance": "-0.0040 in", "skirt_coating": "coated"},
    "coated-piston-to-wall-clearance high": {"piston_to_wall_clearance": "0.0120 in", "skirt_coating": "coated"},
    "bore-roundness high": WORN,
    "bore-taper high": WORN,
    "bore-wear high": WORN,
    "overbore high": {"cylinder_bore": "4.0700 in"},
    "thrust-wall-thickness low": {"thrust_wall_before_boring": "0.1200 in"},
    "other-wall-thickness low": {"other_wall_before_boring": "0.1000 in"},
    "bore-roughness low": {"bore_roughness": "5 uin"},
    "bore-roughness high": {"bore_roughness": "60 uin"},
    "bore-peaks high": {"bore_peaks": "30 uin"},
    "bore-core low": {"bore_core": "10 uin"},
    "bore-core high": {"bore_core": "90 uin"},
    "bore-valleys low": {"bore_valleys": "20 uin"},
    "crosshatch low": {"crosshatch_angle": "20 deg"},
    "crosshatch high": {"crosshatch_angle": "75 deg"},
}
"""What misses one limit that touches the bore, by rule and side."""
CUT = {name for name in MISSED if "overbore" not in name and "clearance high" not in name}
"""Those of an iron bore are brought right by a stone or a boring bar, whatever else would do."""


def clauses(remedy: str) -> list[str]:
    return re.split(r"[.:;] ", remedy)


def ruins(remedy: str) -> list[str]:
    """What of a remedy would cut a plated bore."""
    return [clause for clause in clauses(remedy) if CUTTING.search(clause) and not SPARING.search(clause)]


def bores(surface: str | None, missed: str, use: str = "street-performance") -> Report:
    facts = {"piston_alloy": "4032"} | ({"bore_surface": surface} if surface else {})
    return report(use, {**facts, **BORES, **MISSED[missed]})


def told(found: Report) -> Iterator[tuple[str, Verdict, str]]:
    """Rule, verdict and remedy of everything about a bore that is missed."""
    for made in (*found.outside, *found.advisory):
        names = found.context.inputs(made.name).names
        if any(OF_THE_BORE.match(name) for name in names):
            yield made.name, made.verdict, made.remedy


@pytest.mark.parametrize("surface", ["plated", None])
@pytest.mark.parametrize("missed", MISSED)
def test_no_plated_bore_is_told_to_be_cut(missed: str, surface: str | None) -> None:
    remedies = {name: remedy for name, _, remedy in told(bores(surface, missed))}
    assert remedies
    assert not [(name, remedy) for name, remedy in remedies.items() if ruins(remedy)]


@pytest.mark.parametrize("packs", PACKS, ids=lambda packs: packs[-1])
def test_no_remedy_about_a_bore_cuts_a_plated_one(packs: tuple[str, ...]) -> None:
    book = rulebook(*packs)
    words = {
        (name, side): "".join(part if isinstance(part, str) else "#" for part in phrase.parts)
        for name, rule in book.rules.items()
        for side, phrase in rule.remedy.items()
        if any(OF_THE_BORE.match(column.name) for column in rule.judges.columns)
    }
    assert len(words) >= len(MISSED)
    assert not {where: remedy for where, remedy in words.items() if ruins(remedy)}


@pytest.mark.parametrize("missed", sorted(CUT))
def test_an_iron_bore_is(missed: str) -> None:
    rule, side = missed.split()
    made = finding(bores("iron", missed), rule)
    assert (made.verdict, made.side) in {(Verdict.OUTSIDE, side), (Verdict.ADVISORY, side)}
    words = made.rule.remedy[side].parts
    assert CUTTING.search("".join(part for part in words if isinstance(part, str)))


def test_a_tight_plated_bore_gets_a_smaller_piston() -> None:
    made = finding(bores("plated", "piston-to-wall-clearance low"), "piston-clearance-in-a-plated-bore")
    assert made.verdict is Verdict.OUTSIDE
    assert "a piston of the next smaller grade" in made.remedy and "never honed or bored" in made.remedy


@pytest.mark.parametrize("rule", ["bore-roundness", "bore-taper", "bore-wear"])
def test_a_worn_plated_bore_is_plated_anew(rule: str) -> None:
    made = finding(bores("plated", f"{rule} high"), rule)
    assert made.verdict is Verdict.OUTSIDE and "plated anew" in made.remedy


LOOSE = {
    "marine": {"piston_alloy": "2618", "piston_to_wall_clearance": "0.0067 in"},
    "street": {"piston_alloy": "cast", "piston_to_wall_clearance": "0.0055 in", "engine_cooling": "air"},
}
"""Within in iron and too loose in a plated bore of 4.000 in, by use."""


@pytest.mark.parametrize("use", LOOSE)
def test_a_fit_that_only_iron_bears_asks_for_the_surface(use: str) -> None:
    def judged(**facts: str) -> dict[str, tuple[Verdict, list[str]]]:
        found = report(use, {"cylinder_bore": "4.000 in", "skirt_coating": "bare", **LOOSE[use], **facts})
        rules = ("piston-to-wall-clearance", "piston-clearance-in-a-plated-bore")
        made = [finding(found, rule) for rule in rules]
        return {each.name: (each.verdict, [gap.characteristic for gap in each.missing]) for each in made}

    iron, plated = "piston-to-wall-clearance", "piston-clearance-in-a-plated-bore"
    assert judged()[plated] == (Verdict.NOT_MEASURED, ["bore_surface"])
    assert judged(bore_surface="plated")[plated] == (Verdict.OUTSIDE, [])
    assert judged(bore_surface="iron") == {iron: (Verdict.WITHIN, []), plated: (Verdict.NOT_APPLICABLE, [])}


@pytest.mark.parametrize("clearance", ["0.0015 in", "0.0036 in"])
def test_a_fit_that_either_bears_asks_for_nothing(clearance: str) -> None:
    readings = {"cylinder_bore": "4.000 in", "piston_alloy": "4032", "piston_to_wall_clearance": clearance}
    found = report("street-performance", readings)
    assert finding(found, "piston-clearance-in-a-plated-bore").verdict is Verdict.NOT_APPLICABLE
