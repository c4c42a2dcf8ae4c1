"""A foreman's own policy, as short as he would write it: wheels from nothing, and one limit of an engine changed."""

from __future__ import annotations

import pytest
from places import DATA

from checker import Record, Rulebook, Verdict
from checker.documents.document import parse_yaml
from checker.plugins import gather
from checker.records.record import record_in
from checker.rulebook import load_rulebook

FOLDER = DATA / "foreman"
MOST_LINES = 86
SPOKES = """
  spoke_side: {1: drive, 2: other, 3: drive, 4: other}
  spoke_tension: {1: 1150 N, 2: 600 N, 3: 1050 N, 4: 500 N}
  rim_material: aluminium
  runout_by_gauge: 0.4 mm
  freewheel_torque: 20 N m
"""


def record(use: str, readings: str, pack: str = "our-wheels") -> Record:
    text = f"record: 1\nassembly: On the stand\napplication: {use}\nrule_packs: {{{pack}: '>=1'}}\nreadings:{readings}"
    return record_in(parse_yaml(text.encode(), "record.yaml"))


def verdicts(rulebook: Rulebook, made: Record) -> dict[str, Verdict]:
    return {one.rule.name: Verdict(one.codes.flat[0]) for one in rulebook.check(made).judged}


def test_he_needs_few_lines() -> None:
    assert sum(len(path.read_text().splitlines()) for path in FOLDER.rglob("*.yaml")) <= MOST_LINES


@pytest.mark.parametrize("use", ["road", "track"])
def test_a_wheel_is_judged(use: str) -> None:
    """Mean of 1150 and 1050 N is 1100 N, of 600 and 500 N 550 N; neighbours lie 450 to 550 N apart."""
    found = verdicts(load_rulebook(FOLDER / "our_wheels", strict=True), record(use, SPOKES))
    is_track = use == "track"
    assert found["drive-tension"] is Verdict.WITHIN
    assert found["other-tension"] is Verdict.WITHIN
    assert found["spokes-alike"] is Verdict.WITHIN
    assert found["neighbours-alike"] is (Verdict.OUTSIDE if is_track else Verdict.ADVISORY)
    assert found["runout"] is (Verdict.OUTSIDE if is_track else Verdict.WITHIN)
    assert found["freewheel"] is (Verdict.NOT_APPLICABLE if is_track else Verdict.OUTSIDE)
    assert found["dish"] is Verdict.NOT_MEASURED


@pytest.mark.slow
def test_one_amendment_of_the_ring_gap_amends_it_everywhere() -> None:
    """0.0045 of a 4.0000 in bore is 0.0180 in; two thou less bore close the gap by pi times that."""
    rulebook = load_rulebook("four-stroke", FOLDER / "our_engines", plugins=gather(), strict=True)
    readings = """
  piston_alloy: cast
  cylinder_bore: {1: [4.001 in, 3.999 in]}
  top_ring_gap: {1: 0.0235 in}
"""
    found = verdicts(rulebook, record("street", readings, "our-engines"))
    assert found["top-ring-gap-in-smallest-bore"] is Verdict.OUTSIDE
    shipped = verdicts(load_rulebook("four-stroke", plugins=gather()), record("street", readings, "four-stroke"))
    assert shipped["top-ring-gap-in-smallest-bore"] is Verdict.WITHIN
