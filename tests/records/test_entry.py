"""Values in a record: read as the trade writes them, at the stations they were written for, or refused."""

from __future__ import annotations

import csv
import math
from functools import cache

import judging
import pytest
from fits_tools import record
from notation_tools import read_of_engines as read_quantity
from notation_tools import with_words_of_engines
from places import DATA

from checker import InputError, Record, Report, Rulebook
from checker.documents.document import parse_json
from checker.notation.amounts import BEFORE_AN_ANGLE
from checker.notation.read import CommaError, NotationError
from checker.records.entry import Reading
from checker.records.record import record_in
from checker.units.units import unit

ROWS = list(csv.DictReader((DATA / "notation.csv").read_text(encoding="utf-8").splitlines()))
INCHES = "application: any-use\nstations: {seat: 5}\nunits: {length: in, torque: lb-ft}\n"


@cache
def quantities() -> Rulebook:
    return with_words_of_engines(DATA / "quantities")


def made(readings: str, more: str = INCHES) -> Record:
    head = "record: 1\nassembly: Test\nrule_packs: {quantities: '>=1'}\n"
    return record(readings, more, head)


def report(readings: str, more: str = INCHES) -> Report:
    return quantities().check(made(readings, more))


def ends(readings: str, more: str = INCHES) -> list[tuple[int, float, float]]:
    """Station from 1 and the ends of each reading in thousandths of an inch."""
    return [
        (reading.station + 1, round(reading.low / 2.54e-5, 6), round(reading.high / 2.54e-5, 6))
        for reading in report(readings, more).readings
    ]


BLADE = "instruments: {blade: {resolution: 1 thou}}\n"


def refusal(readings: str, more: str = INCHES + BLADE) -> str:
    with pytest.raises(InputError) as error:
        report(readings, more)
    return str(error.value)


def name_for(kind: str, counted: str = "") -> str:
    if counted:
        return counted.replace(" ", "_")
    return f"{'an' if kind == 'angle' else 'a'}_{kind.replace(' ', '_')}"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["text"])
def test_a_record_reads_what_the_notation_reads(row: dict[str, str]) -> None:
    """There is one way to read: a record holds each text as written, or refuses it and offers the same readings."""
    asked = unit(row["expected"])
    default = unit(row["default"]) if row["default"] else None
    units = f"units: {{{asked.kind}: '{row['default']}'}}\n" if default else ""
    text = row["text"].replace("'", "''")
    given = f"{name_for(asked.kind, row['counted'])}: '{text}'"
    try:
        written = read_quantity(row["text"], asked, default, row["counted"])
    except CommaError as error:  # what the notation asks about, the plausible range of a record answers
        (reading,) = report(given, f"application: any-use\n{units}").readings
        assert (reading.written, reading.remarks) == (row["text"], (f"read as {error.readings[0]}",))
        return
    except NotationError as error:
        said = refusal(given, f"application: any-use\n{units}")
        assert all(reading in said for reading in error.readings)
        return
    if len(written.spans) > 1 or written.station:
        refusal(given, f"application: any-use\n{units}")
        return
    (reading,) = report(given, f"application: any-use\n{units}").readings
    high = math.inf if written.meaning == BEFORE_AN_ANGLE else written.spans[0].high
    assert (reading.low, reading.high) == (written.spans[0].low, high)
    assert (reading.written, reading.remarks + tuple(map(str, reading.suspicions))) == (row["text"], written.notes)


@pytest.mark.parametrize(
    ("name", "text", "units", "value", "digit"),
    [
        ("a_length", "43,990", "{length: mm}", 0.043990, 1e-6),  # 43990 mm is longer than anything there
        ("a_rotational_speed", "6,500", "{}", None, 0),
        ("a_bare_number", "12,500", "{}", 12.5, 0.001),
        ("a_bare_number", "1,000", "{}", None, 0),
    ],
)
def test_a_comma_is_the_point_where_thousands_are_not_plausible(
    name: str, text: str, units: str, value: float | None, digit: float
) -> None:
    head = f"application: any-use\nunits: {units}\n"
    if value is None:
        assert "a comma for the point or for thousands?" in refusal(f"{name}: {text!r}", head)
        return
    (reading,) = report(f"{name}: {text!r}", head).readings
    assert (reading.middle, reading.last_digit) == (pytest.approx(value), pytest.approx(digit))


