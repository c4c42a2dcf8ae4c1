"""Reading and writing quantities.

data/notation.csv was compiled from how the trade writes measurements on sheets, in forums and in manuals; the SI
values are computed from the definitions of the units. Its columns `expected`, `default`, `counted`, `outcome` and
`says` state how we read each text: the characteristic's unit, the unit of bare numbers, the way it is counted, and a
note or the readings offered. Where a text is taken as an interval although the trade means about one value, that value
is in the middle.
data/quantity_texts.txt holds texts that general parsers of units were seen to misread without an error.
"""

from __future__ import annotations

import csv
import json
import math
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from notation_tools import ANYTHING, ENGINES
from notation_tools import read_of_engines as read_quantity
from places import DATA

from checker.expressions.truth import least_equal
from checker.notation.read import NotationError, Written
from checker.notation.words import NUMBER_WORDS
from checker.notation.write import write_apart, write_interval, write_quantity
from checker.units.units import KINDS, UNITS, Unit, unit, units_of

ROWS = list(csv.DictReader((DATA / "notation.csv").read_text(encoding="utf-8").splitlines()))
TEXTS = [
    line.split("\t")
    for line in (DATA / "quantity_texts.txt").read_text(encoding="utf-8").splitlines()
    if not line.startswith("#")
]
IN, THOU, MM, LB_FT, CC, DEG, ONE = (unit(name) for name in ("in", "thou", "mm", "lb-ft", "cc", "deg", "1"))


def values(written: Written) -> list[float]:
    assert all(span.low == span.high for span in written.spans)
    return [span.low for span in written.spans]


def read_row(row: dict[str, str]) -> Written:
    return read_quantity(
        row["text"], unit(row["expected"]), unit(row["default"]) if row["default"] else None, row["counted"]
    )


def stated_spans(stated: str) -> list[tuple[float, float]]:
    """The values a row states: "a..b" an interval, "<a" open below, "a|b" several; a pitch or angle stands after."""
    first = stated.partition(" @ ")[0].partition(" then ")[0]
    if first.startswith("<"):
        return [(-math.inf, float(first[1:]))]
    ends = [[float(end) for end in span.split("..")] for span in first.split("|")]
    return [(span[0], span[-1]) for span in ends]


def test_the_table_is_whole() -> None:
    assert len(ROWS) == 103
    for row in ROWS:
        asks = "ask" in row["ambiguity"] or "reject" in row["ambiguity"]
        # A metric book settles .25, so it is asked for only where no unit of bare numbers is stated (below).
        assert row["outcome"] == "refused" or not asks or row["text"] == ".25", row["text"]


@pytest.mark.parametrize("row", [row for row in ROWS if row["outcome"] == "read"], ids=lambda row: row["text"])
def test_what_the_trade_writes_is_read(row: dict[str, str]) -> None:
    written = read_row(row)
    assert written.text == row["text"]
    assert row["says"] in " ".join(written.notes)
    stated = stated_spans(row["si value"])
    if row["text"] in ("zero deck", "a couple of tenths"):
        ((middle, _),) = stated
        (span,) = written.spans
        assert span.low < middle < span.high
        assert (span.low + span.high) / 2 == pytest.approx(middle, rel=1e-5, abs=1e-12)
    else:
        assert [end for span in written.spans for end in (span.low, span.high)] == pytest.approx(
            [end for span in stated for end in span], rel=1e-5
        )


@pytest.mark.parametrize("row", [row for row in ROWS if row["outcome"] == "refused"], ids=lambda row: row["text"])
def test_what_could_be_two_things_is_refused_with_its_readings(row: dict[str, str]) -> None:
    with pytest.raises(NotationError) as error:
        read_row(row)
    assert error.value.readings[: row["says"].count("|") + 1] == tuple(filter(None, row["says"].split("|")))


