"""What is within is shown to hold wherever its readings may lie, and what is plain stays decided."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from proof_trials import refuted, trials
from small_packs import HEAD, at, judged, rulebook
from trial_packs import HEAD as TRIAL_HEAD
from trial_packs import loaded
from trial_records import Reading as Trial
from trial_records import Written, sampled

from checker import Verdict
from checker.judging.conformity import Decision

BOTH = "stations: {gear: 1, tooth: 1}"
CLOSE = (
    "judges: abs(width - height)\n    unit: mm\n    limits: {any: {must: {at_least: 3 mm}}}\n    remedy: {low: More.}"
)
WINDOW = """judges: height
    limits:
      - {application: any, when: width > 5 mm and width < 8 mm, must: {at_least: 9 mm}}
      - {application: any, must: {at_least: 1 mm}}
    remedy: {low: More.}"""
NAMED = "\ninstruments: {rule: {expanded_uncertainty: 4 mm}}"


@pytest.mark.parametrize("decision", ["simple", "where-known", "guarded", "probability"])
@pytest.mark.parametrize(
    ("width", "expected"),
    [
        ("{between: [1 mm, 39 mm]}", Verdict.UNDECIDED),
        ("{above: 1 mm}", Verdict.UNDECIDED),
        ("{between: [9 mm, 39 mm]}", Verdict.WITHIN),
        ("{between: [5 mm, 7 mm]}", Verdict.OUTSIDE),
    ],
)
def test_an_interval_is_judged_all_the_way(width: str, expected: Verdict, decision: str, tmp_path: Path) -> None:
    more = f"{BOTH}\ndecision: {decision}\ninstruments: {{rule: {{expanded_uncertainty: 0 mm}}}}"
    readings = f"width: {{with: rule, values: [{width}]}}, height: {{with: rule, values: [6 mm]}}"
    assert at(judged(rulebook(tmp_path, CLOSE), readings, more)).verdict is expected


@pytest.mark.parametrize(("width", "expected"), [("8.9", Verdict.UNDECIDED), ("12.1", Verdict.WITHIN)])
def test_a_window_that_uncertainty_reaches_into_is_open(width: str, expected: Verdict, tmp_path: Path) -> None:
    readings = f"width: {{with: rule, values: [{width} mm]}}, height: [6 mm]"
    assert at(judged(rulebook(tmp_path, WINDOW), readings, BOTH + NAMED)).verdict is expected


def test_where_both_outcomes_of_a_condition_hold_the_rule_holds(tmp_path: Path) -> None:
    readings = "width: {with: rule, values: [8.9 mm]}, height: [9.5 mm]"
    assert at(judged(rulebook(tmp_path, WINDOW), readings, BOTH + NAMED)).verdict is Verdict.WITHIN


def test_random_rules_are_never_within_where_sampling_finds_a_value_amiss(tmp_path: Path) -> None:
    told = [one for seed in range(5000, 5010) for one in trials(seed, tmp_path / str(seed), records=1)]
    assert [one for one in told if one.is_false] == []
    assert sum(one.verdict is Verdict.WITHIN for one in told) > 100
    open_for_nothing = sum(one.verdict is Verdict.UNDECIDED and not one.is_refuted for one in told)
    # What a function makes of a reading in doubt stays open where it states no range.
    assert open_for_nothing < len(told) / 15


@pytest.mark.parametrize(
    ("judges", "limit", "is_refuted"),
    [
        ("20 mm*(1 mm/d)", "at_most: 90 mm", True),  # 1 mm give or take 2 mm
        ("20 mm*(1 mm/w)", "at_most: 90 mm", False),  # 20 mm give or take 2 mm
        ("w if grade is coarse else 0 mm", "at_most: 10 mm", True),  # coarse somewhere between 2 and 30 mm
        ("w if alloy is steel else 0 mm", "at_most: 10 mm", True),  # which nobody stated
        ("t", "at_most: 80 mm", True),  # which is lacking
    ],
)
def test_sampling_itself_sees_what_is_amiss(judges: str, limit: str, is_refuted: bool, tmp_path: Path) -> None:
    rule = f"  one:\n    title: A rule\n    before: done\n    judges: {judges}\n    unit: mm\n    basis: shop policy\n"
    rule += f"    limits: {{any: {{must: {{{limit}}}}}}}\n    remedy: {{high: Less.}}\n"
    of_w = "w: {title: W, per: gear, unit: mm, made_of: alloy, plausible: [LEAST mm"
    head = TRIAL_HEAD.replace(of_w.replace("LEAST", "-60"), of_w.replace("LEAST", "1"))
    book = loaded(tmp_path, f"{head}rules:\n{rule}")
    readings = {"w": Trial(20, 20, 2), "h": Trial(2, 30, 0), "t": Trial(5, 5, 0, is_lacking=True), "d": Trial(1, 1, 2)}
    said = Written({name: [reading] * 2 for name, reading in readings.items()}, {}, {})
    report = book.check(said.record(), decision=Decision("guarded"))
    [one] = report.judged
    assert refuted(report, one, sampled(said, 1.0, np.random.default_rng(1)))[0].tolist() == [is_refuted] * 2
    assert (Verdict(one.codes[0, 0]) is Verdict.WITHIN) is not is_refuted


def test_the_usual_decision_rule_says_its_own_name() -> None:
    assert str(Decision()).startswith("where known")
    assert str(Decision("guarded")).startswith("guarded")


@pytest.mark.parametrize(("most", "expected"), [("5.45", Verdict.UNDECIDED), ("5.55", Verdict.WITHIN)])
def test_a_part_of_a_move_may_be_all_that_a_bent_rule_can_move(most: str, expected: Verdict, tmp_path: Path) -> None:
    """At 0.95 a move of 0.82 expanded uncertainties counts; the value is as far off then as it can ever be."""
    rule = "judges: larger_of(smaller_of(width, 5.5 mm), 4.9 mm)\n    unit: mm\n"
    rule += f"    limits: {{any: {{must: {{at_most: {most} mm}}}}}}\n    remedy: {{high: Less.}}"
    readings = "width: {with: rule, values: [5 mm]}"
    more = f"{BOTH}\ndecision: probability\nprobability: 0.95{NAMED}"
    assert at(judged(rulebook(tmp_path, rule), readings, more)).verdict is expected


SATURATED = "larger_of(smaller_of(width, 10.5 mm), 9.5 mm) + larger_of(smaller_of(height, 10.5 mm), 9.5 mm)"


@pytest.mark.parametrize(
    ("judges", "most", "decision", "expected"),
    [
        # It saturates alike both ways: a part of a move does all that a whole one does.
        ("larger_of(smaller_of(width, 10.5 mm), 9.5 mm)", 10.45, "probability", Verdict.UNDECIDED),
        ("larger_of(smaller_of(width, 10.5 mm), 9.5 mm)", 10.55, "probability", Verdict.WITHIN),
        # No reading alone reaches over the sill: both together do, each by 0.71 of its uncertainty.
        ("larger_of(width + height - 24.5 mm, 0 mm)", 0.1, "guarded", Verdict.UNDECIDED),
        ("larger_of(width + height - 24.5 mm, 0 mm)", 0.1, "where-known", Verdict.UNDECIDED),
        ("larger_of(width + height - 25.7 mm, 0 mm)", 0.1, "where-known", Verdict.WITHIN),
        # Both saturate, each by 0.71 of its uncertainty.
        (SATURATED, 20.9, "where-known", Verdict.UNDECIDED),
        (SATURATED, 21.1, "where-known", Verdict.WITHIN),
        # (10 + 4/sqrt(2))**2 is 164.6, where a straight line would come to 156.6.
        ("width*height/1 mm", 164.0, "guarded", Verdict.UNDECIDED),
        ("width*height/1 mm", 165.2, "guarded", Verdict.WITHIN),
    ],
)
def test_where_a_rule_bends_all_that_is_uncertain_counts_together(
    judges: str, most: float, decision: str, expected: Verdict, tmp_path: Path
) -> None:
    rule = f"judges: {judges}\n    unit: mm\n    limits: {{any: {{must: {{at_most: {most} mm}}}}}}\n"
    readings = "width: {with: rule, values: [10 mm]}, height: {with: tape, values: [10 mm]}"
    named = "\ninstruments: {rule: {expanded_uncertainty: 4 mm}, tape: {expanded_uncertainty: 4 mm}}"
    more = f"{BOTH}\ndecision: {decision}{named}"
    more += "\nprobability: 0.95" if decision == "probability" else ""
    book = rulebook(tmp_path, f"{rule}    remedy: {{high: Less.}}")
    assert at(judged(book, readings, more)).verdict is expected


@pytest.mark.parametrize(
    ("width", "expected"), [(5.3, Verdict.UNDECIDED), (5.45, Verdict.UNDECIDED), (5.5, Verdict.WITHIN)]
)
def test_a_limit_of_physics_may_become_the_stricter_one(width: float, expected: Verdict, tmp_path: Path) -> None:
    """Alone no part reaches past 5.3 mm, but both by 0.71 of their uncertainties: 4.9 + 2 x 0.4/sqrt(2) is 5.466."""
    part = "{title: Part, per: gear, unit: mm, plausible: [0 mm, 9 mm]}"
    head = HEAD.replace("  height:", f"  one: {part}\n  other: {part}\n  height:")
    rule = """judges: width
    limits:
      - {application: any, must: {at_least: 5 mm}}
      - {application: any, must: {at_least: one + other}, basis: {kind: physics, note: they touch}}
    remedy: {low: More.}"""
    readings = f"width: [{width} mm], one: {{with: rule, values: [2.4 mm]}}, other: {{with: scale, values: [2.5 mm]}}"
    gauges = ", ".join(f"{name}: {{expanded_uncertainty: 0.4 mm}}" for name in ("rule", "scale"))
    report = judged(rulebook(tmp_path, rule, head=head), readings, f"{BOTH}\ninstruments: {{{gauges}}}")
    assert at(report).verdict is expected


DIVIDED = [
    "100 mm*1 mm/width",
    "height/width*50 mm",
    "1 mm/(width/height)*30",
    "10 mm*(width/1 mm)**-1",
    "larger_of(100 mm*1 mm/width, 2 mm)",
]


@pytest.mark.parametrize("judged_value", DIVIDED)
@pytest.mark.parametrize(("uncertainty", "expected"), [(2, Verdict.UNDECIDED), (0.5, Verdict.WITHIN)])
def test_what_divides_by_something_that_may_be_nothing_is_open(
    judged_value: str, uncertainty: float, expected: Verdict, tmp_path: Path
) -> None:
    """At 1 mm give or take 2 mm, 100/x grows without end, though at 3 mm and at -1 mm it is no more than 100 off."""
    rule = f"judges: {judged_value}\n    unit: mm\n    limits: {{any: {{must: {{at_most: 350 mm}}}}}}\n"
    named = f"\ninstruments: {{rule: {{expanded_uncertainty: {uncertainty} mm}}}}"
    readings = "width: {with: rule, values: [1 mm]}, height: [1 mm]"
    book = rulebook(tmp_path, f"{rule}    remedy: {{high: Less.}}")
    assert at(judged(book, readings, BOTH + named)).verdict is expected


GRADED = HEAD.replace(
    "  alloy:",
    "  grade:\n    {title: Grade, per: gear, choices: [fine, middling, coarse],\n"
    "    derived: coarse if width > 5 mm and width < 8 mm else fine}\n  alloy:",
)


@pytest.mark.parametrize("width", ["{with: rule, values: [8.9 mm]}", "[{between: [1 mm, 39 mm]}]"])
@pytest.mark.parametrize("when", ["grade is coarse", "grade in (middling, coarse)", "grade is not fine"])
def test_a_fact_that_follows_from_what_is_in_doubt_is_in_doubt(width: str, when: str, tmp_path: Path) -> None:
    """At both ends of the doubt the grade is fine; in between it is coarse, and never middling."""
    rule = f"""judges: height
    limits:
      - {{application: any, when: '{when}', must: {{at_least: 9 mm}}}}
      - {{application: any, must: {{at_least: 1 mm}}}}
    remedy: {{low: More.}}"""
    book = rulebook(tmp_path, rule, head=GRADED)
    assert at(judged(book, f"width: {width}, height: [6 mm]", BOTH + NAMED)).verdict is Verdict.UNDECIDED
    assert at(judged(book, f"width: {width}, height: [9.5 mm]", BOTH + NAMED)).verdict is Verdict.WITHIN


def test_a_rule_about_a_fact_in_doubt_is_not_left_out(tmp_path: Path) -> None:
    rule = "judges: height\n    when: grade is coarse\n    limits: {any: {must: {at_least: 9 mm}}}\n"
    rule += "    remedy: {low: More.}"
    book = rulebook(tmp_path, rule, head=GRADED)
    readings = "width: {with: rule, values: [8.9 mm]}, height: [6 mm]"
    assert at(judged(book, readings, BOTH + NAMED)).verdict is Verdict.UNDECIDED
