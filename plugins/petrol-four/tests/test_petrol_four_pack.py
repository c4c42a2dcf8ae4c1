"""The pack holds what the table prints: new is within, worn is no more than advised against, beyond is outside."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import NamedTuple

import checker
import pytest
from checker import Record, Rulebook, Verdict, gather, record_from_text, vet

README = Path(__file__).parents[1] / "README.md"
PACK, USE, UNIT = "petrol-four", "family-car", "mm"
FACTS = (
    "pin_fit: pressed, camshaft_retention: thrust plate, rod_material: steel, fuel: petrol, top_ring_design: plain, "
    "nominal_main_journal: 55 mm, cylinder_bore: 81.01 mm"
)

# Rule, characteristic, new least and most, worn least and most, copied from
# a factory service table of a car four, 81 mm bore, 1994; a clearance of 0.048 mm is that of the third main.
TABLE = """
main-oil-clearance,main_oil_clearance,0.024,0.042,,
main-journal-taper,main_journal_taper,0,0.005,,0.01
main-journal-runout,main_journal_runout,0,0.03,,0.04
crankshaft-end-play,crankshaft_end_play,0.1,0.35,,0.45
rod-side-clearance,rod_side_clearance,0.15,0.3,,
piston-to-wall-clearance,piston_to_wall_clearance,0.01,0.04,,0.05
top-ring-gap,top_ring_gap,0.2,0.35,,0.6
second-ring-gap,second_ring_gap,0.4,0.55,,0.7
top-ring-side-clearance,top_ring_side_clearance,0.045,0.07,,0.13
second-ring-side-clearance,second_ring_side_clearance,0.04,0.07,,0.13
cam-oil-clearance,cam_oil_clearance,0.03,0.069,,0.15
camshaft-end-play,camshaft_end_play,0.05,0.15,,0.5
intake-guide-clearance,intake_guide_clearance,0.02,0.05,,0.08
exhaust-guide-clearance,exhaust_guide_clearance,0.05,0.08,,0.11
intake-seat-width,intake_seat_width,1.25,1.55,,2
exhaust-seat-width,exhaust_seat_width,1.25,1.55,,2
main-journal-roundness,main_journal_out_of_round,0,0.005,,0.01
camshaft-straightness,camshaft_runout,0,0.03,,0.04
pressed-pin-in-piston,pin_to_piston_clearance,0.01,0.022,,
pressed-pin-in-rod,pin_to_rod_clearance,-0.032,-0.013,,
intake-stem-size,intake_stem_diameter,6.58,6.59,6.55,
exhaust-stem-size,exhaust_stem_diameter,6.55,6.56,6.52,
intake-guide-size,intake_guide_bore,6.61,6.63,,6.65
exhaust-guide-size,exhaust_guide_bore,6.61,6.63,,6.65
upper-rail-gap,oil_rail_gap_upper,0.2,0.5,,0.7
lower-rail-gap,oil_rail_gap_lower,0.2,0.5,,0.7
bore-worn-to-a-taper,bore_taper_across,,,,0.05
"""


class Row(NamedTuple):
    """One line of the table; empty where it prints nothing."""

    rule: str
    characteristic: str
    new_least: str
    new_most: str
    worn_least: str
    worn_most: str


ROWS = [Row(*line.split(",")) for line in TABLE.split()]
BY_ROW = pytest.mark.parametrize("row", ROWS, ids=lambda row: row.rule)


@cache
def rulebook() -> Rulebook:
    return checker.load_rulebook(PACK)


def verdict(row: Row, value: str | Decimal) -> Verdict:
    text = f"record: 1\nassembly: One engine\napplication: {USE}\nrule_packs: {{{PACK}: '>=1,<2'}}\n"
    made = record_from_text(f"{text}facts: {{{FACTS}}}\nreadings: {{{row.characteristic}: {value} {UNIT}}}\n")
    return of(row.rule, made)


def of(rule: str, made: Record) -> Verdict:
    found = {judged.rule.name: judged.codes for judged in rulebook().check(made).judged}
    return Verdict(found[rule].flat[0])


def step(text: str) -> Decimal:
    """One in the last place of a figure, or less where that is more than a twentieth of it."""
    value = Decimal(text)
    last = Decimal(1).scaleb(int(value.as_tuple().exponent))
    return last if last <= abs(value) / 20 else last / 10


@BY_ROW
def test_new_is_within(row: Row) -> None:
    for value in filter(None, (row.new_least, row.new_most)):
        assert verdict(row, value) is Verdict.WITHIN


@BY_ROW
def test_below_what_is_new_where_nothing_wears_to_is_outside(row: Row) -> None:
    if row.new_least and Decimal(row.new_least) and not row.worn_least:
        assert verdict(row, Decimal(row.new_least) - step(row.new_least)) is Verdict.OUTSIDE


@BY_ROW
def test_worn_is_on_the_edge_and_beyond_is_outside(row: Row) -> None:
    for worn, sign in ((row.worn_least, -1), (row.worn_most, 1)):
        if worn:
            assert verdict(row, worn) in (Verdict.WITHIN, Verdict.ADVISORY)
            assert verdict(row, Decimal(worn) + sign * step(worn)) is Verdict.OUTSIDE


@BY_ROW
def test_between_new_and_worn_it_is_advised_against(row: Row) -> None:
    for new, worn in ((row.new_least, row.worn_least), (row.new_most, row.worn_most)):
        if new and worn:
            middle = (Decimal(new) + Decimal(worn)) / 2
            assert verdict(row, middle) is Verdict.ADVISORY


def test_beyond_new_without_a_limit_of_wear_is_advised_against() -> None:
    for row in ROWS:
        if row.rule in ("rod-side-clearance", "pressed-pin-in-piston"):
            assert verdict(row, Decimal(row.new_most) + Decimal("0.004")) is Verdict.ADVISORY


def physics(rule: object) -> set[str]:
    return {str(limit.written) for entry in rule.limits for limit in entry.limits if limit.band == "physics"}  # type: ignore[attr-defined]


def test_physics_stays() -> None:
    below = checker.load_rulebook("four-stroke")
    for name, rule in below.rules.items():
        assert physics(rulebook().rules[name].rule) == physics(rule.rule)
    assert not rulebook().layered.retired
    guide = Row("intake-guide-clearance", "intake_guide_clearance", "", "", "", "")
    assert verdict(guide, "-0.001") is Verdict.OUTSIDE


def test_every_line_of_the_pack_is_held_by_a_line_of_the_table() -> None:
    pack = rulebook().packs[-1]
    stated = {rule.name for rule in pack.rules} | {one.name for one in pack.amends if "limits" in one.changes}
    assert stated == {row.rule for row in ROWS}


def test_every_case_holds_and_every_limit_is_guarded() -> None:
    result = vet(rulebook(), [PACK])
    assert result.failures == ()
    assert result.unguarded == ()


def test_the_plugin_adds_its_pack_and_nothing_else() -> None:
    plugins = gather()
    assert [name for name, folder in plugins.rule_packs.items() if folder.parent.name == "checker_petrol_four"] == [
        PACK
    ]
    assert rulebook().chain(USE) == (USE, "street")


def test_the_readme_tells_how_its_record_is_judged() -> None:
    found = re.search(r"^```yaml engine.yaml\n(.*?)^```$", README.read_text(), re.MULTILINE | re.DOTALL)
    assert found
    made = record_from_text(found[1])
    for line in filter(lambda line: "#" in line, found[1].splitlines()):
        name, said = line.split(":")[0].strip(), line.rpartition(":")[2].strip()
        assert of(name.replace("_", "-"), made) is Verdict[said.upper()]
