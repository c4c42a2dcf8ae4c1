"""Small two-strokes as their factories print them: new is never outside, worn out is never within.

Service tables of the engines that `published.csv` names by kind and size, read in copies. Whether a fifty is plated,
and the bores marked so, are from memory.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import NamedTuple

import checker
from checker import Rulebook, Verdict, record_from_text

WITHIN, ADVISORY, OUTSIDE = Verdict.WITHIN, Verdict.ADVISORY, Verdict.OUTSIDE

RULES = {
    "piston_to_cylinder_clearance": {"piston-to-cylinder-clearance", "piston-clearance-in-a-plated-bore"},
    "top_ring_gap": {"top-ring-gap"},
    "second_ring_gap": {"second-ring-gap"},
    "top_ring_side_clearance": {"top-ring-side-clearance"},
    "second_ring_side_clearance": {"second-ring-side-clearance"},
    "big_end_side_clearance": {"big-end-side-clearance"},
    "crankshaft_runout": {"crankshaft-runout"},
    "bore_taper": {"bore-taper"},
    "bore_out_of_round": {"bore-roundness"},
}
BY_DESIGN = "personal watercraft, bore not printed (81 mm from memory): big_end_side_clearance"
"""Its rods are guided at the big end; what is worn out there is less than new where the small end guides them."""


class Row(NamedTuple):
    """One line of one engine's table; empty where it prints nothing."""

    engine: str
    use: str
    bore: str
    surface: str
    cooling: str
    what: str
    new_least: str
    new_most: str
    worn: str

    def __str__(self) -> str:
        return f"{self.engine}: {self.what}"

    @property
    def values(self) -> dict[str, float]:
        """What is tried, by what it is."""
        tried: dict[str, float] = {}
        if self.new_least:
            least, most = float(self.new_least), float(self.new_most)
            tried |= {"least": least, "most": most, "middle": (least + most) / 2, "fifth": least / 5}
        if self.worn:
            tried |= {"worn": float(self.worn) * 1.02, "twice": float(self.worn) * 2.5}
        return tried


ROWS = [
    Row(*line)
    for line in csv.reader(Path(__file__).with_name("published.csv").read_text(encoding="utf-8").splitlines()[1:])
]


@cache
def rulebook() -> Rulebook:
    return checker.load_rulebook("two-stroke")


@cache
def verdicts() -> dict[tuple[str, str], Verdict]:
    """The verdict on each value of each row, many cylinders to a record."""
    together = defaultdict(list)
    for row in ROWS:
        alone = row.engine if row.what == "crankshaft_runout" else ""
        together[row.use, row.surface, row.cooling, row.what, alone] += [(row, *each) for each in row.values.items()]
    found = {}
    for (use, surface, cooling, what, alone), cylinders in together.items():
        for some in [[each] for each in cylinders] if alone else [cylinders]:
            judged = judged_alike(use, surface, cooling, what, [(row.bore, value) for row, _, value in some])
            found |= {(str(row), name): verdict for (row, name, _), verdict in zip(some, judged, strict=True)}
    return found


def judged_alike(use: str, surface: str, cooling: str, what: str, cylinders: list[tuple[str, float]]) -> list[Verdict]:
    """The verdict of the rule that judges this, cylinder by cylinder."""
    values = [f"{value:.5f} mm" for _, value in cylinders]
    record = record_from_text(f"""
        record: 1
        assembly: Training engine
        application: {use}
        rule_packs: {{two-stroke: ">=1,<2"}}
        stations: {{cylinder: {len(cylinders)}}}
        facts: {{cooling: {cooling}, bore_surface: {surface}, piston_make: cast, rings_on_piston: two,
                 top_ring_design: plain}}
        readings:
          cylinder_bore: [{", ".join(f"{bore} mm" for bore, _ in cylinders)}]
          {what}: {values[0] if what == "crankshaft_runout" else f"[{', '.join(values)}]"}
    """)
    (of_it,) = (
        judged.codes[0]
        for judged in rulebook().check(record).judged
        if judged.rule.name in RULES[what] and Verdict(judged.codes.flat[0]) is not Verdict.NOT_APPLICABLE
    )
    return [Verdict(code) for code in of_it]


def found(name: str) -> dict[str, Verdict]:
    return {row: verdict for (row, tried), verdict in verdicts().items() if tried == name}


def test_nothing_new_is_outside() -> None:
    new = [*found("least").items(), *found("most").items()]
    assert len(new) > 50
    assert [row for row, verdict in new if verdict not in (WITHIN, ADVISORY)] == []


def test_the_middle_of_what_is_new_is_within_but_for_one_value_in_ten() -> None:
    """The one is an outboard whose pistons got more room in 1987 than any other engine of its size has."""
    middles = found("middle")
    advised = [row for row, verdict in middles.items() if verdict is not WITHIN]
    assert advised == ["outboard twin of 1987, bore not printed (62 mm from memory): piston_to_cylinder_clearance"]
    assert len(advised) < len(middles) / 10


def test_what_is_worn_out_is_advised_against_at_least_and_far_beyond_it_outside() -> None:
    assert {row for row, verdict in found("worn").items() if verdict not in (ADVISORY, OUTSIDE)} == {BY_DESIGN}
    beyond = {row: verdict for row, verdict in found("twice").items() if row != BY_DESIGN}
    # Ring gaps wear further on large bores than these tables let them: a fourth of those rows is advice.
    assert {row for row, verdict in beyond.items() if verdict is not OUTSIDE} <= {
        row for row in beyond if row.endswith("ring_gap")
    }
    assert sum(verdict is OUTSIDE for verdict in beyond.values()) >= len(beyond) - 2


def test_a_fifth_of_the_least_room_is_outside_or_advised_against() -> None:
    tight = {row: verdict for row, verdict in found("fifth").items() if "big_end" not in row}
    assert {row for row, verdict in tight.items() if verdict not in (OUTSIDE, ADVISORY)} == set()
    assert {verdict for row, verdict in tight.items() if "piston_to" in row} == {OUTSIDE}
