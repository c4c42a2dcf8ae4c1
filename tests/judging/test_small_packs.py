"""What packs of a shop's own can say that the shipped ones do not: small packs, judged through the public API."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from pack_tools import plugins_with, write_pack
from small_packs import HEAD, at, judged, rulebook

from checker import (
    InputError,
    PackError,
    UsageError,
    Verdict,
    load_rulebook,
    record_from_text,
    write_text,
)
from checker.documents.document import parse_yaml
from checker.judging.evidence import evidence_of
from checker.judging.gathering import columns_of
from checker.records.instruments import instruments_of
from checker.records.layout import Layout
from checker.records.record import record_in


def test_a_must_that_no_fact_at_hand_brings_a_limit_for_is_not_judged(tmp_path: Path) -> None:
    """Bronze and steel have limits, brass has none: that is no reason to go on."""
    rule = """judges: width
    limits:
      - {application: any, when: alloy is bronze, must: {at_least: 5 mm}}
      - {application: any, when: alloy is steel, must: {at_least: 3 mm}}
    remedy: {low: "{limit - value} more."}"""
    book = rulebook(tmp_path, rule)
    for alloy, verdict, status in (("steel", Verdict.WITHIN, 0), ("brass", Verdict.NOT_COVERED, 3)):
        found = judged(book, f"width: 4, alloy: {alloy}", "stations: {gear: 1}\nunits: {length: mm}")
        assert (at(found).verdict, found.status, found.must_open) == (verdict, status, bool(status))
    assert "no limit is known for Any use with these facts" in at(found).remarks[0]
    sheet = "part_limits: {width: {at_least: 3.5 mm, source: maker's sheet}}"
    with_sheet = judged(book, "width: 4, alloy: brass", f"stations: {{gear: 1}}\nunits: {{length: mm}}\n{sheet}")
    assert (at(with_sheet).verdict, with_sheet.status) == (Verdict.WITHIN, 0)


def test_a_rule_that_compares_stations_asks_for_the_missing_one_at_each(tmp_path: Path) -> None:
    rule = "judges: abs(width - mean(width))\n    unit: mm\n    limits: {any: {must: {at_most: 0.1 mm}}}\n"
    rule += '    remedy: {high: "Less."}'
    found = judged(rulebook(tmp_path, rule), "width: {1: 5 mm, 3: 5 mm}", "stations: {gear: 3}")
    assert [[gap.station for gap in finding.missing] for finding in found.not_measured] == [[2], [2], [2]]


def test_a_remedy_may_look_at_the_stations_that_belong_to_its_own(tmp_path: Path) -> None:
    rule = """judges: width
    limits: {any: {must: {at_least: 5 mm}}}
    remedy: {low: "The tallest tooth stands {greatest(height - value)} proud of any gear."}"""
    more = "stations: {gear: 2, tooth: 4}"
    found = judged(rulebook(tmp_path, rule), "width: [4 mm, 3 mm], height: [4 mm, 5 mm, 6 mm, 7 mm]", more)
    assert [finding.remedy for finding in found.outside] == ["The tallest tooth stands 4.00 mm proud of any gear."] * 2


@pytest.mark.parametrize("name", ["value", "limit"])
def test_what_a_remedy_calls_its_value_is_no_name_for_a_characteristic(name: str, tmp_path: Path) -> None:
    head = HEAD.replace("alloy:", f"{name}: {{title: Other, unit: mm, plausible: [1 mm, 9 mm]}}\n  alloy:")
    with pytest.raises(PackError, match=f"'{name}'"):
        load_rulebook(write_pack(tmp_path, pack=head), plugins=plugins_with())


def test_two_packs_of_one_name_are_an_error(tmp_path: Path) -> None:
    folders = [write_pack(tmp_path / name, pack=HEAD) for name in ("one", "two")]
    with pytest.raises(PackError, match="two packs are called 'trial'"):
        load_rulebook(*folders, plugins=plugins_with())
    assert load_rulebook(folders[0], folders[0], plugins=plugins_with()).packs


def test_a_flag_names_only_the_readings_it_is_about(tmp_path: Path) -> None:
    """One day still to come: the reading at gear 1 is older than its part, those at 2 and 3 are judged."""
    rule = 'judges: width\n    limits: {any: {must: {at_least: 3 mm}}}\n    remedy: {low: "More."}'
    more = "stations: {gear: 3}\nparts: {gear 1: {fitted: 2026-01-01, bears_on: [width], stations: [1]}}"
    found = judged(rulebook(tmp_path, rule), "width: {taken: 2999-01-01, values: [5 mm, 5 mm, 5 mm]}", more)
    told = {(flag.where, flag.is_refused) for flag in found.flags}
    assert told == {("gear 1", True), ("gear 1 to 3", False)}


def test_the_names_of_objects_are_short(tmp_path: Path) -> None:
    rule = 'judges: width\n    limits: {any: {must: {at_least: 6 mm}}}\n    remedy: {low: "More."}'
    found = judged(rulebook(tmp_path, rule), "width: [5 mm]", "stations: {gear: 1}")
    assert repr(found) == "<Report on record.yaml for any-use: status 1>"
    assert len(repr(found.outside[0])) < 5000
    assert found != judged(rulebook(tmp_path, rule), "width: [5 mm]", "stations: {gear: 1}")


def test_a_warm_part_is_doubtful_where_no_pack_names_a_material(tmp_path: Path) -> None:
    rule = 'judges: width\n    limits: {any: {must: {at_least: 3 mm}}}\n    remedy: {low: "More."}'
    more = "stations: {gear: 1}\ntemperatures: {parts: 45 degC}"
    found = judged(rulebook(tmp_path, rule), "width: [50.000 mm]", more)
    assert "on what material" in found.notes[0].message


# --- Nothing that is doubtful passes: ways found by trying ------------------------------------------------------------

GEARS = "stations: {gear: 1}"
STATED = "instruments: {rule: {expanded_uncertainty: 5 mm}}"


def verdict(folder: Path, rule: str, readings: str, more: str = GEARS) -> tuple[Verdict, int]:
    """What the one rule says of the first station, and the exit status."""
    found = judged(rulebook(folder, rule), readings, more)
    return at(found).verdict, found.status


def test_a_part_sheet_makes_no_unknown_limit_known(tmp_path: Path) -> None:
    rule = "judges: height\n    limits: {any: {must: {at_least: 0.5*width}}}\n    remedy: {low: More.}"
    sheet = "stations: {gear: 1, tooth: 1}\npart_limits: {height: {at_most: 50 mm, source: sheet}}"
    assert verdict(tmp_path, rule, "height: [2 mm]", sheet) == (Verdict.NOT_MEASURED, 3)
    assert verdict(tmp_path, rule, "height: [2 mm], width: [3 mm]", sheet) == (Verdict.WITHIN, 0)
    assert verdict(tmp_path, rule, "height: [60 mm], width: [3 mm]", sheet) == (Verdict.OUTSIDE, 1)


def test_a_demand_that_no_fact_brings_is_not_covered(tmp_path: Path) -> None:
    rule = """judges: width >= 5 mm
    limits: [{application: any, when: alloy is steel, must: true}]
    remedy: {broken: More.}"""
    assert verdict(tmp_path, rule, "width: [9 mm], alloy: brass") == (Verdict.NOT_COVERED, 3)
    assert verdict(tmp_path, rule, "width: [9 mm], alloy: steel") == (Verdict.WITHIN, 0)
    assert verdict(tmp_path, rule, "width: [9 mm]") == (Verdict.NOT_MEASURED, 3)


STEPS = HEAD.replace("alloy:", "steps: {title: Steps, unit: N m, plausible: [1 N m, 500 N m], series: true}\n  alloy:")


@pytest.mark.parametrize(
    ("steps", "more", "expected"),
    [
        ("[30 N m, 50 N m, 70 N m]", "", Verdict.WITHIN),
        ("{with: wrench, readings: [30 N m, 50 N m, 70 N m]}", "expanded_uncertainty: 4 N m", Verdict.WITHIN),
        ("{with: wrench, readings: [30 N m, 50 N m, 70 N m]}", "expanded_uncertainty: 100 N m", Verdict.UNDECIDED),
        ("[30 - 60 N m, 50 N m, 70 N m]", "", Verdict.NOT_MEASURED),
    ],
)
def test_the_order_of_doubtful_readings_cannot_be_told(
    steps: str, more: str, expected: Verdict, tmp_path: Path
) -> None:
    rule = "judges: rises(steps)\n    limits: {any: {must: true}}\n    remedy: {broken: Rise.}"
    listed = f"instruments: {{wrench: {{{more}}}}}" if more else ""
    found = judged(rulebook(tmp_path, rule, head=STEPS), f"steps: {steps}", listed)
    assert at(found).verdict is expected


@pytest.mark.parametrize("count", [12, 13, 20])
def test_many_intervals_are_tried_together_and_still_decide_what_is_plain(count: int, tmp_path: Path) -> None:
    """Each width 1 to 12 mm: the least may be more than 10 mm, whichever of them is moved alone."""
    rule = "judges: least(width)\n    unit: mm\n    limits: {any: {must: {at_most: 10 mm}}}\n    remedy: {high: Less.}"
    more = f"stations: {{gear: {count}}}"
    for size, expected in (("1 - 12", "UNDECIDED"), ("1 - 2", "WITHIN"), ("50 - 51", "OUTSIDE")):
        readings = f"width: [{', '.join([f'{size} mm'] * count)}]"
        assert verdict(tmp_path, rule, readings, more)[0] is Verdict[expected]


def test_what_was_refused_is_not_unknown(tmp_path: Path) -> None:
    """A reading that is stale or impossible does not make a rule for those who have measured it inapplicable."""
    rule = """judges: height
    when: known(width)
    limits: {any: {must: {at_least: 9 mm}}}
    remedy: {low: More.}"""
    more = "stations: {gear: 1, tooth: 1}"
    assert verdict(tmp_path, rule, "height: [2 mm], width: [3 mm]", more) == (Verdict.OUTSIDE, 1)
    assert verdict(tmp_path, rule, "height: [2 mm]", more) == (Verdict.NOT_APPLICABLE, 3)
    assert verdict(tmp_path, rule, "height: [2 mm], width: [300 mm]", more) == (Verdict.NOT_MEASURED, 3)
    stale = f"{more}\nparts: {{cutter: {{fitted: 2026-05-01, bears_on: [width]}}}}"
    found = judged(rulebook(tmp_path, rule), "height: [2 mm], width: {taken: 2026-04-01, values: [3 mm]}", stale)
    assert (at(found).verdict, found.status) == (Verdict.NOT_MEASURED, 3)
    assert "cutter fitted on 2026-05-01" in str(at(found).missing[0])


@pytest.mark.parametrize(("value", "first"), [("11 mm", 0), ("1.1e-2 m", 0), ("11 mm (0.4331)", 1)])
def test_a_concession_counts_to_the_last_digit_it_was_given_for(value: str, first: int, tmp_path: Path) -> None:
    """Which digit is the last of a value in two units is not plain; 0.4331 in is not quite 11 mm."""
    rule = "judges: width\n    limits: {any: {must: {at_most: 10 mm}}}\n    remedy: {high: Less.}"
    given = f"{{rule: rule-1, by: lead, dated: 2026-01-01, because: Trial., value: {value}}}"
    for width, status in (("11 mm", first), ("13 mm", 1), ("60 mm", 1)):
        assert verdict(tmp_path, rule, f"width: [{width}]", f"{GEARS}\nconcessions: [{given}]")[1] == status


def test_what_lies_on_its_limit_is_not_to_be_measured_more_precisely(tmp_path: Path) -> None:
    rule = "judges: width\n    limits: {any: {must: {at_most: 10 mm}}}\n    remedy: {high: Less.}"
    gauge = f"{GEARS}\ninstruments: {{calliper: {{expanded_uncertainty: 0.05 mm}}}}"
    for width, advice in (("10.00", "no instrument can decide"), ("9.99", "measure more precisely")):
        found = judged(rulebook(tmp_path, rule), f"width: {{with: calliper, values: [{width} mm]}}", gauge)
        assert at(found).verdict is Verdict.UNDECIDED
        assert f"do: {advice}" in " ".join(write_text(found).split())


def test_a_use_or_milestone_that_is_not_known_is_told_where_it_stands(tmp_path: Path) -> None:
    book = rulebook(tmp_path, "judges: width\n    limits: {any: {must: {at_least: 1 mm}}}\n    remedy: {low: More.}")
    with pytest.raises(UsageError, match=r"record\.yaml:5:1: before: no milestone 'don'"):
        judged(book, "width: [5 mm]", "before: don")
    stated = judged(book, "width: [5 mm]", GEARS).record
    with pytest.raises(UsageError, match=r"record\.yaml:3:1: application: no application 'any-uses'"):
        book.check(stated._replace(application="any-uses"))
    with pytest.raises(UsageError, match=r"^no application 'some-use'"):
        book.check(stated, application="some-use")


def test_wrong_names_and_wrong_readings_are_told_together(tmp_path: Path) -> None:
    book = rulebook(tmp_path, "judges: width\n    limits: {any: {must: {at_least: 1 mm}}}\n    remedy: {low: More.}")
    with pytest.raises(InputError) as found:
        judged(book, "width: [5 kg], widht: [5 mm]", "before: don\ninspection: thorough\nscope: [none]")
    told = [str(problem.place).rpartition(": ")[2] for problem in found.value.problems]
    assert told == ["before", "inspection", "scope", "readings.width, entry 1", "readings.widht, entry 1"]


def test_a_station_count_may_be_written_with_a_point(tmp_path: Path) -> None:
    rule = "judges: width\n    limits: {any: {must: {at_most: 10 mm}}}\n    remedy: {high: Less.}"
    assert verdict(tmp_path, rule, "width: [5 mm, 5 mm]", "stations: {gear: 2.0}") == (Verdict.WITHIN, 0)


@pytest.mark.parametrize(
    "rule",
    [
        "judges: width\n    per_unit_of: alloy\n    limits: {any: {must: {at_least: 1}}}\n    remedy: {low: More.}",
        'judges: width\n    limits: {any: {must: {at_least: 5 mm}}}\n    remedy: {low: "{alloy}"}',
        'judges: width\n    limits: {any: {must: {at_least: 5 mm}}}\n    remedy: {low: "{value > 1*mm}"}',
        "judges: width**0.0004\n    limits: {any: {must: {at_least: 1}}}\n    remedy: {low: More.}",
    ],
)
def test_what_gives_no_number_is_told_and_not_used(rule: str, tmp_path: Path) -> None:
    with pytest.raises(PackError):
        rulebook(tmp_path, rule)


@pytest.mark.parametrize(
    "judges",
    [
        "width > 10 mm or height > 10 mm",
        "greatest(height) > 10 mm",
        "count(height > 10 mm) >= 2",
        "width + height > 20 mm",
    ],
)
@pytest.mark.parametrize("decision", ["decision: guarded", STATED])
def test_what_no_reading_turns_alone_two_may_turn_together(judges: str, decision: str, tmp_path: Path) -> None:
    rule = f"judges: {judges}\n    limits: {{any: {{must: true}}}}\n    remedy: {{broken: More.}}"
    more = f"stations: {{gear: 1, tooth: 4}}\n{decision}"
    held = "with: rule, " if decision == STATED else ""
    readings = f"width: {{{held}values: [11 mm]}}, height: {{{held}values: [11 mm, 11 mm, 11 mm, 11 mm]}}"
    assert verdict(tmp_path, rule, readings, more) == (Verdict.UNDECIDED, 3)
    if decision == STATED:
        more = more.replace("5 mm", "0.1 mm")
        assert verdict(tmp_path, rule, readings, more) == (Verdict.WITHIN, 0)


def test_whether_a_rule_applies_may_hang_on_two_readings_together(tmp_path: Path) -> None:
    rule = """judges: height
    when: width > 10 mm or height > 10 mm
    limits: {any: {must: {at_least: 50 mm}}}
    remedy: {low: More.}"""
    more = f"stations: {{gear: 1, tooth: 1}}\n{STATED}"
    readings = "width: {with: rule, values: [11 mm]}, height: {with: rule, values: [11 mm]}"
    assert verdict(tmp_path, rule, readings, more) == (Verdict.UNDECIDED, 3)


def test_an_interval_is_looked_into_where_the_rule_may_bend(tmp_path: Path) -> None:
    """Between 0 and 40 mm the width passes 20 mm, at which the difference is nothing."""
    rule = "judges: abs(width - height)\n    unit: mm\n    limits: {any: {must: {at_least: 5 mm}}}\n"
    rule += "    remedy: {low: More.}"
    readings = "width: [1 - 39 mm], height: [20 mm]"
    assert verdict(tmp_path, rule, readings, "stations: {gear: 1, tooth: 1}") == (Verdict.UNDECIDED, 3)


@pytest.mark.parametrize("source", ["record.yaml", "record.json"])
def test_a_record_need_not_be_a_file(source: str, tmp_path: Path) -> None:
    book = rulebook(tmp_path, "judges: width\n    limits: {any: {must: {at_least: 1 mm}}}\n    remedy: {low: More.}")
    data = {"record": 1, "assembly": "Test", "application": "any-use", "rule_packs": {"trial": ">=1"}}
    text = json.dumps({**data, "stations": {"gear": 1}, "readings": {"width": ["5 mm"]}})
    assert book.check(record_from_text(text, source)).status == 0
    with pytest.raises(InputError, match=source):
        record_from_text(text.replace("assembly", "asembly"), source)


def test_a_condition_in_doubt_leaves_alone_what_does_not_hang_on_it(tmp_path: Path) -> None:
    """Whether the should counts is in doubt: nothing else is."""
    rule = """judges: height
    limits:
      - {application: any, must: {at_least: 5 mm}}
      - {application: any, when: width > 10 mm or height > 10 mm, should: {at_least: 6 mm}}
    remedy: {low: More.}"""
    more = f"stations: {{gear: 1, tooth: 1}}\n{STATED}"
    for height, expected in (("1 mm", Verdict.OUTSIDE), ("50 mm", Verdict.WITHIN)):
        readings = f"width: {{with: rule, values: [11 mm]}}, height: [{height}]"
        assert verdict(tmp_path, rule, readings, more)[0] is expected


@pytest.mark.parametrize(
    "judges",
    ["mean(width) - mean(height) > 10 mm", "least(width) - greatest(height) > 9.2 mm"],
)
def test_a_condition_on_a_difference_is_no_more_certain_than_the_difference(judges: str, tmp_path: Path) -> None:
    rule = f"judges: {judges}\n    limits: {{any: {{must: true}}}}\n    remedy: {{broken: More.}}"
    more = f"stations: {{gear: 3, tooth: 3}}\n{STATED.replace('5 mm', '1 mm')}"
    readings = "width: {with: rule, values: [20.5 mm, 20.5 mm, 20.5 mm]}, "
    readings += "height: {with: rule, values: [10 mm, 10 mm, 10 mm]}"
    assert verdict(tmp_path, rule, readings, more) == (Verdict.UNDECIDED, 3)


def test_a_condition_on_an_interval_is_tried_from_both_its_ends(tmp_path: Path) -> None:
    rule = """judges: width > 10 mm or height > 10 mm or greatest(height) > 10 mm
    limits: {any: {must: true}}
    remedy: {broken: More.}"""
    more = f"stations: {{gear: 1, tooth: 2}}\n{STATED}"
    for first in ("4 mm", "4 - 18 mm"):
        readings = f"width: [{first}], height: {{with: rule, values: [11 mm, 11 mm]}}"
        assert verdict(tmp_path, rule, readings, more) == (Verdict.UNDECIDED, 3)


def test_what_comes_out_impossible_is_not_unknown(tmp_path: Path) -> None:
    head = HEAD.replace(
        "  alloy:",
        "  sum: {title: Sum, per: tooth, unit: mm, plausible: [1 mm, 100 mm], derived: width + height}\n  alloy:",
    )
    rule = (
        "judges: height\n    when: known(sum)\n    limits: {any: {must: {at_least: 90 mm}}}\n    remedy: {low: More.}"
    )
    book = rulebook(tmp_path, rule, head=head)
    for width, expected in (("30 mm", Verdict.OUTSIDE), ("60 mm", Verdict.NOT_MEASURED)):
        found = judged(book, f"width: [{width}], height: [60 mm]", "stations: {gear: 1, tooth: 1}")
        assert at(found).verdict is expected
    with pytest.raises(PackError, match="takes a characteristic by its name"):
        rulebook(tmp_path, rule.replace("known(sum)", "known(width + height)"))


def test_what_no_table_covers_is_not_known(tmp_path: Path) -> None:
    table = "tables:\n  step: {x: {unit: mm}, y: {unit: mm}, stepped: [[10, 1], [20, 2]], up_to: 30, "
    table += "basis: shop policy}\n"
    play = "{title: Play, per: gear, unit: mm, plausible: [0.5 mm, 9 mm], derived: step(width)}"
    head = HEAD.replace("characteristics:", f"{table}characteristics:\n  play: {play}")
    rule = (
        "judges: width\n    when: known(play)\n    limits: {any: {must: {at_least: 90 mm}}}\n    remedy: {low: More.}"
    )
    book = rulebook(tmp_path, rule, head=head)
    for width, expected in (("15 mm", Verdict.OUTSIDE), ("40 mm", Verdict.NOT_APPLICABLE)):
        assert at(judged(book, f"width: [{width}]", "stations: {gear: 1}")).verdict is expected


def test_what_moves_one_reading_for_another_rule_does_not_hide_the_doubt_about_this_one(tmp_path: Path) -> None:
    """Where both sizes moved together, their difference looked certain: U = sqrt(2**2 + 2**2), JCGM 100:2008, 5.1.2."""
    rule = "judges: larger_of(width - height, mean(width) - 90 mm)\n    unit: mm\n"
    rule += "    limits: {any: {must: {at_least: 1 mm}}}\n    remedy: {low: More.}"
    other = "judges: width\n    limits: {any: {must: {at_least: 1 mm}}}\n    remedy: {low: More.}"
    readings = "width: {with: gauge, values: [9 mm]}, height: {with: gauge, values: [6 mm]}"
    more = "stations: {gear: 1, tooth: 1}\ninstruments: {gauge: {expanded_uncertainty: 2 mm}}"
    found = at(judged(rulebook(tmp_path, rule, other), readings, more))
    assert (found.verdict, found.uncertainty) == (Verdict.UNDECIDED, pytest.approx(0.002 * 2**0.5))


@pytest.mark.parametrize("view", ["least_reading", "greatest_reading"])
def test_what_an_instrument_gives_to_all_its_readings_moves_the_least_and_the_greatest(
    view: str, tmp_path: Path
) -> None:
    limits = {"least_reading": "at_least: 4.5 mm", "greatest_reading": "at_most: 5.7 mm"}[view]
    rule = f"judges: {view}(width)\n    unit: mm\n    limits: {{any: {{must: {{{limits}}}}}}}\n"
    rule += "    remedy: {low: More., high: Less.}"
    readings = "width: {with: gauge, readings: [5.0 mm, 5.2 mm]}"
    more = "stations: {gear: 1}\ninstruments: {gauge: {expanded_uncertainty: 1 mm, shared: 1 mm}}"
    found = at(judged(rulebook(tmp_path, rule), readings, more))
    assert (found.verdict, found.uncertainty) == (Verdict.UNDECIDED, pytest.approx(0.001))


def test_a_value_off_the_end_of_a_table_is_not_covered(tmp_path: Path) -> None:
    table = "tables: {steps: {title: Steps, x: {unit: mm}, y: {unit: mm}, stepped: [[0, 3], [10, 8]], up_to: 20, "
    head = f"{HEAD}{table}basis: {{kind: shop policy}}}}}}\n"
    rule = "judges: steps(width)\n    unit: mm\n    limits: {any: {must: {at_least: 2 mm}}}\n    remedy: {low: More.}"
    book = rulebook(tmp_path, rule, head=head)
    for width, verdict in ((15, Verdict.WITHIN), (25, Verdict.NOT_COVERED)):
        assert at(judged(book, f"width: [{width} mm]", "stations: {gear: 1}")).verdict is verdict


def test_advice_off_the_end_of_a_table_is_told_as_that(tmp_path: Path) -> None:
    """What is required is known and holds: that no limit were known, or a check still open, is not so."""
    table = "tables: {steps: {title: Steps, x: {unit: mm}, y: {unit: mm}, stepped: [[0, 3], [10, 8]], up_to: 20, "
    head = f"{HEAD}{table}basis: {{kind: shop policy}}}}}}\n"
    limits = "{any: {must: {at_most: 60 mm}, should: {at_most: steps(width) * 10}}}"
    book = rulebook(tmp_path, f"judges: width\n    limits: {limits}\n    remedy: {{high: Less.}}", head=head)
    found = at(judged(book, "width: [30 mm]", "stations: {gear: 1}"))
    assert (found.verdict, found.remarks) == (Verdict.NOT_COVERED, ("beyond the end of the table",))
    assert not found.must_open
    assert at(judged(book, "width: [61 mm]", "stations: {gear: 1}")).breaks_must
    near = "stations: {gear: 1}\ninstruments: {gauge: {expanded_uncertainty: 1 mm}}"
    assert at(judged(book, "width: {with: gauge, values: [59.5 mm]}", near)).must_open


@pytest.mark.parametrize(
    "judges", ["hypot(steps(width), 5 mm)", "abs(steps(width))", "larger_of(smaller_of(abs(steps(width)), 5 mm), 2 mm)"]
)
def test_an_interval_that_leaves_a_table_shows_nothing_whatever_is_made_of_it(judges: str, tmp_path: Path) -> None:
    table = "tables: {steps: {title: Steps, x: {unit: mm}, y: {unit: mm}, stepped: [[0, 3], [10, 8]], up_to: 20, "
    head = f"{HEAD}{table}basis: {{kind: shop policy}}}}}}\n"
    rule = (
        f"judges: {judges}\n    unit: mm\n    limits: {{any: {{must: {{at_least: 1 mm}}}}}}\n    remedy: {{low: More.}}"
    )
    book = rulebook(tmp_path, rule, head=head)
    for width, verdict in (("[5 mm, 15 mm]", Verdict.WITHIN), ("[2 mm, 25 mm]", Verdict.UNDECIDED)):
        assert at(judged(book, f"width: [{{between: {width}}}]", "stations: {gear: 1}")).verdict is verdict


def test_doubt_of_one_rule_does_not_hang_on_the_rules_beside_it(tmp_path: Path) -> None:
    """Independent uncertainties add as squares (JCGM 100:2008, 5.1.2), whatever another rule makes of one of them."""
    head = f"{HEAD}  base: {{title: Base, unit: mm, plausible: [1 mm, 100 mm]}}\n"
    limit = 'unit: mm\n    limits: {any: {must: {at_most: 50 mm}}}\n    remedy: {high: "Less."}'
    rules = [f"judges: {judges}\n    {limit}" for judges in ("greatest(width) - base", "width", "base")]
    listed = "instruments: {one: {expanded_uncertainty: 0.03 mm}, other: {expanded_uncertainty: 0.04 mm}}"
    readings = "width: {with: one, values: {1: 10 mm}}, base: {with: other, value: 4 mm}"
    found = judged(rulebook(tmp_path, *rules, head=head), readings, f"stations: {{gear: 1}}\n{listed}")
    (apart,) = (finding for finding in found.findings if finding.name == "rule-1")
    assert apart.uncertainty * 1000 == pytest.approx(0.05, rel=1e-9)


def neighbours_alike(more: str = "") -> str:
    return f"""judges: abs(next(width) - width){more}
    unit: mm
    limits: {{any: {{must: {{at_most: 0.1 mm}}}}}}
    remedy: {{high: "One is {{value - 0.05 mm in mm}} too large."}}"""


def test_a_rule_on_neighbours_does_not_apply_at_the_end_of_the_line(tmp_path: Path) -> None:
    found = judged(rulebook(tmp_path, neighbours_alike()), "width: [5 mm, 5.05 mm, 5.3 mm]", "stations: {gear: 3}")
    assert [at(found, station).verdict for station in (1, 2, 3)] == [
        Verdict.WITHIN,
        Verdict.OUTSIDE,
        Verdict.NOT_APPLICABLE,
    ]
    assert at(found, 2).remedy == "One is 0.20 mm too large."
    assert at(found, 3).remarks == ("applies only when there is a next gear",)
    alone = judged(rulebook(tmp_path / "alone", neighbours_alike()), "width: 5 mm", "stations: {gear: 1}")
    assert at(alone).verdict is Verdict.NOT_APPLICABLE


def test_a_rule_on_neighbours_may_have_a_condition_of_its_own(tmp_path: Path) -> None:
    book = rulebook(tmp_path, neighbours_alike("\n    when: alloy is steel"))
    for alloy, verdict in (("steel", Verdict.OUTSIDE), ("brass", Verdict.NOT_APPLICABLE)):
        found = judged(book, f"width: [5 mm, 6 mm], alloy: {alloy}", "stations: {gear: 2}")
        assert [at(found, station).verdict for station in (1, 2)] == [verdict, Verdict.NOT_APPLICABLE]


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("judges: width\n    when: next(width) > 5 mm\n    limits: {any: {must: {at_least: 1 mm}}}", "end of a line"),
        ("judges: width\n    limits: {any: {must: {at_least: next(width) - 1 mm}}}", "end of a line"),
        ("judges: width\n    limits: {any: {must: {at_least: 5 tohu}}}", "'tohu'"),
        ("judges: width\n    limits: {any: {must: {at_least: 5 mm + 5 tohu}}}", "'tohu' is not a unit"),
    ],
)
def test_what_has_no_value_everywhere_is_no_limit(tmp_path: Path, rule: str, words: str) -> None:
    with pytest.raises(PackError, match=words):
        rulebook(tmp_path, rule + '\n    remedy: {low: "More."}')


def test_a_derivation_has_a_value_at_every_station(tmp_path: Path) -> None:
    derived = "  step: {title: Step, per: gear, unit: mm, plausible: [-99 mm, 99 mm], derived: next(width) - width}\n"
    with pytest.raises(PackError, match="no value at the end of a line"):
        rulebook(tmp_path, neighbours_alike(), head=HEAD + derived)


def test_a_limit_may_add_quantities_of_any_unit(tmp_path: Path) -> None:
    rule = """judges: width
    limits: {any: {must: {at_most: 1 in + 5 thou if known(alloy is bronze) else 1 in}}}
    remedy: {high: "Off with {value - limit}."}"""
    book = rulebook(tmp_path, rule)
    for alloy, verdict in (("bronze", Verdict.WITHIN), ("brass", Verdict.OUTSIDE)):
        assert at(judged(book, f"width: 25.5 mm, alloy: {alloy}", "stations: {gear: 1}")).verdict is verdict
    assert at(judged(book, "width: 25.5 mm", "stations: {gear: 1}")).verdict is Verdict.OUTSIDE


# --- What a changed line of the judging code would turn ---------------------------------------------------------------

LEAST = "judges: {judged}\n    limits: {{any: {{must: {{at_least: {least} mm}}}}}}\n    remedy: {{low: More.}}"


@pytest.mark.parametrize("count", [2, 14])
def test_many_intervals_together_may_still_hold_what_none_would_by_itself(count: int, tmp_path: Path) -> None:
    """The middles break the limit and so does any one interval at its upper end; all of them there would hold it."""
    rule = LEAST.format(judged="mean(width)\n    unit: mm", least=8)
    more = f"stations: {{gear: {count}}}"
    for size, expected in (("4 - 10", Verdict.UNDECIDED), ("4 - 7", Verdict.OUTSIDE), ("9 - 10", Verdict.WITHIN)):
        readings = f"width: [{', '.join([f'{size} mm'] * count)}]"
        assert verdict(tmp_path, rule, readings, more)[0] is expected


@pytest.mark.parametrize("gauges", [("coarse", "fine"), ("fine", "coarse")])
def test_of_two_gauges_at_one_place_the_poorer_counts(gauges: tuple[str, str], tmp_path: Path) -> None:
    book = rulebook(tmp_path, LEAST.format(judged="width", least=5))
    more = f"{GEARS}\ninstruments: {{coarse: {{expanded_uncertainty: 1 mm}}, fine: {{expanded_uncertainty: 0.01 mm}}}}"
    text = f"record: 1\nassembly: Test\napplication: any-use\n{more}\nreadings: {{width: 5.5 mm}}"
    record = record_in(parse_yaml(text.encode(), "record.yaml"))
    (one,) = evidence_of(book.compiled, book.blank, record, date(2026, 1, 1)).readings
    readings = [one._replace(instrument=gauge) for gauge in gauges]
    known = instruments_of(record, {}, {}, [])
    columns = columns_of(readings, book.characteristics, Layout({"gear": 1}), known)
    assert columns.gathered["width"].own[0, 0] == pytest.approx(1e-3)


@pytest.mark.parametrize("lost", ["width: [300 mm]", "width: {taken: 2026-04-01, values: [3 mm]}"])
def test_what_is_derived_from_a_refused_reading_is_not_unknown(lost: str, tmp_path: Path) -> None:
    """Be it straight or by way of another derived value; what was never read is unknown."""
    play = "  play: {title: Play, per: gear, unit: mm, plausible: [-99 mm, 99 mm], derived: width - 1 mm}\n"
    rest = "  rest: {title: Rest, per: gear, unit: mm, plausible: [-99 mm, 99 mm], derived: play - 1 mm}\n"
    more = "stations: {gear: 1, tooth: 1}\nparts: {cutter: {fitted: 2026-05-01, bears_on: [width]}}"
    for name in ("play", "rest"):
        rule = LEAST.format(judged="height", least=9).replace("\n", f"\n    when: known({name})\n", 1)
        book = rulebook(tmp_path, rule, head=HEAD + play + rest)
        found = judged(book, f"height: {{taken: 2026-06-01, values: [2 mm]}}, {lost}", more)
        assert (at(found).verdict, found.status) == (Verdict.NOT_MEASURED, 3)
        assert at(judged(book, "height: [2 mm]", more)).verdict is Verdict.NOT_APPLICABLE


@pytest.mark.parametrize(
    ("alloy", "verdict"),
    [("steel", Verdict.WITHIN), ("bronze", Verdict.OUTSIDE), ("brass", Verdict.OUTSIDE), (None, Verdict.NOT_MEASURED)],
)
def test_what_is_derived_by_a_fact_is_known_with_the_fact_only(
    alloy: str | None, verdict: Verdict, tmp_path: Path
) -> None:
    derived = "derived: {alloy: {steel: 6 mm, bronze: width/2, else: 2 mm}}"
    need = f"need: {{title: Need, per: gear, unit: mm, plausible: [1 mm, 9 mm], {derived}}}"
    rule = "judges: need\n    limits: {any: {must: {at_least: 5 mm}}}\n    remedy: {low: Other metal.}"
    book = rulebook(tmp_path, rule, head=HEAD.replace("alloy:", f"{need}\n  alloy:"))
    found = judged(book, f"width: 8 mm{f', alloy: {alloy}' if alloy else ''}", "stations: {gear: 1}")
    assert at(found).verdict is verdict


def test_what_comes_out_impossible_is_open_for_every_use(tmp_path: Path) -> None:
    """A width of 60 mm is possible, three times that is not: what the plan leaves out is open until it is put right."""
    made = "{title: Made, per: gear, unit: mm, plausible: [0 mm, 90 mm], derived: 3*width}"
    head = HEAD.replace("  alloy:", f"  made: {made}\n  alloy:")
    head = head.replace("characteristics:", "control_plan: {leaves_out: {rule-1: bought so}}\ncharacteristics:")
    rule = "judges: made\n    unit: mm\n    limits: {any: {must: {at_most: 80 mm}}}\n    remedy: {high: Less.}"
    book = rulebook(tmp_path, rule, head=head)
    alone = judged(book, "width: [60 mm]", "stations: {gear: 1, tooth: 1}")
    [among_all] = book.check_uses(alone.record)
    for report in (alone, among_all):
        assert at(report).verdict is Verdict.NOT_MEASURED
        assert report.status == 3
        assert [flag.characteristic for flag in report.flags] == ["made"]


HEAD_OF_SERIES = """
pack: trial
version: 1.0.0
rule_language: 1
title: Trial
applications: {any-use: {title: Any use}}
milestones: [done]
stations: {gear: {title: Gear}, tooth: {title: Tooth, of: gear}}
characteristics:
  steps: {title: Steps, per: gear, unit: N.m, plausible: [1 N.m, 300 N.m], series: true}
  order: {title: Order, per: gear, plausible: [1, 12], series: true}