@pytest.mark.parametrize(("written", "thou"), [("1 under", 1), ("1 over", -1), (".010 under", 10), ("1 thou", 1)])
def test_a_difference_from_a_standard_size_counts_as_its_characteristic_says(written: str, thou: float) -> None:
    """A shell's label gives an undersize: "1 under" is a thicker shell, +1 thou."""
    found = judging.report(
        "street", {"main_upper_shell_undersize": [written]}, stations={"main": 1}, units={"length": "in"}
    )
    assert found.readings[0].middle == pytest.approx(thou * 25.4e-6)


@pytest.mark.parametrize("name", ["crankshaft_end_play", "cylinder_bore"])
def test_nothing_else_is_said_to_be_over_or_under_a_standard_size(name: str) -> None:
    with pytest.raises(InputError, match="is counted over the standard size; this "):
        judging.report("street", {name: "6 over"}, units={"length": "in"})


def test_a_torque_before_a_further_angle_is_no_final_torque() -> None:
    """How much the angle adds nobody has read: it is above what the wrench showed, and no upper limit is shown kept."""
    readings = {"fastener_torque": ["80 lb-ft + 90 deg"]}
    (reading,) = judging.report("street", readings, stations={"fastener": 1}).readings
    assert reading.low == pytest.approx(80 * 1.3558179)
    assert reading.high == math.inf


def test_five_stations_in_one_cell() -> None:
    found = ends("lengths: '.0025 .0027 .0026 .0025 .0050'")
    assert found == [(1, 2.5, 2.5), (2, 2.7, 2.7), (3, 2.6, 2.6), (4, 2.5, 2.5), (5, 5, 5)]


@pytest.mark.parametrize(
    "given",
    [
        "lengths: '.0025 .0027 .0026 .0025'",  # one short
        "lengths: '.0025 .0027 .0026 .0025 .0050 .0025'",  # one too many
        "lengths: {2: '.0025 .0027 .0026 .0025 .0050'}",  # five values at one station
        "lengths: {all: '.0025 .0027 .0026 .0025 .0050'}",
        "a_length: '.0025 .0027 .0026 .0025 .0050'",  # one value for the assembly
        "under_the_standard_size: '10/10'",  # of mains and rods, not of stations
    ],
)
def test_a_list_in_one_cell_must_fit_the_stations(given: str) -> None:
    assert "values" in refusal(given)


def test_steps_are_not_stations() -> None:
    three = "application: any-use\nstations: {seat: 3}\n"
    steps = [reading.low for reading in report("torque_steps: 40-70-100 lb-ft", three).readings]
    assert steps == pytest.approx([40 * 1.3558179483314, 70 * 1.3558179483314, 100 * 1.3558179483314])
    assert "3 values" in refusal("as_a_tightening_torque: 40-70-100 lb-ft", three)


def test_a_station_named_in_the_text_is_the_station() -> None:
    assert ends("lengths: '#3 .0016'") == [(3, 1.6, 1.6)]
    assert ends("lengths: {3: '#3 .0016'}") == [(3, 1.6, 1.6)]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("lengths: {2: '#3 .0016'}", "names station 3 but stands under 2"),
        ("lengths: ['#2 .0016', '#1 .0016', .0016, .0016, .0016]", "names station 2 but stands under 1"),
        ("lengths: {all: '#3 .0016'}", "names station 3"),
        ("lengths: '#6 .0016'", "there are 5"),
        ("a_length: '#3 .0016'", "one value for the assembly"),
        ("lengths: .0016", "is measured at each seat"),
        ("lengths: {all: .0016, 3: .0017}", "one value for all stations beside values for single ones"),
        ("lengths: {3: .0017, all: .0016}", "one value for all stations beside values for single ones"),
        ("lengths: {0: .0017}", "no seat 0"),
        ("lengths: {3a: .0017}", "unknown key or station '3a'"),
        ("lengths: [.0016, .0016, .0016, .0016, .0016, .0016]", "no seat 6"),
        ("a_length: {1: .0017}", "one value for the assembly"),
        ("a_lenght: .0017", "did you mean 'a_length'?"),
        ("a_length: {value: .0017, wiht: caliper}", "unknown key 'wiht'"),
        ("a_length: {value: .0017, with: caliper}", "no instrument 'caliper'"),
        ("a_length: {value: .0017, taken: 2026-02-30}", "is not a date"),
        ("a_length: {value: .0017, taken: 02.05.2026}", "is not a date"),
        ("a_length: {value: .0017, above: .0016}", "expected one of"),
        ("a_length: {value: .0017, temperature: warm}", "warm"),
        (
            "a_torque: {value: 70, with: blade}",
            "the uncertainty of blade is in units of length, and a_torque in those of torque",
        ),
    ],
)
def test_what_contradicts_itself_is_refused(given: str, says: str) -> None:
    assert says in refusal(given)


