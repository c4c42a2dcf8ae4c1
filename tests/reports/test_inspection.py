"""What is asked for: levels, occasions, samples, inspections by eye and control plans."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from pack_tools import gear_record, plugins_with, write_pack

from checker import Report, Rulebook, UsageError, Verdict, load_rulebook
from checker.html.hand_over_page import write_hand_over
from checker.html.report_page import write_html
from checker.reports.csv_table import write_csv
from checker.reports.json_report import write_json
from checker.reports.junit import write_junit
from checker.reports.markdown import write_markdown
from checker.reports.text import write_text
from checker.sheets.plan import plan

HEAD = """
pack: asking
version: 1.0.0
rule_language: 1
title: Asking
inspection_levels: {usual: {title: Usual}, race: {title: Race}, laboratory: {title: Laboratory}}
applications:
  plain: {title: Plain}
  fast:  {title: Fast, like: plain, inspection: race}
  faster: {title: Faster, like: fast}
milestones: [done]
stations: {bank: {title: Bank}, hole: {title: Hole, of: bank}}
"""
RULES = """
characteristics:
  crank:  {title: Crank, choices: [stock, stroker]}
  width:  {title: Width, unit: mm, plausible: [0 mm, 100 mm]}
  rarity: {title: Rarity, unit: mm, plausible: [0 mm, 100 mm]}
  room:   {title: Room, per: hole, unit: mm, plausible: [0 mm, 100 mm]}
  depth:  {title: Depth, per: hole, unit: mm, plausible: [0 mm, 100 mm]}
  line:   {title: Oil hole offset, per: hole, unit: mm, plausible: [0 mm, 100 mm]}
rules:
  width:  &
  rarity: & inspection: {level: laboratory},
  room:   & inspection: {occasion: 'crank is stroker'},
  depth:  & inspection: {sample: one per bank},
  line:   & inspection: {sample: one, by_eye: holes line up}, remedy: {low: 'Open it by {limit - value}.'},
