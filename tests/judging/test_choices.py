"""A fact that nobody stated and that has a few choices: what a rule says under each of them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from judging import as_record, of_rule, rulebook
from small_packs import HEAD, at, judged
from small_packs import rulebook as small_rulebook

from checker import Verdict

ALLOYS = ("cast", "hypereutectic", "4032", "2618")
GAPS = (0.010, 0.015, 0.017, 0.019, 0.021, 0.0235, 0.027, 0.026, 0.030)


@cache
def found(alloy: str | None) -> dict[float, tuple[Verdict, str, tuple[str, ...]]]:
    """What the rule says of each gap, in a cylinder of its own: the verdict, the side, and what hangs on choices."""
    readings: dict[str, object] = {
        "cylinder_bore": {"all": 4.0305},
        "top_ring_gap": {str(number): gap for number, gap in enumerate(GAPS, start=1)},
    }
    if alloy:
        readings["piston_alloy"] = {"all": alloy}
    data = {
        "record": 1,
        "assembly": "Test engine",
        "application": "street-performance",
        "rule_packs": {"four-stroke": ">=1,<2"},
        "units": {"length": "in"},
        "facts": {"top_ring_position": "close to the crown"},
        "stations": {"cylinder": len(GAPS)},
        "readings": readings,
    }
    own = {one.station: one for one in of_rule(rulebook("four-stroke").check(as_record(data)), "top-ring-gap")}
    return {gap: (own[at].verdict, own[at].side, own[at].under_choices) for at, gap in enumerate(GAPS)}


@pytest.mark.parametrize("gap", GAPS)
def test_an_unknown_fact_gives_a_verdict_only_where_every_choice_gives_it(gap: float) -> None:
    """And on the same side: what one choice finds too tight and another too wide has no remedy."""
    known = {found(alloy)[gap][:2] for alloy in ALLOYS}
    *unknown, told = found(None)[gap]
    assert {tuple(unknown)} == (known if len(known) == 1 else {(Verdict.NOT_MEASURED, "")})
    assert told


def test_where_choices_differ_the_report_says_for_which_it_holds() -> None:
    assert found(None)[0.019][2] == (
        "depends on piston alloy: within for cast, 4032 and 2618; outside for hypereutectic, which asks for at least "
        "0.0262 in",
    )


def test_where_choices_miss_on_opposite_sides_the_report_says_on_which() -> None:
    """A gap between the most that is recommended for one alloy and the least for another has no remedy."""
    verdict, side, told = found(None)[0.027]
    assert (verdict, side) == (Verdict.NOT_MEASURED, "")
    assert told == (
        "depends on piston alloy: advisory, too large, for cast, 4032 and 2618, which ask for 0.0181 in to 0.0231 in; "
        "advisory, too small, for hypereutectic, which asks for 0.0282 in to 0.0363 in",
    )


def alike(gears: int) -> dict[str, object]:
    """What is alike for all rows of a table of so many gears, measured with a rule."""
    return {
        "application": "any-use",
        "stations": {"gear": gears},
        "units": {"length": "mm"},
        "instruments": {"rule": {"expanded_uncertainty": "0.5 mm"}},
    }


EITHER_ALLOY = """judges: width
    limits:
      - {application: any, when: alloy is bronze, must: {at_least: 5 mm}}
      - {application: any, must: {at_least: 4.9 mm}}
    remedy: {low: More.}"""


@pytest.mark.parametrize(("width", "expected"), [(5.1, Verdict.UNDECIDED), (5.6, Verdict.WITHIN), (4, Verdict.OUTSIDE)])
def test_under_each_choice_readings_are_as_uncertain_as_they_are(
    width: float, expected: Verdict, tmp_path: Path
) -> None:
    gauge = "stations: {gear: 1}\ninstruments: {rule: {expanded_uncertainty: 0.5 mm}}"
    report = judged(small_rulebook(tmp_path, EITHER_ALLOY), f"width: {{with: rule, values: [{width} mm]}}", gauge)
    assert at(report).verdict is expected


def test_a_table_says_so_of_all_its_rows_at_once(tmp_path: Path) -> None:
    book = small_rulebook(tmp_path, EITHER_ALLOY)
    table = {"width@1": [5.1, 5.6, 4.0]}
    found = book.check_table(table, alike(1), instruments={"width": "rule"}, verdicts=tuple(Verdict))
    assert found.findings["verdict"].to_pylist() == ["undecided", "within", "outside"]


GRADED = (
    HEAD + '  grade: {title: Grade, per: gear, choices: [fine, coarse], derived: "coarse if width < 9 mm else fine"}\n'
)
EITHER_ALLOY_BY_GRADE = """judges: width
    limits:
      - {application: any, when: grade is coarse, must: {at_least: 12 mm}}
      - {application: any, when: alloy is bronze, must: {at_least: 5 mm}}
      - {application: any, must: {at_least: 4.9 mm}}
    remedy: {low: More.}"""


@pytest.mark.parametrize(("width", "expected"), [(9.2, Verdict.UNDECIDED), (9.8, Verdict.WITHIN), (8, Verdict.OUTSIDE)])
def test_a_fact_that_is_computed_stays_in_doubt_where_it_is_lacking_elsewhere(
    width: float, expected: Verdict, tmp_path: Path
) -> None:
    """Nothing is known of the first gear: its grade is tried with the alloy, and that of the second follows its width.

    Found by random packs: the grade of the second was taken for certain, though the gauge cannot tell it.
    """
    book = small_rulebook(tmp_path, EITHER_ALLOY_BY_GRADE, head=GRADED)
    gauge = "stations: {gear: 2}\ninstruments: {rule: {expanded_uncertainty: 0.5 mm}}"
    report = judged(book, f"width: {{with: rule, values: {{2: {width} mm}}}}", gauge)
    assert at(report, 2).verdict is expected
    table = book.check_table({"width@2": [width]}, alike(2), instruments={"width": "rule"}, verdicts=tuple(Verdict))
    by_station = zip(table.findings["station"].to_pylist(), table.findings["verdict"].to_pylist(), strict=True)
    assert dict(by_station)[2] == str(expected)
