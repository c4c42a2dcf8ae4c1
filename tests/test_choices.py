"""A fact that nobody stated and that has a few choices: what a rule says under each of them."""

from __future__ import annotations

import pytest
from judging import rulebook
from test_never_within import as_record

from checker import Report, Verdict


def judged(gap: float, alloy: str | None) -> Report:
    readings: dict[str, object] = {"cylinder_bore": {"all": 4.0305}, "top_ring_gap": {"all": gap}}
    if alloy:
        readings["piston_alloy"] = {"all": alloy}
    data = {
        "record": 1,
        "assembly": "Test engine",
        "application": "street-performance",
        "rule_packs": {"four-stroke": ">=1,<2"},
        "units": {"length": "in"},
        "stations": {"cylinder": 2},
        "readings": readings,
    }
    return rulebook("four-stroke").check(as_record(data))


def verdict(report: Report) -> tuple[set[tuple[Verdict, str]], tuple[str, ...]]:
    found = [finding for finding in report.findings if finding.name == "top-ring-gap"]
    return {(finding.verdict, finding.side) for finding in found}, found[0].under_choices


ALLOYS = ("cast", "hypereutectic", "4032", "2618")


@pytest.mark.parametrize("gap", [0.010, 0.015, 0.017, 0.019, 0.021, 0.0235, 0.0245, 0.026, 0.030])
def test_an_unknown_fact_gives_a_verdict_only_where_every_choice_gives_it(gap: float) -> None:
    """And on the same side: what one choice finds too tight and another too wide has no remedy."""
    known = set.union(*(verdict(judged(gap, alloy))[0] for alloy in ALLOYS))
    unknown, told = verdict(judged(gap, None))
    assert unknown == (known if len(known) == 1 else {(Verdict.NOT_MEASURED, "")})
    assert told or len({side for _, side in known}) == 2


def test_where_choices_differ_the_report_says_for_which_it_holds() -> None:
    assert verdict(judged(0.019, None))[1] == (
        "depends on piston alloy: within for cast, 4032 and 2618; outside for hypereutectic, which asks for at least "
        "0.0242 in",
    )