"""


def _rule(line: str) -> str:
    name, _, extra = line.partition("&")
    name = name.strip(" :")
    judged_by = f"judges: {name}, limits: {{any: {{must: {{at_least: 1 mm}}}}}}, basis: {{kind: shop policy}}"
    return f"  {name}: {{title: {name.capitalize()}, before: done, {extra} {judged_by}}}"


def _rules() -> str:
    return "\n".join(_rule(line) if "&" in line else line for line in RULES.splitlines())


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    folder = write_pack(tmp_path_factory.mktemp("packs") / "asking", pack=HEAD, rules=_rules())
    return load_rulebook(folder, plugins=plugins_with())


def judged(
    book: Rulebook, readings: dict[str, object], more: str = "", use: str = "plain", level: str | None = None
) -> Report:
    text = f"stations: {{bank: 2, hole: 4}}\n{more}"
    record = gear_record(readings or "  {}\n", use, text)
    return book.check(record, inspection=level)


def said(report: Report, rule: str) -> list[str]:
    found = next(one for one in report.judged if one.rule.name == rule)
    return [str(Verdict(code)) for code in found.codes[0]]


COMPLETE: dict[str, object] = {"crank": "stock", "width": "5 mm", "depth": "{1: 5 mm, 3: 5 mm}", "line": "{2: 5 mm}"}


def test_a_complete_record_of_its_level_holds_and_says_so(book: Rulebook) -> None:
    report = judged(book, COMPLETE)
    assert report.status == 0
    assert said(report, "rarity") == ["not asked"]
    assert said(report, "room") == ["not asked"] * 4
    assert "every check of level usual holds; 10 further checks were not asked" in write_text(report)


def test_not_every_check_holds_where_advice_is_missed_or_more_is_still_to_come(tmp_path: Path) -> None:
    text = _rules().replace("width: {title", "width: {limits: {any: {should: {at_least: 4 mm}}}, title", 1)
    text = text.replace("judges: width, limits: {any: {must: {at_least: 1 mm}}}", "judges: width", 1)
    later = text.replace("depth: {title: Depth, before: done", "depth: {title: Depth, before: sold", 1)
    assert text != _rules() != later != text
    for number, (rules, width, before, holds) in enumerate(
        [
            (text, "5 mm", "", True),
            (text, "3 mm", "", False),  # advice alone is missed
            (later, "5 mm", "", True),
            (later, "5 mm", "before: done\n", False),  # the depth is not judged yet
        ]
    ):
        head = HEAD.replace("milestones: [done]", "milestones: [done, sold]")
        folder = write_pack(tmp_path / str(number) / "asking", pack=head, rules=rules)
        own = load_rulebook(folder, plugins=plugins_with())
        report = judged(own, {**COMPLETE, "width": width}, before)
        assert report.status == 0
        assert ("every check of level usual holds" in write_text(report)) is holds


def test_a_level_asks_for_its_rules_and_those_below(book: Rulebook) -> None:
    assert said(judged(book, COMPLETE, level="race"), "rarity") == ["not asked"]
    deep = judged(book, COMPLETE, level="laboratory")
    assert said(deep, "rarity") == ["not measured"]
    assert deep.status == 3
    with pytest.raises(UsageError, match="no inspection level 'lab'"):
        judged(book, COMPLETE, level="lab")


@pytest.mark.parametrize(
    ("use", "more", "level", "wanted"),
    [
        ("plain", "", None, "usual"),
        ("fast", "", None, "race"),
        ("faster", "", None, "race"),
        ("faster", "inspection: usual\n", None, "usual"),
        ("faster", "inspection: usual\n", "laboratory", "laboratory"),
    ],
)
def test_the_command_goes_before_the_record_and_that_before_the_use(
    book: Rulebook, use: str, more: str, level: str | None, wanted: str
) -> None:
    assert judged(book, COMPLETE, more, use, level).context.plan.level == wanted


def test_what_is_measured_counts_asked_or_not(book: Rulebook) -> None:
    assert said(judged(book, {**COMPLETE, "rarity": "5 mm"}), "rarity") == ["within"]
    broken = judged(book, {**COMPLETE, "room": "{3: 0.5 mm}"})
    assert said(broken, "room") == ["not asked", "not asked", "outside", "not asked"]
    assert broken.status == 1


def test_a_reading_that_does_not_count_keeps_its_rule_open(book: Rulebook) -> None:
    slipped = judged(book, {**COMPLETE, "rarity": "500 mm"})
    assert said(slipped, "rarity") == ["not measured"]
    assert slipped.status == 3


def test_an_occasion_asks_for_its_fact_first_then_for_the_readings(book: Rulebook) -> None:
    unknown = judged(book, {name: value for name, value in COMPLETE.items() if name != "crank"})
    assert unknown.status == 3
    missing = {gap.characteristic for found in unknown.not_measured for gap in found.missing}
    assert missing == {"crank"}
    stroker = judged(book, {**COMPLETE, "crank": "stroker"})
    assert said(stroker, "room") == ["not measured"] * 4
    assert {gap.characteristic for found in stroker.not_measured for gap in found.missing} == {"room"}


def test_a_sample_is_asked_at_the_first_station_of_each_kind(book: Rulebook) -> None:
    bare = judged(book, {"width": "5 mm", "crank": "stock"})
    assert said(bare, "depth") == ["not measured", "not asked", "not measured", "not asked"]
    assert said(bare, "line") == ["not measured", "not asked", "not asked", "not asked"]
    half = judged(book, {**COMPLETE, "depth": "{2: 5 mm}"})
    assert said(half, "depth") == ["not asked", "within", "not measured", "not asked"]


SEEN = "seen: [{rule: line, station: %s, by: Ada, dated: 2026-05-03, clear: %s}]\n"


def test_what_was_seen_clear_closes_a_must_and_is_not_within(book: Rulebook) -> None:
    without = {name: value for name, value in COMPLETE.items() if name != "line"}
    report = judged(book, without, SEEN % ("all", "true"))
    assert said(report, "line") == ["seen"] * 4
    assert report.status == 0
    assert "seen clear by Ada on 2026-05-03: holes line up" in str(report.with_verdict(Verdict.SEEN)[0].remarks)
    assert "4 seen clear" in write_text(report)


def test_what_was_seen_unclear_is_outside_and_a_value_beyond_its_limit_outranks_what_was_seen(book: Rulebook) -> None:
    assert judged(book, COMPLETE, SEEN % ("1", "false")).status == 1
    assert judged(book, {**COMPLETE, "line": "{2: 0.5 mm}"}, SEEN % ("2", "true")).status == 1


def test_what_was_seen_unclear_and_never_measured_is_told_without_a_number_in_every_form(book: Rulebook) -> None:
    without = {name: value for name, value in COMPLETE.items() if name != "line"}
    report = judged(book, without, SEEN % ("2", "false"))
    (finding,) = report.outside
    assert finding.remedy == "Open it by an unknown amount."
    assert finding.missed_by == ""
    for write in (write_text, write_json, write_csv, write_junit, write_markdown, write_html, write_hand_over):
        assert finding.title in write(report)


def test_what_was_seen_unclear_is_not_within_until_it_is_measured_again_or_seen_clear(book: Rulebook) -> None:
    """The second hole is measured within, and somebody saw that it does not line up: one of the two is wrong."""
    report = judged(book, COMPLETE, SEEN % ("2", "false"))
    (finding,) = (found for found in report.undecided if found.name == "line")
    assert report.status == 3
    assert finding.must_open and "seen not clear by Ada on 2026-05-03" in str(finding.remarks)
    assert finding.remedy.startswith("Look and measure again")
    assert "do: Look and measure again" in write_text(report)
    for day, status in (("2026-05-03", 3), ("2026-05-04", 0)):
        dated = {**COMPLETE, "line": f"{{2: {{value: 2 mm, taken: {day}}}}}"}
        assert judged(book, dated, SEEN % ("2", "false")).status == status
    looks = ("dated: 2026-05-03, clear: false", "dated: 2026-05-05, clear: true")
    again = f"seen: [{', '.join(f'{{rule: line, station: 2, by: Ada, {look}}}' for look in looks)}]\n"
    assert judged(book, COMPLETE, again).status == 0
    # A reading that does not count keeps the rule open; what was seen before is not what was seen last.
    assert said(judged(book, {**COMPLETE, "line": "{2: 2000 mm}"}, again), "line")[1] == "not measured"


ROOM = """
characteristics:
  crank: {title: Crank, choices: [stock, stroker]}
  wall:  {title: Wall, unit: mm, plausible: [0 mm, 100 mm]}
  throw: {title: Throw, unit: mm, plausible: [0 mm, 100 mm]}
