"""What a bench takes directly has a box of its own; what it could be worked out from is not asked for beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from checker import load_rulebook, record_from_text
from checker.rulebook import Rulebook
from checker.sheets.plan import plan

PACK = """
pack: hinges
version: 1.0.0
rule_language: 1
title: Hinges
applications: {gate: {title: Gate}}
milestones: [hung]
stations:
  hinge: {title: Hinge}
  leaf: {title: Leaf, of: hinge}
"""
RULES = """
system: Hinges
characteristics:
  gap: {title: Gap, unit: mm, plausible: [0 mm, 50 mm], per: hinge}
  leaf_width: {title: Leaf width, unit: mm, plausible: [1 mm, 50 mm], per: leaf}
  side_play:
    {title: Side play, unit: mm, plausible: [-5 mm, 5 mm], per: hinge, taken_directly: true, with: feeler gauge,
     derived: 'gap - total(leaf_width, "hinge")'}
rules:
  side-play:
    title: Side play
    before: hung
    judges: side_play
    limits: {any: {must: {at_least: 0.1 mm, at_most: 0.3 mm}}}
    basis: shop policy
    remedy: {low: "Open it by {limit - value}.", high: "Close it by {value - limit}."}
"""
HEAD = "record: 1\nassembly: Gate 4\napplication: gate\nrule_packs: {hinges: '>=1'}\nstations: {hinge: 2, leaf: 4}\n"


@pytest.fixture(scope="module")
def rulebook(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    folder: Path = tmp_path_factory.mktemp("hinges")
    (folder / "pack.yaml").write_text(PACK)
    (folder / "hinges.yaml").write_text(RULES)
    return load_rulebook(folder)


def asked(rulebook: Rulebook, readings: str) -> list[str]:
    report = rulebook.check(record_from_text(HEAD + f"readings: {readings}\n"))
    return [line.name for line in plan(rulebook, report).lines]


def missing(rulebook: Rulebook, readings: str) -> set[str]:
    report = rulebook.check(record_from_text(HEAD + f"readings: {readings}\n"))
    return {str(gap) for finding in report.findings for gap in finding.missing}


def test_a_sheet_has_its_box_and_not_those_of_its_parts(rulebook: Rulebook) -> None:
    assert asked(rulebook, "{}") == ["side_play"]


def test_an_open_check_names_the_reading_itself(rulebook: Rulebook) -> None:
    assert missing(rulebook, "{side_play: {1: 0.2 mm}}") == {"side play, hinge 2"}


def test_where_its_parts_are_there_nothing_more_is_asked(rulebook: Rulebook) -> None:
    everything = "{gap: [20.2 mm, 20.2 mm], leaf_width: [10 mm, 10 mm, 10 mm, 10 mm]}"
    assert asked(rulebook, everything) == ["gap", "leaf_width"]
    assert missing(rulebook, everything) == set()


def test_whoever_has_begun_to_work_it_out_is_told_what_would_do_instead(rulebook: Rulebook) -> None:
    begun = "{leaf_width: [10 mm, 10 mm, 10 mm, 10 mm]}"
    assert missing(rulebook, begun) == {"side play, hinge 1 (or gap)", "side play, hinge 2 (or gap)"}


def test_a_part_that_cannot_be_is_asked_for_again(rulebook: Rulebook) -> None:
    wrong = "{gap: [202 mm, 20.2 mm], leaf_width: [10 mm, 10 mm, 10 mm, 10 mm]}"
    (told,) = missing(rulebook, wrong)
    assert told.startswith("gap, hinge 1 (written 202 mm, outside what is possible")


@pytest.mark.parametrize(
    "name",
    ["deck_clearance", "rod_side_clearance", "top_ring_side_clearance", "second_ring_side_clearance",
     "top_ring_back_clearance", "intake_guide_clearance", "exhaust_guide_clearance", "oil_pump_end_clearance",
     "pickup_to_pan_clearance"],
)  # fmt: skip
def test_an_engine_bench_sheet_has_a_box_for(name: str) -> None:
    rulebook = load_rulebook("four-stroke")
    record = record_from_text(
        "record: 1\nassembly: Engine 5\napplication: street\nrule_packs: {four-stroke: '>=1'}\nreadings: {}\n"
    )
    assert name in [line.name for line in plan(rulebook, rulebook.check(record, inspection="race")).lines]
