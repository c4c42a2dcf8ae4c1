"""Honest records, each written as a competent shop would before it was judged, need few further answers to hold.

Two, the splash oiled single and the side-valve V8, were altered after they were judged, as their heads say.

The records are invented; what such a shop writes down, and what it does not, is common practice. The counts are what
the packs ask for today: they may fall, not rise.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest
import yaml
from places import HONEST

from checker import Report, Verdict, record_from_text
from checker.rulebook import Rulebook, load_rulebook

ANSWERS: dict[str, dict[str, Any]] = yaml.safe_load((HONEST / "answers.yaml").read_text())
PACKS = {"drag_nitrous_v8": ("four-stroke", "nitrous")}
BOXES = {
    "street_v8": 17,
    "street_four_buckets": 9,
    "drag_nitrous_v8": 25,
    "diesel_in_frame_six": 141,
    "marine_v8_sixty_over": 7,
    "street_six_ringed_anew": 5,
    "air_cooled_flat_twin": 5,
    "alloy_three_with_commas": 8,
    "poured_bearing_four": 3,
    "fork_and_blade_twin": 4,
    "splash_oiled_single": 3,
    "overhead_cam_twin": 4,
    "side_valve_v8": 23,
}
"""The readings and facts lacking before the answers; facts that switch off the rest are among them.

A race shop looks which way round rods and pistons went in, and is asked whether it did: two of the 25.
"""


def text_of(name: str, facts: dict[str, Any], seen: list[list[str]]) -> str:
    lines = []
    for line in (HONEST / f"{name}.yaml").read_text().splitlines():
        if line.startswith("  ") and line.strip().split(":")[0] in facts:
            continue
        lines.append(line)
        if line == "facts:":
            lines.extend(f"  {fact}: {value}" for fact, value in facts.items())
    who = "station: all, by: A. Bench, dated: 2026-05-03, clear: true"
    lines += ["seen:", *(f"  - {{rule: {json.dumps(rules)}, {who}}}" for rules in seen)] if seen else []
    return "\n".join(lines) + "\n"


@cache
def rulebook(name: str) -> Rulebook:
    return load_rulebook(*PACKS.get(name, ("four-stroke",)))


@cache
def judged(name: str, answered: bool = True, level: str | None = None, without: str = "") -> Report:
    answers = ANSWERS[name] if answered else {"facts": {}, "seen": []}
    facts = {fact: value for fact, value in answers["facts"].items() if fact != without}
    seen = [rules for rules in answers["seen"] if without not in rules]
    record = record_from_text(text_of(name, facts, seen), "record.yaml")
    return rulebook(name).check(record, inspection=level)


def boxes(report: Report) -> set[tuple[str, int | None]]:
    """What is lacking of what is required: each reading at each station once."""
    return {(gap.characteristic, gap.station) for found in report.findings if found.must_open for gap in found.missing}


@pytest.mark.parametrize("name", ANSWERS)
def test_with_a_dozen_answers_or_fewer_it_holds_at_its_level(name: str) -> None:
    answers = ANSWERS[name]
    assert len(answers["facts"]) + len(answers["seen"]) <= 12
    report = judged(name)
    assert report.status == 0, [str(found) for found in report.findings if found.must_open]
    assert report.counts[Verdict.OUTSIDE] == 0


@pytest.mark.parametrize("name", ANSWERS)
def test_a_shop_in_summer_says_how_warm_it_is_and_holds(name: str) -> None:
    """What the parts are made of the packs and the facts of the record say, so that nothing is left open."""
    answers = ANSWERS[name]
    text = text_of(name, answers["facts"], answers["seen"]) + "temperatures: {parts: 30 degC}\n"
    report = rulebook(name).check(record_from_text(text, "record.yaml"))
    assert (report.status, list(report.undecided)) == (0, [])
    assert any("brought to 20 degC by" in note.message for note in report.notes)


@pytest.mark.parametrize("name", ANSWERS)
def test_before_the_answers_it_lacks_no_more_boxes_than_these(name: str) -> None:
    report = judged(name, answered=False)
    assert report.status != 0
    assert len(boxes(report)) <= BOXES[name]


@pytest.mark.parametrize(
    ("name", "lost"),
    [(name, fact) for name in ("street_v8", "diesel_in_frame_six") for fact in ANSWERS[name]["facts"]]
    + [("street_v8", rules[0]) for rules in ANSWERS["street_v8"]["seen"]],
)
def test_none_of_the_answers_can_be_left_out(name: str, lost: str) -> None:
    assert judged(name, without=lost).status == 3


def test_at_level_race_it_says_what_more_is_asked() -> None:
    report = judged("street_v8", level="race")
    assert report.status == 3
    more = {found.name for found in report.findings if found.must_open and found.missing}
    assert {"main-shell-pinch", "rod-shell-pinch", "oil-pump-side-clearance"} <= more
    assert all(found.missing for found in report.findings if found.must_open)


@pytest.mark.parametrize(
    ("state", "rule"),
    [
        ("oil_pump_state", "oil-pump-cover"),
        ("damper_state", "damper-face-runout"),
        ("camshaft_state", "cam-journal-roundness"),
        ("bearing_shells", "main-shell-spread"),
        ("rod_bolts", "rod-bolt-permanent-set"),
    ],
)
def test_a_used_part_is_asked_for_though_all_are_told_to_be_new(state: str, rule: str) -> None:
    answers = ANSWERS["street_v8"]
    facts = {**answers["facts"], state: "used"}
    report = rulebook("street_v8").check(record_from_text(text_of("street_v8", facts, answers["seen"]), "r.yaml"))
    assert report.status == 3
    assert rule in {found.name for found in report.findings if found.must_open}


FINE = {
    "outside micrometer",
    "bore gauge",
    "air gauge",
    "small-hole or air gauge",
    "small hole gauge",
    "inside micrometer",
}
SHORT = 0.010
"""In metres: of what is shorter the growth at 30 degrees C is not read."""


def test_every_size_that_a_fine_gauge_reads_says_what_it_is_made_of() -> None:
    silent = [
        name
        for name, item in load_rulebook("four-stroke", "boosted", "nitrous", "alcohol").characteristics.items()
        if item.characteristic.with_ in FINE and item.high > SHORT and not item.characteristic.made_of
    ]
    assert silent == []
