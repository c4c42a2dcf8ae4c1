"""Writing a value into a record's text: it reads back, nothing else changes, and comments stay where they can."""

from __future__ import annotations

import difflib

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from sheet_tools import HEAD, record, rulebook

from checker import InputError
from checker.documents.document import parse_yaml
from checker.documents.write import flow, key, scalar
from checker.records.edit import with_value
from checker.records.filled import Filled, filled_in

PER = {name: item.characteristic.per for name, item in rulebook().characteristics.items()}
NEW = Filled(("30.5 mm",), {"taken": "2026-05-03"})
WRITTEN = "{value: 30.5 mm, taken: 2026-05-03}"
TEXT = (
    "# the shop's own remarks\n"
    + HEAD
    + """instruments:
  bore-gauge: {expanded_uncertainty: 5 um}   # borrowed
facts: {bearing_kind: plain}
readings:
  # shafts as ground
  shaft_diameter: [30.012 mm, 30.013 mm]   # both fine
  bearing_bore: {with: bore-gauge, values: {1: 30.06 mm}}
  # it's tight
  gear_bore:
    1:
    2: 29.98 mm   # don't hone
    3: {above: 29.9 mm, note: "a # b"}  # look again

    # four by hand
    4: [29.98 mm, 29.99 mm]
  end_float:
    # nothing yet
    1:
  gear_mass: {all: 2 kg} # weighed together
# what follows is agreed
concessions: []
"""
)


def changes(name: str, station: str, filled: Filled = NEW, text: str = TEXT) -> list[str]:
    """The lines that an edit takes out and puts in."""
    new = with_value(text, "record.yaml", name, station, filled, PER)
    lines = difflib.unified_diff(text.split("\n"), new.split("\n"), lineterm="", n=0)
    return [line for line in lines if not line.startswith(("---", "+++", "@@"))]


def test_a_blank_is_filled_in_and_nothing_else() -> None:
    assert changes("gear_bore", "1") == ["-    1:", f"+    1: {WRITTEN}"]
    assert changes("end_float", "1") == ["-    1:", f"+    1: {WRITTEN}"]


def test_a_comment_behind_a_value_stays() -> None:
    assert changes("gear_bore", "2")[1] == f"+    2: {WRITTEN}   # don't hone"
    assert changes("gear_bore", "3")[1] == f"+    3: {WRITTEN}  # look again"


def test_a_further_station_comes_last_and_comments_between_stay() -> None:
    assert changes("end_float", "2") == [f"+    2: {WRITTEN}"]


def test_a_new_characteristic_comes_last_in_its_section() -> None:
    assert changes("shaft_length", "2") == ["+  shaft_length:", f"+    2: {WRITTEN}"]
    new = with_value(TEXT, "record.yaml", "shaft_length", "2", NEW, PER)
    assert new.index("gear_mass") < new.index("shaft_length") < new.index("# what follows")


def test_a_list_becomes_stations_and_keeps_its_comment() -> None:
    assert changes("shaft_diameter", "2") == [
        "-  shaft_diameter: [30.012 mm, 30.013 mm]   # both fine",
        "+  shaft_diameter:   # both fine",
        "+    1: 30.012 mm",
        f"+    2: {WRITTEN}",
    ]


def test_what_was_said_of_all_values_is_said_of_each() -> None:
    assert changes("bearing_bore", "2")[1:] == [
        "+  bearing_bore:",
        "+    1: {value: 30.06 mm, with: bore-gauge}",
        f"+    2: {WRITTEN}",
    ]


def test_a_fact_is_changed_where_facts_stand() -> None:
    assert changes("bearing_kind", "", Filled(("rolling",))) == [
        "-facts: {bearing_kind: plain}",
        "+facts:",
        "+  bearing_kind: rolling",
    ]


def test_an_empty_section_takes_its_first_value() -> None:
    for empty in ("readings: {}", "readings: {}   # none yet", "readings:   {}"):
        new = with_value(HEAD + empty + "\nnotes: n\n", "record.yaml", "end_float", "1", NEW, PER)
        assert new.endswith(f"\n  end_float:\n    1: {WRITTEN}\nnotes: n\n")
        assert ("# none yet" in new) == ("# none yet" in empty)


def test_a_record_all_in_braces_is_written_anew() -> None:
    head = '{record: 1, assembly: A, application: general, rule_packs: {gear-train: ">=1"}, '
    text = head + "readings: {end_float: {2: 0.1 mm}}}"
    new = with_value(text, "record.yaml", "end_float", "1", NEW, PER)
    assert filled_in(record(new).notes, PER)["end_float"] == {"2": Filled(("0.1 mm",)), "1": NEW}


def test_what_is_written_anew_stays_a_fact() -> None:
    head = '{record: 1, assembly: A, application: general, rule_packs: {gear-train: ">=1"}, '
    text = head + "facts: {oil: mineral, joint_gap: 0.02 mm}}"
    for name, station in (("end_float", "1"), ("joint_gap", "")):
        new = record(with_value(text, "record.yaml", name, station, NEW, PER))
        assert {note.characteristic for note in new.facts} == {"oil", "joint_gap"}
        assert filled_in(new.notes, PER)[name][station] == NEW


def test_line_ends_stay_as_they_are() -> None:
    for name, station in (("gear_bore", "1"), ("shaft_length", "1"), ("shaft_diameter", "1")):
        new = with_value(TEXT.replace("\n", "\r\n"), "record.yaml", name, station, NEW, PER)
        assert new == with_value(TEXT, "record.yaml", name, station, NEW, PER).replace("\n", "\r\n")


def test_a_text_that_is_no_record_is_refused() -> None:
    with pytest.raises(InputError):
        with_value("record: 1\n", "record.yaml", "end_float", "1", NEW, PER)


WORDS = st.text(alphabet="ab 1.-:#{}[],'\"=é\\&*!|>%@?~", min_size=1, max_size=10).map(str.strip).filter(bool)


NAMES = st.sampled_from(["gear_bore", "bearing_bore", "shaft_diameter", "gear_mass", "shaft_length", "backlash"])
REMARKS = ("# the shop's own remarks", "# borrowed", "# shafts as ground", "# it's tight", "# what follows is agreed")


@examples(60)
@given(edits=st.lists(st.tuples(NAMES, st.sampled_from("12"), WORDS), min_size=1, max_size=4))
def test_many_edits_in_any_order_lose_nothing(edits: list[tuple[str, str, str]]) -> None:
    """The text always says all that was written into it, whatever the order and whatever stands in the remarks."""
    text, wanted = TEXT, {}
    for number, (name, station, note) in enumerate(edits):
        wanted[name, station] = Filled((f"{number}.5 mm",), {"note": note})
        text = with_value(text, "record.yaml", name, station, wanted[name, station], PER)
    found = filled_in(record(text).notes, PER)
    assert all(found[name][station] == filled for (name, station), filled in wanted.items())
    assert all(remark in text for remark in REMARKS)


@examples(200)
@given(text=WORDS)
def test_a_text_written_as_yaml_reads_back(text: str) -> None:
    for shape in (
        f"a: {scalar(text)}\n",
        f"a: {{b: [{scalar(text)}, x]}}\n",
        f"a:\n  - {scalar(text)}\n",
        f"{key(text)}: 1\n",
    ):
        document = parse_yaml(shape.encode(), "x.yaml")
        again = parse_yaml(f"x: {flow(document)}\n".encode(), "y.yaml")
        assert again.data["x"] == document.data
    assert parse_yaml(f"a: {scalar(text)}\n".encode(), "x.yaml").written("a") == text
