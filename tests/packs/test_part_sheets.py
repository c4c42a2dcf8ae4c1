"""Which limit counts: physics always, the maker's sheet in place of practice, practice where no sheet speaks."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judging import rulebook
from pack_tools import write_pack
from sheet_limit_tools import SHEET, finding, parts, record, report

from checker import Finding, Verdict, write_json, write_text
from checker.documents.document import parse_yaml
from checker.errors import InputError, PackError
from checker.html.report_page import write_html
from checker.records.record import record_in
from checker.reports.markdown import write_markdown


def end_gap(value: float | str, sheet: str = "", use: str = "plain") -> Finding:
    """What is said of an end gap; it must be 0.30 to 0.90 mm, should be 0.40 to 0.60 mm, and butts at 0.10 mm."""
    sheets = f"ring_end_gap: {{{sheet}, {SHEET}}}" if sheet else ""
    return finding(report(f"ring_end_gap: {{1: {value} mm}}", sheets, use), "end-gap")


@pytest.mark.parametrize(
    ("value", "sheet", "verdict"),
    [
        ("0.25", "at_least: 0.20 mm, at_most: 0.35 mm", "within"),  # outside by practice
        ("0.38", "at_least: 0.20 mm, at_most: 0.35 mm", "outside"),  # advisory by practice
        ("0.95", "at_most: 1.00 mm", "within"),
        ("0.25", "at_most: 1.00 mm", "outside"),  # of too little the sheet says nothing
        ("0.35", "at_most: 1.00 mm", "advisory"),
        ("0.25", "at_least: 0.20 mm", "within"),
        ("0.70", "at_least: 0.20 mm", "advisory"),
    ],
)
def test_a_sheet_takes_the_place_of_practice_on_the_sides_it_speaks_of(value: str, sheet: str, verdict: str) -> None:
    assert str(end_gap(value, sheet).verdict) == verdict


def test_the_sheet_is_named_with_its_day_and_practice_is_told_with_its_verdict() -> None:
    found = end_gap("0.25", "at_least: 0.20 mm, at_most: 0.35 mm")
    assert {edge.from_part_sheet for edge in found.edges} == {"ring maker's sheet of 2026-01-10"}
    assert {edge.counted for edge in found.edges} == {"sheet"}
    assert found.remarks == ("general practice asks for 0.30 mm to 0.90 mm: outside, for your information",)


def test_where_both_say_the_same_nothing_is_remarked() -> None:
    assert end_gap("0.50", "at_least: 0.20 mm, at_most: 0.60 mm").remarks == ()


@pytest.mark.parametrize("sheet", ["at_least: 0.05 mm, at_most: 0.90 mm", "at_least: -0.5 mm"])
def test_no_sheet_loosens_physics(sheet: str) -> None:
    found = end_gap("0.09", sheet)
    assert found.verdict is Verdict.OUTSIDE
    assert found.basis == "physics: the ends butt when it is hot"
    assert end_gap("0.11", sheet).verdict is Verdict.WITHIN


def test_what_a_sheet_is_silent_of_counts_only_where_it_leaves_room() -> None:
    """A sheet of at most 0.25 mm and a practice of at least 0.30 mm: the sheet is the requirement."""
    found = end_gap("0.20", "at_most: 0.25 mm")
    assert found.verdict is Verdict.WITHIN
    assert found.contradiction == ""


def test_limits_may_differ_by_station() -> None:
    sheets = f"ring_end_gap: {{at_least: {{1: 0.20 mm, 2: 0.45 mm}}, at_most: [0.60 mm, 0.80 mm], {SHEET}}}"
    found = report("ring_end_gap: {1: 0.42 mm, 2: 0.42 mm}", sheets)
    assert [str(finding(found, "end-gap", seat).verdict) for seat in (1, 2)] == ["within", "outside"]
    sheets = f"ring_end_gap: {{at_least: {{all: 0.20 mm, 2: 0.45 mm}}, {SHEET}}}"
    found = report("ring_end_gap: {1: 0.25 mm, 2: 0.42 mm}", sheets)
    assert [str(finding(found, "end-gap", seat).verdict) for seat in (1, 2)] == ["within", "outside"]


def test_a_station_of_which_no_sheet_speaks_is_held_to_practice() -> None:
    found = report("ring_end_gap: {1: 0.25 mm, 2: 0.25 mm}", f"ring_end_gap: {{at_least: {{1: 0.20 mm}}, {SHEET}}}")
    assert [str(finding(found, "end-gap", seat).verdict) for seat in (1, 2)] == ["within", "outside"]
    assert finding(found, "end-gap", 2).remarks == ()


@pytest.mark.parametrize(
    ("sheet", "told"),
    [
        ("at_least: {3: 0.2 mm}", "ring_end_gap has no station 3"),
        ("at_least: 0.6 mm, at_most: 0.5 mm", "at_least lies above at_most"),
        ("dated: 2026-01-10", "expected at_least, at_most or both"),
        (
            "at_least: 0.2 mm, for: [plian]",
            "no use and no pack 'plian' that a sheet could be for (did you mean 'plain'?)",
        ),
        ("at_least: 0.2 mm, confirmed_by: bench lead", "who confirms a sheet says so by name and day"),
        ("at_least: 0.2 mm, confirmed_by: bench lead, confirmed_on: 2026-01-09", "before the sheet of 2026-01-10"),
        ("at_least: 0.2 mm, confirmed_by: bench lead, confirmed_on: 2999-01-01", "is that day still to come?"),
    ],
)
def test_what_is_wrong_with_a_sheet_is_told(sheet: str, told: str) -> None:
    dated = "source: ring maker's sheet" if "dated" in sheet else SHEET
    with pytest.raises(InputError) as caught:
        report("ring_end_gap: {1: 0.25 mm}", f"ring_end_gap: {{{sheet}, {dated}}}")
    assert told in str(caught.value)


@pytest.mark.parametrize(("value", "verdict"), [("0.15", "within"), ("0.25", "outside")])
def test_a_sheet_is_judged_where_a_fact_is_lacking_that_its_own_limits_do_not_need(value: str, verdict: str) -> None:
    sheets = f"alloyed_gap: {{at_least: 0.10 mm, at_most: 0.20 mm, {SHEET}}}"
    assert str(finding(report(f"alloyed_gap: {{1: {value} mm}}"), "alloyed-gap").verdict) == "not measured"
    found = report(f"alloyed_gap: {{1: {value} mm}}", sheets)
    assert {str(finding(found, name).verdict) for name in ("alloyed-gap", "plated-alloyed-gap")} == {verdict}


def test_a_sheet_that_is_silent_on_one_side_leaves_open_what_a_lacking_fact_leaves_open() -> None:
    sheets = f"alloyed_gap: {{at_most: 0.20 mm, {SHEET}}}"
    assert str(finding(report("alloyed_gap: {1: 0.05 mm}", sheets), "alloyed-gap").verdict) == "not measured"
    assert str(finding(report("alloyed_gap: {1: 0.21 mm}", sheets), "alloyed-gap").verdict) == "outside"
    found = finding(report("alloyed_gap: {1: 0.15 mm}", sheets), "alloyed-gap")
    assert (str(found.verdict), found.remarks[0]) == ("within", "within for every alloy")


SUSPECT = [
    (
        "ring_end_gap: {at_least: 0.02 mm, at_most: 0.08 mm, S}",
        "ring_end_gap",
        "physics forbids all of it (the ends butt when it is hot)",
    ),
    (
        "ring_end_gap: {at_least: 4.0 mm, at_most: 6.0 mm, S}",
        "ring_end_gap",
        "the point may be one place off (0.40 mm to 0.60 mm)",
    ),
    (
        "ring_end_gap: {at_least: 0.40 mm, at_most: 6.0 mm, S}",
        "ring_end_gap",
        "the point may be one place off (0.40 mm to 0.60 mm)",
    ),
    (
        "ring_end_gap: {at_least: 10.2 mm, at_most: 15.2 mm, S}",
        "ring_end_gap",
        "inches and millimetres may be mixed up",
    ),
    ("ring_end_gap: {at_least: 0.4 mm, at_most: 25 mm, S}", "ring_end_gap", "no such part can have that"),
    ("ring_side_gap: {at_least: 0.40 mm, at_most: 0.60 mm, S}", "ring_side_gap", "it may be the row of end gap"),
    ("size: {at_least: 300 mm, S}", "size", "no such part can have that"),
    (
        "sized_gap: {at_least: 0.11 mm, at_most: 0.15 mm, S}",
        "sized_gap",
        "a figure per inch of size (0.4331 mm to 0.5906 mm)",
    ),
    ("play: {at_least: 0.026 mm, at_most: 0.044 mm, S}", "play", "one side may be printed for both"),
    ("play: {at_least: 0.11 mm, at_most: 0.17 mm, S}", "play", "one side may be printed for both, or both for one"),
]


@pytest.mark.parametrize(("sheets", "name", "why"), SUSPECT, ids=[sheets for sheets, _, _ in SUSPECT])
def test_each_kind_of_suspect_sheet_is_named_before_anything_is_judged(sheets: str, name: str, why: str) -> None:
    found = report("size: 100 mm", sheets.replace("S}", f"{SHEET}}}"))
    (flag,) = found.suspect_sheets
    assert (flag.characteristic, flag.place.line) == (name, 5)
    assert why in flag.message
    for write in (write_text, write_markdown, write_html, write_json):
        told = " ".join(write(found).split())
        assert why.split(" (")[0] in told
    text = write_text(found)
    assert text.index("Suspect part sheets") < text.index("To measure next")


@pytest.mark.parametrize("least", ["0.35 mm", "{1: 0.35 mm, 2: 3.5 mm}"])
def test_ends_that_slipped_at_one_station_make_the_sheet_suspect(least: str) -> None:
    sheet = f"ring_end_gap: {{at_least: {least}, at_most: {{1: 0.80 mm, 2: 8.0 mm}}, {SHEET}}}"
    found = report("ring_end_gap: [0.5 mm, 5.0 mm]", sheet)
    (flag,) = found.suspect_sheets
    assert "at station 2: " in flag.message
    assert "the point may be one place off (0.35 mm to 0.80 mm)" in flag.message
    assert [finding(found, "end-gap", seat).verdict for seat in (1, 2)] == [Verdict.UNDECIDED, Verdict.UNDECIDED]


def test_ends_that_differ_by_station_are_not_suspect_for_that() -> None:
    sheet = f"ring_end_gap: {{at_least: {{1: 0.35 mm, 2: 0.45 mm}}, at_most: {{1: 0.80 mm, 2: 0.90 mm}}, {SHEET}}}"
    found = report("ring_end_gap: [0.4 mm, 0.85 mm]", sheet)
    assert not found.suspect_sheets
    assert [finding(found, "end-gap", seat).verdict for seat in (1, 2)] == [Verdict.WITHIN, Verdict.WITHIN]


def test_nothing_is_within_by_a_sheet_that_nobody_can_have_had_yet() -> None:
    """A year mistyped; a day ahead may be another clock."""
    dated = record("ring_end_gap: {1: 0.25 mm}", f"ring_end_gap: {{at_least: 0.20 mm, {SHEET}}}")
    early, late = (parts().check(dated, on=day) for day in (date(2026, 1, 8), date(2026, 1, 9)))
    (flag,) = early.suspect_sheets
    assert "dated 2026-01-10, which lies ahead of 2026-01-08: is the day or the year mistyped?" in flag.message
    assert finding(early, "end-gap").verdict is Verdict.UNDECIDED
    assert (late.suspect_sheets, finding(late, "end-gap").verdict) == ((), Verdict.WITHIN)


def test_two_rows_exchanged_are_both_named() -> None:
    end = f"ring_end_gap: {{at_least: 0.03 mm, at_most: 0.06 mm, {SHEET}}}"
    side = f"ring_side_gap: {{at_least: 0.40 mm, at_most: 0.60 mm, {SHEET}}}"
    rows = f"{end}, {side}"
    found = report("ring_end_gap: {1: 0.5 mm}, ring_side_gap: {1: 0.05 mm}", rows)
    assert [flag.message.split("?")[0] for flag in found.suspect_sheets] == [
        "exchanged with the row of side gap",
        "exchanged with the row of end gap",
    ]
    assert [str(finding(found, name).verdict) for name in ("end-gap", "side-gap")] == ["undecided", "undecided"]


TEN_TIMES = "at_least: 4.0 mm, at_most: 6.0 mm"


@pytest.mark.parametrize("value", ["0.25", "0.45", "0.70", "4.5", "0.95"])
def test_nothing_is_within_by_a_suspect_sheet_and_no_remedy_is_built_on_it(value: str) -> None:
    found = end_gap(value, TEN_TIMES)
    assert (found.verdict, found.remedy, found.must_open) == (Verdict.UNDECIDED, "", True)
    assert found.remarks[0] == "ring maker's sheet of 2026-01-10 is suspect, and nothing is within by it"


def test_physics_is_told_though_the_sheet_is_suspect_and_nothing_is_taken_off() -> None:
    found = end_gap("0.09", TEN_TIMES)
    assert found.verdict is Verdict.OUTSIDE
    assert found.remedy == (
        "Nothing is taken off while ring maker's sheet of 2026-01-10 is suspect: confirm it by name, or mend it."
    )


def test_one_that_is_confirmed_by_name_counts() -> None:
    confirmed = f"{TEN_TIMES}, confirmed_by: bench lead, confirmed_on: 2026-02-01"
    assert end_gap("4.5", confirmed).verdict is Verdict.WITHIN
    found = end_gap("0.45", confirmed)
    assert found.verdict is Verdict.OUTSIDE
    assert found.edges[0].from_part_sheet == ("ring maker's sheet of 2026-01-10, confirmed by bench lead on 2026-02-01")


def test_nothing_is_cut_to_practice_beside_a_sheet_that_is_silent_of_it() -> None:
    assert end_gap("0.25").remedy == "Grind the ends by 0.15 mm."
    assert end_gap("0.25", "at_least: 0.35 mm").remedy == "Grind the ends by 0.10 mm."
    assert end_gap("0.25", "at_most: 1.0 mm").remedy.startswith("Ask the maker first: ring maker's sheet")


def test_a_remedy_aims_inside_the_sheet() -> None:
    """Practice would have it 0.40 mm at the least; the sheet allows 0.20 to 0.35 mm."""
    assert end_gap("0.15", "at_least: 0.20 mm, at_most: 0.35 mm").remedy == "Grind the ends by 0.05 mm."


BY_ITSELF = "free_length: {at_least: 39 mm, at_most: 41 mm, S}, size: {at_most: 100 mm, S}".replace("S}", f"{SHEET}}}")


def test_a_sheet_that_no_rule_judges_is_judged_by_itself() -> None:
    found = report("free_length: {1: 40 mm, 2: 38 mm}, size: 99 mm", BY_ITSELF)
    assert [str(finding(found, "free-length-by-its-sheet", seat).verdict) for seat in (1, 2)] == ["within", "outside"]
    assert str(finding(found, "size-by-its-sheet").verdict) == "within"
    assert found.status == 1
    told = " ".join(write_text(found).split())
    assert "Free length by its maker's sheet, seat 2: 38.00 mm, 1.00 mm under" in told
    assert "required 39.00 mm to 41.00 mm (ring maker's sheet of 2026-01-10)" in told


def test_what_only_a_sheet_speaks_of_is_asked_for_by_nobody() -> None:
    found = finding(report("size: 99 mm", BY_ITSELF), "free-length-by-its-sheet")
    assert (str(found.verdict), found.remarks) == ("not asked", ("judged where it is measured",))
    stale = "parts: {ring: {fitted: 2026-03-01, bears_on: [free_length]}}\n"
    found = report("free_length: {taken: 2026-02-01, values: [40 mm]}", BY_ITSELF, more=stale)
    assert str(finding(found, "free-length-by-its-sheet").verdict) == "not measured"


@pytest.mark.parametrize(("value", "verdict"), [("4 mm", "within"), ("6 mm", "outside")])
def test_a_sheet_is_judged_by_itself_where_no_rule_for_it_applies(value: str, verdict: str) -> None:
    """The only rule about the key width is for cast parts."""
    sheet = f"key_width: {{at_least: 3 mm, at_most: 5 mm, {SHEET}}}"
    found = report(f"alloy: forged, key_width: {value}", sheet)
    assert str(finding(found, "key-width-by-its-sheet").verdict) == verdict
    found = report(f"alloy: cast, key_width: {value}", sheet)
    assert str(finding(found, "key-width").verdict) == verdict
    assert not [made for made in found.findings if made.name == "key-width-by-its-sheet"]


MORE_LOAD = {
    "pack": """