@pytest.mark.parametrize(
    ("text", "same_as", "expected"),
    [
        ("0.0025\N{RIGHT DOUBLE QUOTATION MARK}", '0.0025"', IN),
        ("0.0025\N{DOUBLE PRIME}", '0.0025"', IN),
        ("0.0025\N{EN DASH}0.0027", "0.0025-0.0027", IN),
        ("0.0025 to 0.0027", "0.0025-0.0027", IN),
        ("0.25 \N{PLUS-MINUS SIGN} 0.03", "0.25 +/- 0.03", IN),
        ("20 \N{MICRO SIGN}m", "20 micron", IN),
        ("20 \N{GREEK SMALL LETTER MU}m", "20 micron", IN),
        ("70 ft lbs", "70 ft-lb", LB_FT),
        ("70 lb ft", "70 ft-lb", LB_FT),
        ("70 foot pounds", "70 ft-lb", LB_FT),
        ("1.5 kgm", "1.5 kg-m", LB_FT),
        ("1.5 m-kg", "1.5 kg-m", LB_FT),
        ("1.5 mkp", "1.5 kg-m", LB_FT),
        ("9.76:1", "9.76 to 1", ONE),
        ("two and a half thou", "2-1/2 thou", IN),
        ("twenty-five thou", ".025", IN),
        (".305 no-go, .279 goes", ".279 goes, .305 no-go", MM),
        ("10 in\N{SUPERSCRIPT THREE}", "10 cu in", CC),
    ],
)
def test_other_ways_to_write_the_same(text: str, same_as: str, expected: Unit) -> None:
    one, other = (read_quantity(way, expected, expected) for way in (text, same_as))
    assert one.spans[0].low == pytest.approx(other.spans[0].low, rel=1e-12)
    assert one.spans[0].high == pytest.approx(other.spans[0].high, rel=1e-12)
    assert one.text == text


@pytest.mark.parametrize(
    ("text", "same_as", "expected", "counted"),
    [
        ("dish 7cc", "7 cc dish", CC, "as a dish"),
        ("109\N{DEGREE SIGN} ATDC", "109 ATDC", DEG, "after top dead centre"),
        ("109 atc", "109 ATDC", DEG, "before top dead centre"),
    ],
)
def test_other_ways_to_say_what_a_number_is_counted_from(text: str, same_as: str, expected: Unit, counted: str) -> None:
    one, other = (read_quantity(way, expected, expected, counted) for way in (text, same_as))
    assert one.spans == other.spans


def test_an_oversize_needs_its_unit() -> None:
    with pytest.raises(NotationError) as error:
        read_quantity("30 over", MM, MM, "over the standard size")
    assert error.value.readings == ("30 thou", "30 mm")


def test_thou_and_tenths_are_the_trades_words() -> None:
    for text in ("25 tenths", "2.5 thou", "0.0025 in", ".0025", "0.0635 mm"):
        assert values(read_quantity(text, IN, IN)) == pytest.approx([6.35e-5], rel=1e-12)


def test_the_written_unit_wins_over_the_default() -> None:
    assert values(read_quantity(".0025", IN, IN)) == values(read_quantity(".0025 in", IN, MM))
    assert read_quantity(".0025", IN, MM).unit is MM


@pytest.mark.parametrize(
    ("text", "expected", "default", "readings"),
    [
        (".25", IN, None, (".25 in", ".25 mm", ".25 thou")),
        ("3 tenths", MM, MM, ("0.3 mm", "0.0003 in")),
        ("5 hundredths", IN, None, ("0.05 mm", "0.05 in")),
        ("10/20", IN, IN, ("oil 10W-20", "10 thou under and 20 thou under")),
        ("8", unit("%"), None, ("8%", "8:1")),
        ("0.5 to 1", ONE, None, ("0.5:1", "0.5 - 1")),
        ("70#", unit("lbf"), unit("lbf"), ("70 lbf", "70 lbm", "70 psi", "70 lb-ft")),
        ("190*", unit("degF"), None, ("190 degF", "190 degC", "190 K")),
        ("190 deg", unit("degF"), unit("degF"), ("190 degF", "190 degC")),
        ("5 degF", unit("delta degF"), None, ("5 delta degF",)),
        ("ten thousandth", IN, IN, ("ten-thousandth", "ten thousandths")),
        ("0.20 mm (.012)", IN, IN, ("0.20 mm", ".012 in")),
        ("12 500 rpm", unit("rpm"), unit("rpm"), ("12500", "12 and 500")),
        ("4 Mm", MM, MM, ("4 mm",)),
        ("10 lb", unit("lbf"), unit("lbf"), ("10 lbm", "10 lbf")),
    ],
)
def test_context_that_does_not_decide(
    text: str, expected: Unit, default: Unit | None, readings: tuple[str, ...]
) -> None:
    with pytest.raises(NotationError) as error:
        read_quantity(text, expected, default)
    assert error.value.readings == readings
    assert all(reading in str(error.value) for reading in readings)