rules:
  room:
    {title: Room, before: done, inspection: {by_eye: the throw clears the wall}, judges: wall - throw,
     when: crank is stroker, limits: {any: {must: {at_least: 1 mm}}}, basis: {kind: shop policy}}
"""


@pytest.mark.parametrize(
    ("day", "undecided"),
    [
        ("wall: {taken: 2026-05-02, value: 50 mm}", True),
        ("wall: {taken: 2026-05-04, value: 50 mm}", False),
    ],
)
def test_a_fact_written_down_after_a_look_does_not_measure_again(tmp_path: Path, day: str, undecided: bool) -> None:
    """Of a day of the record that is later than the look, only a reading of what is judged is one since."""
    rules = load_rulebook(write_pack(tmp_path / "room", pack=HEAD, rules=ROOM), plugins=plugins_with())
    seen = "seen: [{rule: room, station: all, by: Ada, dated: 2026-05-03, clear: false}]\n"
    facts = "taken: 2026-05-04\nfacts: {crank: stroker, throw: 40 mm}\n"
    report = rules.check(gear_record(f"  {day}\n", "plain", f"{seen}{facts}"))
    assert said(report, "room") == ["undecided" if undecided else "within"]


def test_what_was_seen_lapses_when_the_part_is_changed(book: Rulebook) -> None:
    without = {name: value for name, value in COMPLETE.items() if name != "line"}
    parts = "parts: {shells: {fitted: 2026-06-01, bears_on: [line]}}\n"
    report = judged(book, without, SEEN % ("all", "true") + parts)
    assert report.status == 3
    assert "does not count: since then shells fitted on 2026-06-01" in str(report.not_measured[0].remarks)


def test_a_sheet_asks_for_what_the_plan_asks(book: Rulebook) -> None:
    lines = {line.name: line.stations for line in plan(book, judged(book, {"crank": "stock"})).lines if line.before}
    assert lines["depth"] == ("1", "3") and lines["line"] == ("1",) and "room" not in lines and "rarity" not in lines
    unknown = {line.name: line.stations for line in plan(book, judged(book, {})).lines if line.before}
    assert "crank" in unknown and "room" not in unknown


SHOP = """
pack: shop
version: 1.0.0
rule_language: 1
title: Our shop
builds_on: {asking: ">=1"}
control_plan: %s
"""


def shop(book: Rulebook, folder: Path, control_plan: str) -> Rulebook:
    upper = write_pack(folder, pack=SHOP % control_plan)
    return load_rulebook(book.packs[0].folder, upper, plugins=plugins_with())


def test_a_control_plan_asks_for_its_rules_and_no_others(book: Rulebook, tmp_path: Path) -> None:
    ours = shop(book, tmp_path / "shop", "{asks: [width, rarity]}")
    report = judged(ours, {"width": "5 mm"})
    assert said(report, "rarity") == ["not measured"]  # asked for by name, whatever the level
    assert said(report, "depth") == ["not asked"] * 4
    assert judged(ours, {"width": "5 mm", "rarity": "5 mm"}).status == 0
    assert judged(ours, {"width": "5 mm", "rarity": "5 mm", "depth": "{1: 0.5 mm}"}).status == 1


def test_a_must_left_out_is_listed_with_reason_and_pack_in_every_form(book: Rulebook, tmp_path: Path) -> None:
    ours = shop(book, tmp_path / "shop", "{leaves_out: {width: the jig sets it.}}")
    report = judged(ours, {name: value for name, value in COMPLETE.items() if name != "width"})
    assert report.status == 0
    for write in (write_text, write_json, write_csv, write_junit, write_markdown, write_html, write_hand_over):
        assert "the jig sets it" in write(report)
    assert "the jig sets it: " in write_text(report)  # a reason may end with a full stop


NAMES = ("crank", "width", "depth", "line", "rarity", "room")
VALUES = st.fixed_dictionaries(
    {},
    optional={
        "crank": st.sampled_from(["stock", "stroker"]),
        "width": st.sampled_from(["0.5 mm", "5 mm"]),
        "rarity": st.sampled_from(["0.5 mm", "5 mm"]),
        **{
            name: st.dictionaries(st.sampled_from([1, 2, 3, 4]), st.sampled_from(["0.5 mm", "5 mm"]), min_size=1)
            for name in ("room", "depth", "line")
        },
    },
)


def written(values: dict[str, object]) -> dict[str, object]:
    return {
        name: "{" + ", ".join(f"{at}: {told}" for at, told in value.items()) + "}" if isinstance(value, dict) else value
        for name, value in values.items()
    }


@examples(40)
@given(VALUES)
def test_raising_the_level_never_makes_an_open_build_hold(book: Rulebook, values: dict[str, object]) -> None:
    states = [judged(book, written(values), level=level).status for level in book.inspection_levels]
    for lower, higher in itertools.pairwise(states):
        assert not (lower == 3 and higher == 0)
        assert (lower == 1) == (higher == 1)


@examples(40)
@given(VALUES, st.sampled_from(["usual", "race", "laboratory"]))
def test_nothing_is_within_or_outside_without_its_reading(
    book: Rulebook, values: dict[str, object], level: str
) -> None:
    report = judged(book, written(values), level=level)
    for one in report.judged:
        given_here = values.get(one.rule.name, {})
        for station, code in enumerate(one.codes[0]):
            there = given_here if isinstance(given_here, dict) else {1: given_here}
            value = there.get(station + 1)
            assert (code in (Verdict.WITHIN, Verdict.OUTSIDE)) == (value is not None)
            assert (code == Verdict.OUTSIDE) == (value == "0.5 mm")
    assert (report.status == 1) == ("0.5 mm" in str(written(values)))


@examples(40)
@given(VALUES, st.sampled_from(NAMES), st.sampled_from(["usual", "race", "laboratory"]))
def test_losing_what_the_plan_asks_for_never_makes_a_build_hold(
    book: Rulebook, values: dict[str, object], lost: str, level: str
) -> None:
    """All readings of a characteristic are lost: of one that is asked for, so that the build cannot hold without."""
    with_it = judged(book, written(values), level=level)
    without = judged(book, written({name: value for name, value in values.items() if name != lost}), level=level)
    is_asked = lost in ("crank", "width", "depth", "line") or (lost == "rarity" and level == "laboratory")
    is_asked |= lost == "room" and values.get("crank") != "stock"
    if is_asked:
        assert without.status != 0
    assert with_it.status == 1 or without.status != 1


@examples(40)
@given(VALUES, st.sampled_from(["depth", "line", "room"]), st.sets(st.integers(1, 4), min_size=1))
def test_losing_good_readings_at_further_stations_never_makes_a_build_hold(
    book: Rulebook, values: dict[str, object], name: str, lost: set[int]
) -> None:
    """Nor at those that a sample is taken from: what holds, or is open, was never held open by a good reading."""
    told = values.get(name, {})
    assert isinstance(told, dict)
    kept = {at: value for at, value in told.items() if at not in lost or value == "0.5 mm"}
    fewer = {key: value for key, value in values.items() if key != name} | ({name: kept} if kept else {})
    before, after = judged(book, written(values)).status, judged(book, written(fewer)).status
    assert before == 0 or after != 0
    assert (before == 1) == (after == 1)