pack: more-load
version: 1.0.0
rule_language: 1
title: More load
builds_on: {parts-that-meet: ">=1"}
adds_load: true
applications: {loaded: {title: More load, like: plain}}
amends:
  end-gap:
    because: More load, more heat.
    limits: {any: {must: {at_least: 0.70 mm, at_most: 1.20 mm}, should: {at_least: 0.70 mm, at_most: 1.20 mm}}}
    basis: common practice
"""
}


@pytest.mark.parametrize(
    ("sheet", "use", "value", "verdict"),
    [
        # one printed for nobody knows what takes nothing from the limits of more load, and adds where there is room
        ("at_least: 0.20 mm, at_most: 0.35 mm", "plain", "0.30", "outside"),
        ("at_least: 0.20 mm, at_most: 0.35 mm", "plain", "0.80", "within"),
        ("at_least: 0.80 mm", "plain", "0.75", "outside"),
        # one printed for another use counts for nothing
        ("at_least: 0.80 mm, for: plain", "plain", "0.75", "within"),
        ("at_least: 0.20 mm, at_most: 0.35 mm, for: [plain]", "plain", "0.30", "outside"),
        # one printed for it, by the name of the pack or of its use, is the requirement
        ("at_least: 0.20 mm, at_most: 0.35 mm, for: [more-load]", "plain", "0.30", "within"),
        ("at_least: 0.20 mm, at_most: 0.35 mm, for: [loaded]", "loaded", "0.30", "within"),
    ],
)
def test_a_sheet_does_not_loosen_limits_of_more_load(
    tmp_path: Path, sheet: str, use: str, value: str, verdict: str
) -> None:
    book = parts(write_pack(tmp_path / "more_load", **MORE_LOAD))
    found = book.check(record(f"ring_end_gap: {{1: {value} mm}}", f"ring_end_gap: {{{sheet}, {SHEET}}}", use))
    assert str(finding(found, "end-gap").verdict) == verdict


@pytest.mark.parametrize(
    ("sheet", "value", "verdict"),
    [
        ("at_least: 0.20 mm", "0.40", "outside"),  # recorded for plain duty, judged for hot: it takes nothing away
        ("at_least: 0.80 mm", "0.70", "outside"),
        ("at_least: 0.20 mm, for: [plain, hot]", "0.40", "within"),
        ("at_least: 0.80 mm, for: plain", "0.58", "within"),
    ],
)
def test_a_sheet_for_one_use_does_not_loosen_another(sheet: str, value: str, verdict: str) -> None:
    found = report(f"ring_end_gap: {{1: {value} mm}}", f"ring_end_gap: {{{sheet}, {SHEET}}}", application="hot")
    assert str(finding(found, "end-gap").verdict) == verdict


def test_what_a_sheet_for_another_use_would_say_is_told() -> None:
    sheets = f"ring_end_gap: {{at_least: 0.80 mm, for: plain, {SHEET}}}"
    found = finding(report("ring_end_gap: {1: 0.58 mm}", sheets, application="hot"), "end-gap")
    assert found.remarks == (
        "ring maker's sheet of 2026-01-10 was printed for plain; it asks for at least 0.80 mm: outside, "
        "for your information",
    )


FAMILY = {
    "pack": """
