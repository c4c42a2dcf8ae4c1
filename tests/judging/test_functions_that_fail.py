"""A function of a plugin that fails, or gives nothing, leaves open what rests on it, each time and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from small_packs import HEAD, judged, rulebook

from checker import Function, Interval, Report, Rulebook, Verdict, dimension_of
from checker.expressions.truth import Array

LENGTH = dimension_of("mm")
TWO = "stations: {gear: 2, tooth: 2}"
WIDE = "limits: {any: {must: {at_most: 350 mm}}}\n    remedy: {high: Less.}"


def doubled(values: Array, fails: Callable[[Array], Array], with_nan: float | None = None) -> Array:
    if with_nan is None:
        if fails(values).any():
            raise ValueError("not here")
        return 2 * values
    return np.where(fails(values), with_nan, 2 * values)


def in_window(values: Array) -> Array:
    return (values > 0.006) & (values < 0.007)


WAYS: dict[str, Callable[[Array], Array]] = {
    "raising_of_nothing": lambda values: doubled(values, np.isnan),
    "raising": lambda values: doubled(values, in_window),
    "silent": lambda values: doubled(values, in_window, np.nan),
    "endless": lambda values: doubled(values, in_window, np.inf),
}


def function(name: str) -> Function:
    def bounds(x: Interval) -> Interval:
        return Interval(2 * x.low, 2 * x.high)

    return Function(name, (LENGTH,), LENGTH, call=WAYS[name], bounds=bounds, plugin="shop 1.0")


def book_of(folder: Path, name: str) -> Rulebook:
    """Rules that judge what a function gives, what follows from that, and what is only judged where it is unknown."""
    made = f"{{title: Made, per: gear, unit: mm, plausible: [0 mm, 400 mm], derived: {name}(width)}}"
    after = "{title: After, per: gear, unit: mm, plausible: [0 mm, 800 mm], derived: 2*made}"
    head = HEAD.replace("  alloy:", f"  made: {made}\n  after: {after}\n  alloy:")
    rules = [
        f"judges: {name}(width)\n    unit: mm\n    {WIDE}",
        f"judges: width\n    unit: mm\n    unless: known(made)\n    {WIDE}",
        f"judges: greatest_known(after, width)\n    unit: mm\n    {WIDE}",
        f"judges: width\n    unit: mm\n    unless: known(after)\n    {WIDE}",
        f"judges: height\n    unit: mm\n    {WIDE}",
    ]
    return rulebook(folder, *rules, head=head, functions={name: function(name)})


def verdicts(report: Report, station: int = 0) -> list[Verdict]:
    return [Verdict(one.codes[0, station]) for one in report.judged]


@pytest.mark.parametrize("name", ["raising", "silent", "endless"])
def test_what_rests_on_a_function_that_gives_nothing_is_open(name: str, tmp_path: Path) -> None:
    report = judged(book_of(tmp_path, name), "width: [6.5 mm, 3 mm], height: [6 mm, 6 mm]", TWO)
    *resting, plain = verdicts(report)
    assert set(resting) <= {Verdict.UNDECIDED, Verdict.NOT_MEASURED}
    assert plain is Verdict.WITHIN
    assert report.status == 3
    [finding] = [one for one in report.findings if one.rule.name == "rule-1" and one.station == 0]
    assert f"function {name} of plugin shop 1.0" in " ".join(finding.remarks)
    if name != "raising":
        # What it says of another station counts.
        assert verdicts(report, 1)[0] is Verdict.WITHIN


@pytest.mark.parametrize("width", [6.5, -5.0])
def test_what_was_measured_for_nothing_is_asked_for_all_the_same(width: float, tmp_path: Path) -> None:
    made = "{title: Made, per: gear, unit: mm, plausible: [0 mm, 400 mm], derived: silent(width)}"
    head = HEAD.replace("  alloy:", f"  made: {made}\n  alloy:")
    head = head.replace("characteristics:", "control_plan: {leaves_out: {rule-1: bought so}}\ncharacteristics:")
    book = rulebook(
        tmp_path, f"judges: made\n    unit: mm\n    {WIDE}", head=head, functions={"silent": function("silent")}
    )
    report = judged(book, f"width: [{width} mm, 3 mm]", TWO)
    assert verdicts(report) == [Verdict.NOT_MEASURED]
    assert report.status == 3
    assert verdicts(judged(book, "height: [6 mm, 6 mm]", TWO)) == [Verdict.NOT_ASKED]


@pytest.mark.parametrize("name", WAYS)
def test_where_it_works_it_counts(name: str, tmp_path: Path) -> None:
    found = verdicts(judged(book_of(tmp_path, name), "width: [3 mm, 3 mm], height: [6 mm, 6 mm]", TWO))
    idle = Verdict.NOT_APPLICABLE
    assert found == [Verdict.WITHIN, idle, Verdict.WITHIN, idle, Verdict.WITHIN]


def test_what_failed_for_one_record_fails_for_the_next(tmp_path: Path) -> None:
    """A function that cannot do with what is missing: a rulebook asks that of an empty record once."""
    book = book_of(tmp_path, "raising_of_nothing")
    first, second = (judged(book, "height: [6 mm, 6 mm]", TWO) for _ in range(2))
    assert verdicts(first)[:4] == [Verdict.UNDECIDED] * 4
    assert verdicts(second) == verdicts(first)
    assert [one.remarks for one in second.undecided] == [one.remarks for one in first.undecided]
    # Nor does it stop the next record, of which it can tell.
    assert verdicts(judged(book, "width: [3 mm, 3 mm], height: [6 mm, 6 mm]", TWO))[0] is Verdict.WITHIN


def test_a_function_that_fails_between_the_ends_of_a_reading_stops_its_rules(tmp_path: Path) -> None:
    rule = f"judges: height\n    unit: mm\n    when: raising(width) > 1 mm\n    {WIDE}"
    book = rulebook(tmp_path, rule, functions={"raising": function("raising")})
    report = judged(book, "width: [2 mm, {between: [4 mm, 9 mm]}], height: [6 mm, 6 mm]", TWO)
    assert verdicts(report) == [Verdict.UNDECIDED]
    assert "function raising of plugin shop 1.0 failed" in " ".join(report.undecided[0].remarks)


@pytest.mark.parametrize("condition", ["known(made)", "known(made) and height > 1 mm"])
@pytest.mark.parametrize(
    ("width", "expected"),
    [
        ("3 mm", Verdict.WITHIN),
        ("{between: [2 mm, 9 mm]}", Verdict.UNDECIDED),
        ("{value: 5.9 mm, with: rule}", Verdict.UNDECIDED),
    ],
)
def test_what_a_function_gives_of_the_middle_need_not_be_known_elsewhere(
    condition: str, width: str, expected: Verdict, tmp_path: Path
) -> None:
    """It states no range, and is silent of some of what a reading may be; each rule is told so, not the first alone."""
    made = "{title: Made, per: gear, unit: mm, plausible: [0 mm, 400 mm], derived: silent(width)}"
    silent = Function("silent", (LENGTH,), LENGTH, call=WAYS["silent"], plugin="shop 1.0")
    limits = (
        "[{application: any, when: known(made), must: {at_most: 10 mm}}, {application: any, must: {at_most: 1 mm}}]"
    )
    rule = f"judges: height\n    unit: mm\n    limits: {limits}\n    remedy: {{high: Less.}}"
    head = HEAD.replace("  alloy:", f"  made: {made}\n  alloy:")
    book = rulebook(tmp_path, rule, rule, head=head, functions={"silent": silent})
    gauged = f"{TWO}\ninstruments: {{rule: {{expanded_uncertainty: 0.3 mm}}}}"
    assert verdicts(judged(book, f"width: [{width}], height: [6 mm]", gauged)) == [expected] * 2


@pytest.mark.parametrize(
    ("height", "expected"),
    [
        ("{between: [6 mm, 40 mm]}", Verdict.UNDECIDED),
        ("{between: [22 mm, 40 mm]}", Verdict.NOT_APPLICABLE),
        ("6 mm", Verdict.UNDECIDED),
    ],
)
def test_a_rule_that_fails_and_may_apply_is_open(height: str, expected: Verdict, tmp_path: Path) -> None:
    """At the middle of its ends, 23 mm, a height would say that the rule does not apply."""
    head = HEAD.replace("per: tooth", "per: gear")
    rule = f"judges: raising(width)\n    unit: mm\n    unless: height > 21 mm\n    {WIDE}"
    book = rulebook(tmp_path, rule, head=head, functions={"raising": function("raising")})
    report = judged(book, f"width: [6.5 mm, 3 mm], height: [{height}, 30 mm]", TWO)
    assert verdicts(report) == [expected]


def test_what_follows_from_something_impossible_is_not_unknown(tmp_path: Path) -> None:
    """Three widths are more than is possible; what follows from that is refused too, and nobody is to do without."""
    made = "{title: Made, per: gear, unit: mm, plausible: [0 mm, 40 mm], derived: 3*width}"
    after = "{title: After, per: gear, unit: mm, plausible: [0 mm, 800 mm], derived: 2*made}"
    most = "{title: Most, unit: mm, plausible: [0 mm, 800 mm], derived: greatest(made)}"
    head = HEAD.replace("  alloy:", f"  made: {made}\n  after: {after}\n  most: {most}\n  alloy:")
    rules = [
        f"judges: {value}\n    unit: mm\n    {unless}{WIDE}"
        for value, unless in (
            ("height", "unless: known(made)\n    "),
            ("height", "unless: known(after)\n    "),
            ("height", "unless: known(most)\n    "),
            ("greatest_known(after, height)", ""),
        )
    ]
    book = rulebook(tmp_path, *rules, head=head)
    refused = verdicts(judged(book, "width: [20 mm, 3 mm], height: [6 mm, 6 mm]", TWO))
    assert refused == [Verdict.NOT_MEASURED] * 4
    unknown = verdicts(judged(book, "height: [6 mm, 6 mm]", TWO))
    assert unknown == [Verdict.WITHIN] * 4


ROOM: Array = np.empty((1, 2))


def over_its_last(values: Array) -> Array:
    """Writes each result where the one before stands."""
    return np.multiply(2, values, out=ROOM)


def over_what_it_is_given(values: Array) -> Array:
    values *= 2
    return values


@pytest.mark.parametrize(
    ("call", "judges", "verdict"),
    [
        (over_its_last, "twice(2*width) - twice(width)", Verdict.OUTSIDE),
        (over_what_it_is_given, "twice(2*width) - 2*width", Verdict.UNDECIDED),
    ],
)
def test_nothing_is_judged_by_what_a_function_wrote_over(
    call: Callable[[Array], Array], judges: str, verdict: Verdict, tmp_path: Path
) -> None:
    """Either way the two terms were the same numbers, and their difference nothing at all."""
    limits = "limits: {any: {must: {at_most: 1 mm}}}\n    remedy: {high: Less.}"
    twice = Function("twice", (LENGTH,), LENGTH, call=call, plugin="shop 1.0")
    book = rulebook(tmp_path, f"judges: {judges}\n    unit: mm\n    {limits}", functions={"twice": twice})
    report = judged(book, "width: [6.5 mm, 3 mm], height: [3 mm, 1 mm]", TWO)
    assert verdicts(report) == [verdict]
