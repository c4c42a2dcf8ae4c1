"""Every text that stands in a record ends as a reading, a note or a refusal in the report, or as an error."""

from __future__ import annotations

import csv
import json
from functools import cache

import judging
import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from notation_tools import ANYTHING, with_words_of_engines
from places import DATA

from checker import InputError, Report, Rulebook, Verdict
from checker.documents.document import parse_json
from checker.records.notes import NOT_MEASURED
from checker.records.record import record_in

ROWS = list(csv.DictReader((DATA / "notation.csv").read_text("utf-8").splitlines()))
HEAD = """
pack: narrow
version: 1.0.0
rule_language: 1
title: Narrow ranges, so that much of what is read is not possible
applications: {any-use: {title: Any use}}
milestones: [done]
written_forms: [oil grades, undersizes of mains and rods]
"""
RANGES = {
    "clearance": "unit: in, plausible: [-0.002 in, 0.015 in]",
    "opening": "unit: deg, counted: before top dead centre, plausible: [-90 deg, 150 deg]",
    "tightening": "unit: lb-ft, counted: as a tightening torque, plausible: [0.5 lb-ft, 120 lb-ft]",
    "crown": "unit: cc, counted: as a dish, plausible: [-10 cc, 20 cc]",
    "shell": "unit: in, counted: under the standard size, plausible: [-0.005 in, 0.060 in]",
    "share": 'unit: "1", plausible: [0.001, 12]',
}


@pytest.fixture(scope="module")
def narrow(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    folder = tmp_path_factory.mktemp("narrow")
    characteristics = "".join(f"  {name}: {{title: {name}, {text}}}\n" for name, text in RANGES.items())
    rules = "".join(
        f"  {name}-low:\n    title: {name}\n    before: done\n    judges: {name}\n"
        f"    limits: {{any: {{must: {{at_least: {text.split('plausible: [')[1].split(',')[0]}}}}}}}\n"
        "    basis: shop policy\n    remedy: {low: More.}\n"
        for name, text in RANGES.items()
    )
    (folder / "pack.yaml").write_text(f"{HEAD}characteristics:\n{characteristics}rules:\n{rules}")
    return with_words_of_engines(folder)


def check(book: Rulebook, readings: dict[str, object]) -> Report:
    head = {"record": 1, "assembly": "T", "application": "any-use", "rule_packs": {"narrow": ">=1"}}
    units = {"length": "in", "angle": "deg", "torque": "lb-ft", "volume": "cc"}
    return book.check(record_in(parse_json(json.dumps({**head, "units": units, "readings": readings}).encode(), "r")))


def hold_all_of(book: Rulebook, text: str) -> None:
    """Each characteristic given the text refuses it in an error, or judges it, or shows why it does not."""
    readings: dict[str, object] = dict.fromkeys(RANGES, text)
    try:
        found = check(book, readings)
    except InputError as error:
        named = {problem.place.key.split(".")[1] for problem in error.problems if problem.place and problem.place.key}
        assert named <= set(readings), error
        readings = {name: text for name in readings if name not in named}
        if not named or not readings:
            return
        found = check(book, readings)
    for name in readings:
        (finding,) = (made for made in found.findings if made.name == f"{name}-low")
        own = [reading for reading in found.readings if reading.characteristic == name]
        if not own:
            assert text.strip().lower() in NOT_MEASURED
        elif any(reading.set_aside for reading in own):
            assert any(flag.is_refused and flag.characteristic == name for flag in found.flags)
        else:
            assert finding.verdict is not Verdict.NOT_MEASURED, name
            assert all(reading.written == text for reading in own)


@pytest.mark.parametrize("text", sorted({row["text"] for row in ROWS}))
def test_a_text_of_the_trade(narrow: Rulebook, text: str) -> None:
    hold_all_of(narrow, text)


NUMBERS = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False), st.floats(-1, 200), st.decimals(0, 20, places=4)
).map(str)
PIECES = st.lists(
    st.tuples(NUMBERS, st.sampled_from(("", " in", " deg", " lb-ft", " cc", " ATDC", " thou"))), min_size=1
)
JOINTS = st.sampled_from((" ", "-", " to ", " or ", " + ", " +/- ", " (", "/", "..."))
RANDOM = st.one_of(
    ANYTHING,
    st.builds(lambda pieces, joint: joint.join(number + unit for number, unit in pieces[:3]), PIECES, JOINTS),
    st.builds(lambda word, number: f"{word} {number}", st.sampled_from(("under", "over", "above", "#1")), NUMBERS),
)


@examples(60)
@given(RANDOM)
def test_any_text(narrow: Rulebook, text: str) -> None:
    if text.isprintable():
        hold_all_of(narrow, text)


@cache
def shipped(text: str) -> Report:
    return judging.report("street", {"main_oil_clearance": text}, stations={"main": 1}, units={"length": "in"})


def test_a_range_for_a_clearance_is_a_reading_known_by_its_ends() -> None:
    (reading,) = shipped("0.0012-0.0025").readings
    assert (reading.low, reading.high) == pytest.approx((0.0012 * 0.0254, 0.0025 * 0.0254))
    assert not shipped("0.0012-0.0025").flags


def test_a_range_of_which_the_middle_is_not_possible_is_refused_by_name() -> None:
    (flag,) = shipped("0.012-0.025").flags
    assert flag.is_refused
    assert "reaches outside what is possible, -0.0020 in to 0.0150 in" in flag.message
    assert "0.012-0.025" in str(flag)