"""


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        ("steps: {1: [10 N.m, 20 N.m, 30 N.m]}, order: {1: [2, 1, 3]}", ["within", "within"]),
        ("steps: {1: [10 N.m, '-', 30 N.m]}, order: {1: [2, 1, '?']}", ["not measured", "not measured"]),
        ("steps: {1: ['', 10 N.m, 20 N.m]}, order: {1: [1, '']}", ["not measured", "not measured"]),
        ("steps: {1: [30 N.m, '-', 10 N.m]}, order: {1: [1, '-', 1]}", ["outside", "outside"]),
        ("steps: {1: ['10 - 20 N.m', 15 N.m, '-']}, order: {1: [1, '-', 4]}", ["not measured", "not measured"]),
    ],
)
def test_a_series_with_a_gap_is_in_no_order(readings: str, expected: list[str], tmp_path: Path) -> None:
    """What was not measured may be anything; only what no value can mend is broken."""
    rules = (
        f"judges: {judged_as}\n    limits: {{any: {{must: true}}}}\n    remedy: {{broken: Again.}}"
        for judged_as in ("rises(steps)", "is_permutation(order)")
    )
    book = rulebook(tmp_path, *rules, head=HEAD_OF_SERIES)
    found = {finding.name: str(finding.verdict) for finding in judged(book, readings, "stations: {gear: 1}").findings}
    assert [found["rule-1"], found["rule-2"]] == expected