pack: family
version: 1.0.0
rule_language: 1
title: One family of machines
builds_on: {parts-that-meet: ">=1"}
part_limits:
  ring_end_gap: {at_least: 0.20 mm, at_most: 0.35 mm, source: works manual}
  free_length: {at_least: 39 mm, at_most: 41 mm, source: works manual}
"""
}


@pytest.mark.parametrize("use", ["plain", "hot"])
def test_a_pack_for_one_family_states_its_makers_sheets(tmp_path: Path, use: str) -> None:
    book = parts(write_pack(tmp_path / "family", **FAMILY))
    found = book.check(record("ring_end_gap: {1: 0.25 mm, 2: 0.09 mm}, free_length: {1: 38 mm}", "", use))
    assert finding(found, "end-gap").verdict is Verdict.WITHIN
    assert finding(found, "end-gap").counted_by == "works manual"
    assert finding(found, "end-gap", 2).verdict is Verdict.OUTSIDE
    assert finding(found, "free-length-by-its-sheet").verdict is Verdict.OUTSIDE
    # A sheet of the very part comes before that of the family.
    own = book.check(record("ring_end_gap: {1: 0.25 mm}", f"ring_end_gap: {{at_least: 0.28 mm, {SHEET}}}", use))
    assert finding(own, "end-gap").counted_by == "ring maker's sheet of 2026-01-10"


def test_what_is_wrong_with_the_sheets_of_a_pack_is_told_when_it_is_read(tmp_path: Path) -> None:
    wrong = FAMILY["pack"].replace("free_length", "free_lenght").replace("at_most: 0.35 mm", "at_most: 0.35")
    with pytest.raises(PackError) as caught:
        parts(write_pack(tmp_path / "wrong_family", pack=wrong))
    assert "no measured characteristic 'free_lenght' (did you mean 'free_length'?)" in str(caught.value)
    assert "part_limits.ring_end_gap.at_most" in str(caught.value)


SECOND_RING = """record: 1
assembly: Diesel of 5.9 litres
application: diesel
rule_packs: {four-stroke: ">=1,<2"}
stations: {cylinder: 1}
facts: {fuel: diesel}
part_limits: {second_ring_gap: {at_least: 0.010 in, at_most: 0.022 in, source: "factory table, six-cylinder 5.9 L"}}
readings: {cylinder_bore: 4.016 in, second_ring_gap: 0.016 in}
"""


def test_the_second_ring_of_a_diesel_is_within_by_its_makers_sheet() -> None:
    """0.010 to 0.022 in: factory service table of a 5.9 L six-cylinder diesel; wider practice is told beside it."""
    one = record_in(parse_yaml(SECOND_RING.encode(), "record.yaml"))
    found = finding(rulebook("four-stroke").check(one), "second-ring-gap")
    assert found.verdict is Verdict.WITHIN
    assert found.counted_by == "factory table, six-cylinder 5.9 L"
    assert all(remark.startswith("general practice asks for at least") for remark in found.remarks)


LENGTHS = st.integers(min_value=0, max_value=120).map(lambda hundredths: hundredths / 100)


@given(LENGTHS, LENGTHS, LENGTHS, st.sampled_from(["plain", "hot"]))
def test_physics_counts_beside_every_sheet(value: float, low: float, width: float, use: str) -> None:
    """Whatever a sheet says, what physics forbids is never within; taking the sheet away does not make it so."""
    sheet = f"at_least: {low} mm, at_most: {low + width} mm"
    with_it, without = end_gap(value, sheet, use), end_gap(value, "", use)
    if value < 0.10:
        assert with_it.verdict is not Verdict.WITHIN
        assert without.verdict is Verdict.OUTSIDE
    if with_it.verdict is Verdict.WITHIN:
        assert value >= max(0.10, low)
        assert value <= low + width + 1e-9


@given(LENGTHS, LENGTHS)
def test_a_use_never_loosens_physics(value: float, low: float) -> None:
    for use in ("plain", "hot"):
        if value < 0.10:
            assert end_gap(value, f"at_least: {low} mm", use).verdict is not Verdict.WITHIN


@given(LENGTHS, LENGTHS, LENGTHS)
def test_a_suspect_sheet_never_makes_anything_within(value: float, low: float, width: float) -> None:
    sheet = f"ring_end_gap: {{at_least: {low} mm, at_most: {low + width} mm, {SHEET}}}"
    found = report(f"ring_end_gap: {{1: {value} mm}}", sheet)
    if found.suspect_sheets:
        assert finding(found, "end-gap").verdict in (Verdict.UNDECIDED, Verdict.OUTSIDE)
    confirmed = sheet.replace("source", "confirmed_by: bench lead, confirmed_on: 2026-02-01, source")
    again = report(f"ring_end_gap: {{1: {value} mm}}", confirmed)
    assert not again.suspect_sheets
    is_inside = max(low, 0.10) <= value <= low + width + 1e-9
    assert (finding(again, "end-gap").verdict is Verdict.WITHIN) == is_inside
