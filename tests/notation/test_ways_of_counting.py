"""What a number is counted from: dead centres, directions, standard sizes, decks. Words that fit are read, others not.

Sign conventions of cam cards, deck readings and bearing sizes: common practice.
"""

from __future__ import annotations

from math import radians

import judging
import pytest

from checker import InputError, Report
from checker.rulebook import load_rulebook
from checker.units.units import UNITS

SHOP = {"units": {"length": "in", "angle": "deg", "torque": "lb-ft", "volume": "cc"}}
STATIONS = {"stations": {"main": 1, "cylinder": 1, "fastener": 1, "intake-valve": 1}}


def report(name: str, text: str) -> Report:
    return judging.report("street", {name: text}, **SHOP, **STATIONS)


def value(name: str, text: str, unit: str) -> float:
    (reading,) = judging.report("street", {name: [text]}, **SHOP, **STATIONS).readings
    assert reading.low == reading.high
    return UNITS[unit].from_si(reading.low)


def refusal(name: str, text: str) -> str:
    with pytest.raises(InputError) as error:
        report(name, text)
    return str(error.value)


@pytest.mark.parametrize(
    ("name", "text", "degrees"),
    [
        ("intake_opening_card", "31", 31),
        ("intake_opening_card", "31 BTDC", 31),
        ("intake_opening_card", "31 ATDC", -31),
        ("intake_opening_card", "-5 ATDC", 5),
        ("intake_closing_card", "66 ABDC", 66),
        ("intake_closing_card", "4 BBDC", -4),
        ("exhaust_opening_card", "77 BBDC", 77),
        ("exhaust_closing_card", "29 ATDC", 29),
        ("exhaust_closing_card", "3 BTDC", -3),
        ("intake_centreline_card", "108 ICL", 108),
        ("intake_centreline_card", "110 ATDC", 110),
        ("tdc_stop_before", "42 BTDC", -42),
        ("cam_advance", "4 advanced", 4),
        ("cam_advance", "2 retarded", -2),
    ],
)
def test_the_other_direction_is_turned_round(name: str, text: str, degrees: float) -> None:
    assert value(name, text, "deg") == pytest.approx(degrees)


def test_the_report_says_what_was_turned_round() -> None:
    (note,) = report("intake_opening_card", "31 ATDC").notes
    assert "31 ATDC" in str(note)
    assert "counted after top dead centre: -31 deg before top dead centre" in str(note)


def test_a_centreline_before_top_dead_centre_is_no_intake_centreline() -> None:
    """110 BTDC would be an exhaust's: turned round it lies outside what is possible, and is not judged."""
    (flag,) = report("intake_centreline_card", "110 BTDC").flags
    assert flag.is_refused
    assert "60.0 deg to 160.0 deg" in flag.message


@pytest.mark.parametrize(
    ("name", "text", "offered"),
    [
        ("exhaust_closing_card", "29 ABDC", ("29 BTDC", "29 ATDC")),
        ("exhaust_opening_card", "77 BTDC", ("77 BBDC", "77 ABDC")),
        ("intake_centreline_card", "112 + 2", ("112", "2", "114")),
        ("intake_centreline_card", "110 ECL", ("110 BTDC", "110 ATDC", "110 ICL")),
        ("intake_opening_card", "20 - 60", ("20", "60", "20 to 60")),
        ("intake_opening_card", "31 ICL", ("31 BTDC", "31 ATDC")),
        ("intake_duration_at_seat", "280 ATDC", ()),
        ("lobe_separation", "110 ATDC", ()),
        ("main_oil_clearance", "0.002 in + 90 deg", ()),
        ("main_oil_clearance", ".005 in the hole", ()),
        ("main_oil_clearance", "7/16-20", ("7/16 in",)),
        ("main_oil_clearance", "M8x1.25", ("8 mm",)),
        ("main_oil_clearance", "0.001-0.002-0.003", ("0.001", "0.002", "0.003")),
        ("main_oil_clearance", "10/10", ()),
        ("main_oil_clearance", "deck 9.025", ()),
        ("main_oil_clearance", "zero deck", ()),
        ("main_oil_clearance", "85.5 jugs", ()),
        ("peak_torque", "65 Nm + 90", ()),
        ("compression_ratio", ".004 per inch", ()),
        ("compression_ratio", ".0045 x bore", ()),
        ("chamber_volume", "7 cc dish", ()),
        ("lobe_separation", "7 o'clock", ()),
    ],
)
def test_words_of_another_trade_are_refused_with_what_could_be_meant(
    name: str, text: str, offered: tuple[str, ...]
) -> None:
    said = refusal(name, text)
    assert f"readings.{name}: '{text}'" in said or "7 o'clock" in said
    if offered:
        assert f"it could be {' or '.join(offered)}" in said


def test_a_range_of_directions_is_written_out() -> None:
    (reading,) = report("intake_opening_card", "20 to 60").readings
    assert (reading.low, reading.high) == pytest.approx((radians(20), radians(60)))


def test_the_deck_has_two_sides_and_so_have_two_characteristics() -> None:
    assert value("deck_clearance", ".005 in the hole", "in") == pytest.approx(0.005)
    assert value("deck_clearance", ".005 out of the hole", "in") == pytest.approx(-0.005)
    assert value("piston_protrusion", ".005 out of the hole", "in") == pytest.approx(0.005)
    assert value("piston_crown_volume", "3 cc dome", "cc") == pytest.approx(-3)


def test_a_torque_that_goes_on_by_angle_is_only_known_from_below() -> None:
    (reading,) = judging.report("street", {"fastener_torque": ["65 Nm + 90"]}, **SHOP, **STATIONS).readings
    assert reading.low == pytest.approx(65)
    assert reading.high == float("inf")


@pytest.mark.parametrize("pack", ["four-stroke", "nitrous", "boosted", "alcohol"])
def test_every_angle_that_is_shipped_says_how_it_is_counted(pack: str) -> None:
    rulebook = load_rulebook(pack)
    for item in rulebook.characteristics.values():
        if item.unit is not None and item.unit.kind == "angle":
            assert item.characteristic.counted in rulebook.notation.ways, item.name
