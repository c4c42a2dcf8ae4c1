"""A session says after each reading what a check of the whole record says, and tells what is new."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from judging import rulebook
from pack_tools import gear_record, gear_rulebook
from record_heads import ENGINE, TRAIN
from sheet_limit_tools import SHEET, parts
from sheet_limit_tools import record as rig

import checker
from checker import InputError, Report, Rulebook, Verdict
from checker.records.demo import demo_record

DAY = date(2026, 6, 1)
GEARS = gear_rulebook()
STEPS = st.tuples(
    st.sampled_from(
        [
            *(("shaft_diameter", number) for number in (1, 2)),
            *(("bearing_bore", number) for number in (1, 2)),
            *(("gear_bore", number) for number in (1, 2, 3, 4)),
            *(("backlash", number) for number in (1, 2)),
            ("gear_module", 1),
            ("oil", None),
            ("bearing_kind", None),
            ("joint_gap", None),
        ]
    ),
    st.one_of(st.floats(0, 100), st.sampled_from([50.0, 50.05, 49.97, 0.1, 2.0, None, -3.0])),
    st.sampled_from([None, None, "micrometer"]),
    st.sampled_from(["mineral", "grease", "plain", "rolling"]),
)
ENGINE_STEPS = st.tuples(
    st.sampled_from(
        [(name, n) for name in ("main_journal_diameter", "main_bearing_bore", "main_oil_clearance") for n in (1, 2, 3)]
        + [("leak_down", 1), ("cranking_pressure", 2)]
    ),
    st.sampled_from([2.449, 2.4515, 2.4512, 0.0025, 0.004, 150, None]),
    st.none(),
    st.just(""),
)


def told(report: Report) -> list[Any]:
    """All that is said, as far as two reports can be held against each other."""
    judged = [
        (
            one.rule.name,
            one.codes.tolist(),
            one.must_open.tolist(),
            np.nan_to_num(one.measures.value, nan=-1.0).tolist(),
        )
        for one in report.judged
    ]
    return [report.status, judged, report.flags, report.notes, report.later]


def walk(book: Rulebook, base: dict[str, Any], steps: list[Any]) -> None:
    session = book.session(checker.record_from({"assembly": "S", **base, "readings": {}}), on=DAY)
    for (name, station), value, gauge, word in steps:
        is_fact = book.characteristics[name].unit is None
        try:
            if value is None:
                session.drop(name, station)
            elif is_fact:
                session.take(name, station, word)
            else:
                session.take(name, station, value, instrument=gauge)
        except InputError:
            pass
        assert told(session.report) == told(book.check(session.record, on=DAY))


@examples(40)
@given(st.lists(STEPS, min_size=1, max_size=8))
def test_a_session_says_what_a_check_of_its_record_says(steps: list[Any]) -> None:
    walk(GEARS, TRAIN, steps)


@examples(8)
@given(st.lists(ENGINE_STEPS, min_size=1, max_size=5))
def test_so_it_does_of_an_engine(steps: list[Any]) -> None:
    """With clearances that do not agree with their bores, and occasions."""
    walk(rulebook("four-stroke"), ENGINE, steps)


def test_each_reading_is_answered_with_what_it_changed() -> None:
    session = GEARS.session(
        checker.record_from({"assembly": "S", **TRAIN, "readings": {"gear_module": [2, 2]}}), on=DAY
    )
    first = session.take("backlash", 1, 0.3)
    assert [str(finding) for finding in first.findings] == ["Backlash of a mesh, mesh 1: 0.30 mm outside high"]
    assert (first.judged, session.report.status) == (1, 1)
    second = session.take("backlash", 1, 0.08)
    assert [finding.verdict for finding in second.findings] == [Verdict.WITHIN]
    assert session.take("backlash", 1, 0.08).findings == ()
    gone = session.drop("backlash", 1)
    assert [finding.verdict for finding in gone.findings] == [Verdict.NOT_MEASURED]


@pytest.mark.parametrize(
    ("name", "station", "words"),
    [
        ("backlsh", 1, "unknown characteristic 'backlsh' .did you mean 'backlash'"),
        ("backlash", 3, "no mesh 3: there are 2"),
        ("backlash", 0, "no mesh 0: there are 2"),
        ("backlash", 1.5, r"no mesh 1\.5: there are 2"),  # as a frame of numbers may hold a station
        ("joint_gap", 1, "joint_gap has one value for the assembly, not one for each station"),
    ],
)
def test_what_cannot_have_been_written_is_not_taken_out(name: str, station: Any, words: str) -> None:
    """Who takes out a reading that went wrong, and misses its name, would find it judged all the same."""
    readings = {"backlash": {1: 0.08}, "joint_gap": 0.03}
    session = GEARS.session(checker.record_from({"assembly": "S", **TRAIN, "readings": readings}), on=DAY)
    with pytest.raises(InputError, match=words):
        session.drop(name, station)
    assert session.drop("backlash", 2).findings == ()  # nothing was written there
    assert [finding.verdict for finding in session.drop("backlash").findings] == [Verdict.NOT_MEASURED]


def test_what_cannot_be_is_refused_and_changes_nothing() -> None:
    session = GEARS.session(checker.record_from({"assembly": "S", **TRAIN, "readings": {}}), on=DAY)
    before = session.record
    reply = session.take("backlash", 1, 40.0)
    assert "outside what is possible" in reply.refused[0]
    with pytest.raises(InputError, match="unknown characteristic 'backlsh'"):
        session.take("backlsh", 1, 0.1)
    assert session.record is before


def test_a_station_of_what_is_measured_once_is_told_as_that() -> None:
    session = GEARS.session(checker.record_from({"assembly": "S", **TRAIN, "readings": {"joint_gap": 0.02}}), on=DAY)
    with pytest.raises(InputError, match=r"joint_gap has one value for the assembly.*give None for its station"):
        session.take("joint_gap", 1, 0.03)
    assert session.take("joint_gap", None, 0.03).refused == ()


def test_a_reading_of_a_whole_engine_is_judged_by_the_rules_it_bears_on() -> None:
    """The rules kept are the very arrays of the report before."""
    record = demo_record()
    book = checker.rulebook_for(record)
    session = book.session(record, on=DAY)
    before = {one.rule.name: one for one in session.report.judged}
    session.take("cranking_pressure", 1, "171 psi")
    kept = [one.rule.name for one in session.report.judged if one is before[one.rule.name]]
    assert len(kept) > 0.9 * len(before)
    assert told(session.report) == told(book.check(session.record, on=DAY))


def test_flags_on_computed_values_stand_in_the_order_of_the_pack() -> None:
    """Whatever was taken first: two impossible fits, one of them known before the other."""
    walk(
        GEARS,
        TRAIN,
        [
            ((name, station), value, None, "")
            for name, station, value in (
                ("shaft_diameter", 1, 0.0),
                ("shaft_diameter", 2, 6.0),
                ("gear_bore", 3, 5.0),
                ("bearing_bore", 2, 5.0),
            )
        ],
    )


@pytest.mark.parametrize(("width", "verdict"), [("4 mm", Verdict.WITHIN), ("6 mm", Verdict.OUTSIDE)])
def test_a_sheet_that_comes_to_be_judged_by_itself_is_told(width: str, verdict: Verdict) -> None:
    """The only rule about the key width is for cast parts."""
    sheet = f"key_width: {{at_least: 3 mm, at_most: 5 mm, {SHEET}}}"
    session = parts().session(rig(f"alloy: cast, key_width: {width}", sheet))
    reply = session.take("alloy", None, "forged")
    assert [(found.name, found.verdict) for found in reply.findings] == [("key-width-by-its-sheet", verdict)]
    assert told(session.report) == told(parts().check(session.record))
    session.take("alloy", None, "cast")
    assert told(session.report) == told(parts().check(session.record))


def test_what_is_measured_in_the_place_of_a_figure_is_a_reading() -> None:
    """It is as warm as the parts: a figure of the plan is not."""
    warm = "temperatures: {parts: 60 degC}\nfacts: {joint_gap: 0.0300 mm}\nstations: {shaft: 1}\n"
    session = GEARS.session(gear_record("  {}\n", more=warm), on=DAY)
    session.take("joint_gap", None, "0.0300 mm")
    assert [note.is_fact for note in session.record.notes] == [False]
    measured = GEARS.check(
        gear_record("  joint_gap: 0.0300 mm\n", more=warm.replace("facts: {joint_gap: 0.0300 mm}\n", "")), on=DAY
    )
    (own,) = (found for found in measured.findings if found.name == "joint-gap")
    (taken,) = (found for found in session.report.findings if found.name == "joint-gap")
    assert taken.verdict is own.verdict is Verdict.UNDECIDED
    assert not session.take("oil", None, "mineral").refused