def test_earlier_readings_are_of_known_characteristics_too() -> None:
    said = refusal("a_length: .0017", INCHES + "earlier: {a_lenght: .0016}\n")
    assert "unknown characteristic 'a_lenght'" in said


def test_an_open_end_and_two_ends() -> None:
    assert ends("a_length: {above: .003}") == [(1, 3, math.inf)]
    assert ends("a_length: {below: .001, note: no blade fits}") == [(1, -math.inf, 1)]
    assert ends("lengths: {4: {between: [.011, .012]}}") == [(4, 11, 12)]
    assert ends("lengths: {4: {between: [.012, .011]}}") == [(4, 11, 12)]


def test_two_ends_of_a_ratio_are_no_ratio() -> None:
    (reading,) = report("a_bare_number: {between: [0.5, 1]}").readings
    assert (reading.low, reading.high) == (0.5, 1.0)
    (reading,) = report("a_bare_number: {between: ['9.5:1', '10:1']}").readings
    assert (reading.low, reading.high) == (9.5, 10.0)


def test_two_ends_share_the_unit_that_one_of_them_has() -> None:
    in_mm = INCHES.replace("length: in", "length: mm")
    for text in ("[.0015, .002 in]", "[.0015 in, .002]", "[.0015 in, .002 in]", "[.0015 in, 0.0508 mm]"):
        assert ends(f"a_length: {{between: {text}}}", in_mm) == [(1, 1.5, 2)]


@pytest.mark.parametrize(
    "given",
    [
        "a_length: {between: [.001]}",
        "a_length: {between: .001}",
        "a_length: {between: [.001, .002, .003]}",
        "a_length: {between: [.001, '?']}",
        "a_length: {between: [.001-.002, .003]}",
        "a_length: {above: [.001, .002]}",
        "a_length: {above: .001-.002}",
        "a_length: {above: '#1 .001'}",
    ],
)
def test_ends_are_exact_and_as_many_as_it_takes(given: str) -> None:
    refusal(given)


def test_several_readings_at_one_place() -> None:
    assert ends("lengths: {2: [.0301, .0302]}") == [(2, 30.1, 30.1), (2, 30.2, 30.2)]
    assert ends("lengths: {2: {readings: [.0301, .0302]}}") == [(2, 30.1, 30.1), (2, 30.2, 30.2)]
    assert ends("a_length: [.0301, .0302]") == [(1, 30.1, 30.1), (1, 30.2, 30.2)]


def test_what_was_not_measured_is_not_a_value() -> None:
    assert ends("lengths: [.0016, '-', '?', not measured, '']") == [(1, 1.6, 1.6)]
    data = (
        b'{"record": 1, "assembly": "T", "application": "any-use", "rule_packs": {"quantities": ">=1"},'
        b'"stations": {"seat": 2}, "readings": {"lengths": {"1": null, "2": "1.6 thou"}}}'
    )
    (reading,) = quantities().check(record_in(parse_json(data, "record.json"))).readings
    assert reading.station == 1


def test_circumstances_hold_for_all_values_and_the_nearest_statement_wins() -> None:
    more = INCHES + "taken: 2026-05-01\ninstruments: {blade: {resolution: 1 thou}, caliper: {resolution: 1 thou}}\n"
    found = report(
        "lengths: {with: blade, values: {1: .011, 2: {value: .012, with: caliper, taken: 2026-05-03}}}", more
    )
    seen: list[Reading] = list(found.readings)
    assert [reading.instrument for reading in seen] == ["blade", "caliper"]
    assert [str(reading.taken) for reading in seen] == ["2026-05-01", "2026-05-03"]


@pytest.mark.parametrize(
    "given",
    [
        "{values: {1: {value: [[1]]}}}",
        "{taken: [x], value: 1}",
        "{above: {a: 1}}",
        "{1: {readings: [{a: 1}]}}",
        "{1: {}}",
    ],
)
def test_odd_shapes_are_problems_not_crashes(given: str) -> None:
    refusal(f"lengths: {given}")
