"""How many stations there are: as many as each parent has, as its layout says, and never fewer than there may be.

Counts of engines are common knowledge of the trade, from memory: a V8 with one intake and one exhaust valve per
cylinder and two bolts in each rod has four crankpins, eight rods, sixteen rod bolts and eight valves of each kind.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import pytest

from checker import InputError, Report, load_rulebook, record_from_text
from checker.rulebook import Rulebook
from checker.sheets.plan import plan

HEAD = "record: 1\nassembly: Engine\napplication: street\nrule_packs: {four-stroke: '>=1,<2'}\n"
V8 = {"rod": 8, "rod-bolt": 16, "intake-valve": 8, "exhaust-valve": 8, "valve": 16, "crankpin": 4}


@pytest.fixture(scope="module")
def engines() -> Rulebook:
    return load_rulebook("four-stroke")


def judged(engines: Rulebook, stated: str, readings: str = "{}") -> Report:
    return engines.check(record_from_text(f"{HEAD}{stated}\nreadings: {readings}\n"))


def counts(engines: Rulebook, stated: str, readings: str = "{}") -> Mapping[str, int]:
    return judged(engines, stated, readings).context.block.layout.counts


def advice(engines: Rulebook, stated: str, readings: str) -> list[str]:
    found = judged(engines, stated, readings).flags
    return [flag.message.partition(": ")[2] for flag in found if "nothing says how many" in flag.message]


def test_what_belongs_to_a_parent_is_counted_with_it(engines: Rulebook) -> None:
    found = counts(engines, "stations: {main: 5, cylinder: 8}")
    assert {name: found[name] for name in V8} == V8


def test_the_sheet_has_a_box_for_every_one_of_them(engines: Rulebook) -> None:
    sheet = plan(engines, judged(engines, "stations: {main: 5, cylinder: 8}"))
    boxes = {line.name: len(line.spots) for line in sheet.lines}
    assert (boxes["rod_bolt_stretch"], boxes["intake_valve_margin"], boxes["rod_side_clearance"]) == (16, 8, 4)


def test_a_layout_named_says_all_of_it_at_once(engines: Rulebook) -> None:
    report = judged(
        engines, "layout: V8 with pushrods", "{rod_bolt_free_length: {1: 1.5 in}, crankpin_width: {1: 2 in}}"
    )
    found = report.context.block.layout.counts
    assert {name: found[name] for name in V8} == V8
    assert (found["main"], found["cam-journal"], found["lifter-bore"], found["head"]) == (5, 5, 16, 2)
    assert report.uncounted == ()


def test_every_layout_agrees_with_itself_and_with_how_engines_are_built(engines: Rulebook) -> None:
    """Each cylinder has its rod and at least two valves; an in-line engine has one head and a crankpin per cylinder."""
    for name in engines.layered.layouts:
        found = counts(engines, f"layout: {name}")
        cylinders = found["cylinder"]
        assert found["rod"] == cylinders
        assert found["rod-bolt"] == 2 * cylinders
        assert found["valve"] == found["intake-valve"] + found["exhaust-valve"]
        assert found["valve"] == cylinders * (4 if "four valves" in name else 2)
        assert found["head"] == found["deck"] == (1 if "inline" in name else 2)
        assert found["crankpin"] == (cylinders // 2 if re.match(r"V8|V12|V6 with shared", name) else cylinders)
        assert ("pushrods" in name) == (found["lifter-bore"] > 1)


def test_a_number_that_is_only_usual_stays_open_until_it_is_stated(engines: Rulebook) -> None:
    """Eight of the sixteen intake valves of an engine with four valves a cylinder must not pass for all of them."""
    measured = "{intake_high_lift_before: [%s]}" % ", ".join(["20 deg"] * 8)  # noqa: UP031 - braces of YAML
    open_one = judged(engines, "stations: {cylinder: 8}", measured)
    assert open_one.uncounted == ("Intake valve",)
    assert not judged(engines, "stations: {cylinder: 8, intake-valve: 8}", measured).uncounted
    assert not judged(engines, "layout: V8 with pushrods", measured).uncounted
    assert counts(engines, "layout: V8 with four valves per cylinder", measured)["intake-valve"] == 16


def test_more_than_the_usual_number_is_understood_from_what_was_measured(engines: Rulebook) -> None:
    assert counts(engines, "stations: {cylinder: 8}", "{intake_high_lift_before: {12: 20 deg}}")["intake-valve"] == 16


@pytest.mark.parametrize(
    ("stated", "readings", "told"),
    [
        (
            "stations: {cylinder: 8}",
            "{rod_bolt_free_length: {1: 1.5 in}}",
            "stations: {rod-bolt: 16}, expected 16 or 32",
        ),
        ("stations: {main: 5, cylinder: 8}", "{crankpin_width: {1: 2 in}}", "layout: V8 or V8 with pushrods or "),
        ("stations: {main: 5, cylinder: 8}", "{crankpin_width: {1: 2 in}}", "stations: {crankpin: 4}"),
        ("stations: {main: 5, cylinder: 8}", "{lifter_bore_diameter: {1: 0.9 in}}", "stations: {lifter-bore: 16}"),
        ("stations: {main: 5}", "{thread_diameter: {1: 0.5 in, 2: 0.5 in}}", "stations: {fastener: 2} if that is all"),
    ],
)
def test_the_counts_that_are_advised_are_right(engines: Rulebook, stated: str, readings: str, told: str) -> None:
    (message,) = advice(engines, stated, readings)
    assert told in message


def test_a_parent_that_nobody_counts_is_never_shared_by_more_than_may_share_it(engines: Rulebook) -> None:
    """Six rods may sit on six crankpins or on three: with three measured, the other three are still asked for."""
    assert counts(engines, "stations: {cylinder: 6}", "{crankpin_width: [2 in, 2 in, 2 in]}")["crankpin"] == 6
    assert counts(engines, "stations: {cylinder: 6, crankpin: 3}")["rod"] == 6


@pytest.mark.parametrize(
    ("stated", "line", "told"),
    [
        (
            "layout: V8 with pushrods\nstations: {intake-valve: 16}",
            6,
            "16 intake-valve, expected 8 (layout 'V8 with pushrods')",
        ),
        (
            "stations: {cylinder: 8, intake-valve: 12}",
            5,
            "12 intake-valve, expected 8, 16 or 24 (1, 2 or 3 for each of 8 cylinder)",
        ),
        ("stations: {cylinder: 8, rod: 6}", 5, "6 rod, expected 8 (as many as cylinder)"),
        ("stations: {cylinder: 8, crankpin: 3}", 5, "8 rod (as many as cylinder), expected 3, 6 or 9"),
        ("layout: V9", 5, "no layout 'V9'"),
    ],
)
def test_counts_that_contradict_each_other_are_refused(engines: Rulebook, stated: str, line: int, told: str) -> None:
    with pytest.raises(InputError) as caught:
        judged(engines, stated)
    (problem,) = caught.value.problems
    assert problem.place is not None
    assert (problem.place.line, told in problem.message) == (line, True), problem


@pytest.mark.parametrize(
    "stated", ["layout: flat four with pushrods\nstations: {main: 3}", "stations: {rod: 4, rod-bolt: 16}"]
)
def test_a_number_that_the_pack_allows_takes_the_place_of_the_usual_one(engines: Rulebook, stated: str) -> None:
    assert judged(engines, stated)


@pytest.mark.parametrize(
    "blank", ["{1: , 2: , 3: }", "{1: '-', 2: not measured}", "{1: {value: , note: to be ordered}}"]
)
def test_a_blank_asks_for_no_count(blank: str, engines: Rulebook) -> None:
    """A sheet that was printed and not filled in has measured nothing of which others would be missed."""
    report = judged(engines, "layout: V8 with pushrods", f"{{fastener_torque: {blank}}}")
    assert report.uncounted == ()
    assert advice(engines, "layout: V8 with pushrods", f"{{fastener_torque: {blank}}}") == []
    filled = "{fastener_torque: {1: 100 N.m}}"
    assert len(judged(engines, "layout: V8 with pushrods", filled).uncounted) == 1