@pytest.mark.parametrize(
    ("text", "expected", "kinds"),
    [
        ("70 lb/ft", unit("lb/in"), ("torque", "spring rate")),
        ("20 psi", IN, ("pressure", "length")),
        ("2 kg", unit("lbf"), ("mass", "force")),
        ("5 J", LB_FT, ("energy", "torque")),
        ("109 ATDC", IN, ("angle", "length")),
    ],
)
def test_another_kind_is_refused_and_both_are_named(text: str, expected: Unit, kinds: tuple[str, str]) -> None:
    with pytest.raises(NotationError) as error:
        read_quantity(text, expected, None)
    assert all(kind in error.value.message for kind in kinds)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5 / 6", IN),
        ("5.7L / 6,665 cc", CC),
        (".305 goes, .279 no-go", MM),
        ("65 - 70 - 60 lb-ft", LB_FT),
        ("1.5.2026", IN),
        (".0025 -.0027", IN),
        ("0.25 +/- -0.03", IN),
        ("13 o'clock", DEG),
        ("6 ft 9 in", IN),
        ("5\N{MIDDLE DOT}3 mm", IN),
        ("5\N{SUPERSCRIPT TWO} mm", IN),
        ("0.03 thou", IN),
        (".060 thou", IN),
        ("sixty", IN),
        ("2.5 and a half thou", IN),
        ("-5 over", IN),
    ],
)
def test_contradictions_and_half_readable_texts_are_refused(text: str, expected: Unit) -> None:
    with pytest.raises(NotationError):
        read_quantity(text, expected, expected)


def test_torque_then_angle_gives_the_part_that_is_asked_for() -> None:
    torque = read_quantity("65 Nm + 90", LB_FT, LB_FT, "as a tightening torque")
    angle = read_quantity("30 Nm + 1/4 turn", DEG, DEG, "after a torque")
    assert values(torque) == [65.0]
    assert values(angle) == pytest.approx([math.pi / 2])
    assert angle.notes == ("after 30 N m",)


@pytest.mark.parametrize("word", ["under", "below", "less than", "a little under", "just under", "<"])
def test_a_value_known_from_one_side_only(word: str) -> None:
    (below,) = read_quantity(f"{word} .001", IN, IN).spans
    assert (below.low, below.high) == (-math.inf, pytest.approx(2.54e-5))
    opposite = {"under": "over", "below": "above", "less than": "more than", "<": ">"}.get(word, "just over")
    (above,) = read_quantity(f"{opposite} 0.003 in", IN, MM).spans
    assert (above.low, above.high) == (pytest.approx(7.62e-5), math.inf)


def test_words_give_the_sign() -> None:
    assert values(read_quantity("3 cc dome", CC, None, "as a dish")) == pytest.approx([-3e-6])
    assert values(read_quantity("-3 cc dish", CC, None, "as a dish")) == pytest.approx([3e-6])
    assert values(read_quantity("4 retarded", DEG, None, "as retard")) == pytest.approx([math.radians(4)])
    assert "not the sign" in read_quantity("-3 cc dish", CC, None, "as a dish").notes[1]


def test_twelve_is_at_the_zero_of_the_clock() -> None:
    assert values(read_quantity("12 o'clock", DEG, None, "clockwise")) == [0.0]


def test_a_station_label_is_kept_apart() -> None:
    assert read_quantity("#3 .0016", IN, IN).station == "3"


def test_the_point_slipped_in_a_pair_is_flagged_and_the_pair_kept() -> None:
    written = read_quantity(".0025 (.0063)", IN, IN)
    assert written.text == ".0025 (.0063)"
    assert written.notes == (".0063 mm is 0.0002 in, 0.0023 in from .0025 in: a misplaced decimal point",)
    assert values(read_quantity(".078 in (1.983 mm)", IN, IN)) == pytest.approx([1.983e-3])


@pytest.mark.parametrize("line", [line for line in TEXTS if line[0] == "read"], ids=lambda line: line[1])
def test_plain_quantities_are_read(line: list[str]) -> None:
    found = unit(line[3])
    assert values(read_quantity(json.loads(line[1]), found, None, *line[4:])) == pytest.approx(
        [found.to_si(float(line[2]))]
    )


@pytest.mark.parametrize("line", [line for line in TEXTS if line[0] == "refuse"], ids=lambda line: line[1])
def test_misreadable_texts_are_refused_whatever_is_asked_for(line: list[str]) -> None:
    text = json.loads(line[1])
    for kind in KINDS:
        if kind == "bare number" and text == "4.03":
            continue
        with pytest.raises(NotationError):
            read_quantity(text, units_of(kind)[0], None)


@pytest.mark.parametrize("length", [60, 61])
def test_a_text_has_a_greatest_length(length: int) -> None:
    text = "1" + " " * (length - 3) + "mm"
    if length > 60:
        with pytest.raises(NotationError, match="60"):
            read_quantity(text, MM, None)
    else:
        assert values(read_quantity(text, MM, None)) == [0.001]


@pytest.mark.parametrize(
    ("value", "name", "text"),
    [
        (6.35e-5, "in", "0.0025 in"),
        (6.35e-5, "thou", "2.5 thou"),
        (6.223e-5, "thou", "2.45 thou"),
        (6.35e-5, "mm", "0.0635 mm"),
        (94.9073, "lb-ft", "70.0 lb-ft"),
        (9.7561, "ratio", "9.76:1"),
        (1.90241, "deg", "109.0 deg"),
        (108.3333, "rpm", "6500 rpm"),
        (360.9278, "degF", "190 degF"),
        (0.00102, "1", "0.00102"),
        (8.0, "1", "8"),
        (0.085, "%", "8.5%"),
        (-1e-9, "in", "0.0000 in"),
        (25.0e-7, "uin", "98.4 uin"),
    ],
)
def test_quantities_are_written_as_a_shop_does(value: float, name: str, text: str) -> None:
    assert write_quantity(value, unit(name)) == text


def test_a_miss_never_prints_as_the_limit() -> None:
    assert write_apart(IN, IN.to_si(0.00264), IN.to_si(0.0026)) == ("0.00264 in", "0.00260 in")
    assert write_apart(IN, IN.to_si(0.0027), IN.to_si(0.0026)) == ("0.0027 in", "0.0026 in")
    # What the comparison tolerance calls equal is shown as equal.
    assert write_apart(IN, 0.1016, 0.1016 * (1 + 1e-12)) == ("4.0000 in", "4.0000 in")


def test_a_remedy_is_rounded_up_to_what_reaches_the_limit() -> None:
    # The ring gap needs 0.0045 in per inch of a 4.030 in bore, 0.01814 in; 0.014 in was measured.
    assert write_quantity(IN.to_si(0.018135 - 0.014), IN, round_up=True) == "0.0042 in"
    assert write_quantity(IN.to_si(0.018135 - 0.014), IN, digits=3, round_up=True) == "0.005 in"
    assert write_quantity(IN.to_si(0.0185) - IN.to_si(0.0145), IN, round_up=True) == "0.0040 in"
    assert write_quantity(IN.to_si(-0.00414), IN, round_up=True) == "-0.0042 in"


def test_intervals_in_words() -> None:
    assert write_interval(6.35e-5, 6.858e-5, IN) == "0.0025 in to 0.0027 in"
    assert write_interval(7.62e-5, math.inf, IN) == "above 0.0030 in"
    assert write_interval(-math.inf, 2.54e-5, IN) == "below 0.0010 in"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_not_written(value: float) -> None:
    with pytest.raises(ValueError, match="cannot be written"):
        write_quantity(value, IN)


ALL_UNITS = [found for kind in KINDS for found in units_of(kind)]
NUMBERS = st.floats(0.05, 99999, allow_nan=False)


@given(st.sampled_from(ALL_UNITS), NUMBERS, st.sampled_from((1, -1)))
def test_what_is_written_reads_the_same_to_the_last_digit_shown(found: Unit, number: float, sign: int) -> None:
    number *= 1 if found.kind == "volume" or found.name == "ratio" else sign
    text = write_quantity(found.to_si(number), found).replace(
        found.shown, found.name
    )  # a difference says that it is one
    shown = text.split(" ")[0].removesuffix("%").removesuffix(":1")
    step = 10.0 ** -len(shown.partition(".")[2])
    (value,) = values(read_quantity(text, found, None))
    assert found.from_si(value) == pytest.approx(number, abs=0.5 * step + 1e-9 * abs(number) + 1e-9)


@given(st.integers(-99999, 99999))
def test_inches_and_millimetres_agree(tenths: int) -> None:
    inches = Decimal(tenths) / 10000
    metric = inches * Decimal("25.4")
    one, other = (read_quantity(f"{number:f} {name}", IN, None) for number, name in ((inches, "in"), (metric, "mm")))
    assert values(one) == pytest.approx(values(other), rel=1e-12, abs=1e-15)


@given(st.sampled_from(ALL_UNITS), NUMBERS, st.floats(1.000001, 1.5))
def test_different_values_are_written_apart_and_in_order(found: Unit, number: float, ratio: float) -> None:
    first, second = found.to_si(number), found.to_si(number * ratio)
    assume(first < least_equal(second))
    low, high = write_apart(found, first, second)
    shown = [float(text.split(" ")[0].removesuffix("%").removesuffix(":1")) for text in (low, high)]
    assert shown[0] < shown[1]


@given(st.sampled_from(ALL_UNITS), NUMBERS)
def test_rounding_up_never_falls_short(found: Unit, number: float) -> None:
    text = write_quantity(found.to_si(number), found, round_up=True)
    assert float(text.split(" ")[0].removesuffix("%").removesuffix(":1")) >= number * (1 - 1e-8) - 1e-8


@given(ANYTHING, st.sampled_from(ALL_UNITS), st.booleans(), st.sampled_from(["", *ENGINES.ways]))
def test_any_text_is_read_or_refused_and_never_half_read(
    text: str, expected: Unit, bare_numbers: bool, counted: str
) -> None:
    try:
        written = read_quantity(text, expected, expected if bare_numbers else None, counted)
    except NotationError as error:
        assert error.message
        return
    assert written.text == text
    assert written.spans
    assert written.unit.kind == expected.kind
    assert all(span.low <= span.high for span in written.spans)
    assert (
        any(character.isdigit() for character in text)
        or any(word in text.lower() for word in NUMBER_WORDS)
        or ("couple" in text.lower() or "ten-thousandth" in text.lower())
    )


@pytest.mark.parametrize("kind", KINDS)
def test_a_number_and_its_unit_are_read_at_once_as_the_forms_read_them(kind: str) -> None:
    """A blank in front sends a text through all the forms."""
    expected = units_of(kind)[0]
    numbers = ("0", "7", "01", "064", "100", "0.5", ".0025", ".045", "4.030", "5.02", "1.", "0.123456789", "999999999")
    units = ("", *(name for name, found in UNITS.items() if found.kind == kind and name[0] != "1"))
    defaults = (None, *units_of(kind))
    for text in (number + gap + name for number in numbers for gap in ("", " ") for name in units):
        for default in defaults if not text.strip("0123456789. ") else (None,):
            at_once, in_full = read_or_refused(text, expected, default), read_or_refused(f" {text}", expected, default)
            assert at_once == in_full, text


def read_or_refused(text: str, expected: Unit, default: Unit | None) -> tuple[object, ...] | None:
    try:
        found = read_quantity(text, expected, default)
    except NotationError:
        return None
    return found.spans, found.unit, found.notes, found.station, found.each
