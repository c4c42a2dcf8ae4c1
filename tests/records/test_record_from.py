"""A record from what a program holds says what the same record says as a file: same readings, same mistakes."""

from __future__ import annotations

import json
import pickle
from collections import deque
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pack_tools import gear_rulebook
from pint_registry import REGISTRY
from places import DATA

import checker
from checker import InputError, Record
from checker.records.plain_data import unit_named
from checker.units.units import UNITS

BOOK = gear_rulebook()
QUANTITY = REGISTRY.Quantity
HEAD: dict[str, Any] = {
    "assembly": "E",
    "application": "general",
    "units": {"length": "mm", "mass": "kg"},
    "stations": {"shaft": 2, "mesh": 2},
}


def train(**readings: Any) -> Record:
    return checker.record_from({**HEAD, "readings": readings})


def told(record: Record) -> list[tuple[Any, ...]]:
    return [one[:6] for one in BOOK.check(record).readings]


def as_a_file(data: Any) -> Record:
    return checker.record_from_text(json.dumps({"record": 1, **data}), "record.json")


def test_a_record_from_a_mapping_is_judged_as_the_same_record_from_a_file() -> None:
    file = checker.read_record(DATA / "gear_train_record.yaml")
    plain = {key: value for key, value in file.document.data.items() if key != "record"}
    one, other = BOOK.check(checker.record_from(plain)), BOOK.check(file)
    assert [str(finding) for finding in one.findings] == [str(finding) for finding in other.findings]
    assert [reading.place.key for reading in one.readings] == [reading.place.key for reading in other.readings]
    assert {reading.place.line for reading in one.readings} == {None}


@pytest.mark.parametrize(
    ("given", "as_written"),
    [
        ([50.0, 40], ["50.0", "40"]),
        (np.array([50.0, 40.5]), ["50.0", "40.5"]),
        (np.array([50.1, 40.5], dtype=np.float32), ["50.1", "40.5"]),
        (np.ma.masked_array([50.0, 40.5], mask=[True, False]), ["40.5"]),
        ([np.float64(50.0), np.nan], ["50.0"]),
        ((Decimal("50.00"), "1 31/32 in"), ["50.00", "1 31/32 in"]),
        ([Fraction(103, 2), 40], ["51.5", "40"]),
        (QUANTITY([5.0, 4.0], "cm"), ["5.0 cm", "4.0 cm"]),
        ([QUANTITY(1.9685, "inch"), QUANTITY(40, "millimeter")], ["1.9685 in", "40 mm"]),
        (QUANTITY(np.array([50.0, np.nan]), "mm"), ["50.0 mm"]),
        ({1: 50.0, "2": np.float64(40.0)}, ["50.0", "40.0"]),
        (range(40, 42), ["40", "41"]),
        (deque([50.0, 40.5]), ["50.0", "40.5"]),
        ([Decimal("sNaN"), 40], ["40"]),
    ],
)
def test_values_are_read_as_a_program_holds_them(given: Any, as_written: list[str]) -> None:
    assert [one[4] for one in told(train(shaft_diameter=given))] == as_written


def test_an_array_of_two_dimensions_is_several_readings_a_station() -> None:
    found = told(train(backlash=np.array([[0.07, 0.08], [0.09, 0.10]])))
    assert [(one[1], one[4]) for one in found] == [(0, "0.07"), (0, "0.08"), (1, "0.09"), (1, "0.1")]


def test_a_series_is_read_by_position_only_where_its_labels_count_so() -> None:
    """A row that was filtered out must not move the next station's reading into its place."""
    pandas = pytest.importorskip("pandas")
    sizes = pandas.Series([50.0, 40.0, 30.0])
    assert [(one[1], one[4]) for one in told(train(shaft_diameter=sizes[:2]))] == [(0, "50.0"), (1, "40.0")]
    assert [one[1] for one in told(train(shaft_diameter=pandas.Series({2: 40.0}).to_dict()))] == [1]
    frame = pandas.DataFrame({"a": [50.0, 40.0]})
    for labelled in (sizes[sizes != 40.0], sizes[1:], sizes[::-1], pandas.Series([40.0], index=["b"]), frame):
        with pytest.raises(InputError, match="with labels of its own; give its to_dict"):
            train(shaft_diameter=labelled)


def test_columns_of_arrow_and_of_polars_are_read_as_lists() -> None:
    pyarrow, polars = pytest.importorskip("pyarrow"), pytest.importorskip("polars")
    for column in (pyarrow.array([50.0, None]), pyarrow.chunked_array([[50.0], [None]]), polars.Series([50.0, None])):
        assert [(one[1], one[4]) for one in told(train(shaft_diameter=column))] == [(0, "50.0")]


@pytest.mark.parametrize("day", ["2026-05-02", "2026-05-02T12:00:00.000000000"])
def test_a_day_of_numpy_is_a_day(day: str) -> None:
    (reading,) = train(backlash={"taken": np.datetime64(day), "values": [0.07]}).document.data["readings"].values()
    assert reading["taken"] == "2026-05-02"
    with pytest.raises(InputError, match="taken: expected text, found nothing"):
        checker.record_from({**HEAD, "taken": np.datetime64("NaT", "D")})


def test_a_number_given_as_a_text_is_told_so() -> None:
    with pytest.raises(InputError, match=r"record: expected 1, found .1. .a number is written without quotes"):
        checker.record_from({**HEAD, "record": "1"})


def test_what_has_no_value_yet_or_no_unit_is_read_as_that() -> None:
    pandas = pytest.importorskip("pandas")
    assert told(train(backlash=[pandas.NaT, pandas.NA])) == []
    with pytest.raises(InputError, match="gives bare number"):
        told(train(shaft_diameter=[QUANTITY(50.0, "dimensionless")]))


@given(st.floats(1e-3, 1e3), st.sampled_from(["mm", "cm", "in", "um", "m"]))
def test_a_quantity_is_the_length_it_is(value: float, name: str) -> None:
    """Against pint's own conversion."""
    quantity = QUANTITY(value, name)
    (reading,) = told(train(end_float=[quantity]))
    assert reading[2] == pytest.approx(quantity.to("m").magnitude, rel=1e-12)


COUNTED = {"rotational speed", "pressure per speed", "viscosity", "specific consumption"}
"""Kinds in which pint counts radians, or has no name for ours."""


@pytest.mark.slow
def test_units_of_pint_are_read_with_the_size_that_pint_gives_them() -> None:
    """Every unit of pint's own registry, long and short names, as far as it is read here."""
    read = set()
    for name in [*dir(REGISTRY), *UNITS]:
        try:
            stated = REGISTRY.Unit(name)
            known = UNITS[unit_named(stated)]
        except Exception:  # noqa: S112 - one of the two does not know it
            continue
        if not known.offset and known.kind not in COUNTED:
            assert REGISTRY.Quantity(1.0, stated).to_base_units().m == pytest.approx(known.factor, rel=1e-9), name
            read.add(known.name)
    assert len(read) > 40


@pytest.mark.parametrize(
    ("stated", "name"),
    [
        ("ft*lbf", "lb-ft"),
        ("N*m", "N m"),
        ("kgf*m", "kgf m"),
        ("degC", "degC"),
        ("delta_degC", "delta degC"),
        ("pound", "lbm"),
        ("cm**3", "cc"),
        ("gram/centimeter**3", "g/cm3"),
        ("mm**2/s", "mm2/s"),
        ("lbf/inch", "lb/in"),
        ("micrometer", "um"),
        ("percent", "%"),
    ],
)
def test_units_of_a_library_go_by_their_names_here(stated: str, name: str) -> None:
    assert unit_named(REGISTRY.Unit(stated)) == name


class _Guarded(np.ndarray):
    """An array with a unit that refuses to be a plain list, as those of some libraries do."""

    def tolist(self) -> Any:
        raise NotImplementedError


WRONG: dict[str, tuple[Any, str]] = {
    "a key that is missing": ({"readings": {}}, "record: 'assembly', 'application' are missing"),
    "a name that is unknown": (
        {**HEAD, "readings": {"backlsh": [1]}},
        "readings.backlsh, entry 1: unknown characteristic",
    ),
    "a set": ({**HEAD, "readings": {"backlash": {1, 2}}}, "readings.backlash: found set, expected a mapping, a list"),
    "no end": (
        {**HEAD, "readings": {"backlash": [1, float("inf")]}},
        "readings.backlash, entry 2: a number without end",
    ),
    "more than any number": ({**HEAD, "readings": {"backlash": [1, 10**400]}}, "entry 2: a number beyond any"),
    "a strange unit": (
        {**HEAD, "readings": {"backlash": [QUANTITY(1, "parsec")]}},
        "readings.backlash, entry 1: the unit 'parsec' is none that is read here",
    ),
    "another kind": ({**HEAD, "readings": {"backlash": [QUANTITY(1, "kg")]}}, "readings.backlash, entry 1: .*kg"),
    "a hidden sign": ({**HEAD, "assembly": "E\u202e"}, "record: assembly: the character U\\+202E"),
    "two keys alike": ({**HEAD, "readings": {"backlash": {1: 0.1, "1": 0.2}}}, "the key '1' appears twice$"),
    "a key that is no name": ({**HEAD, "readings": {"backlash": {1.5: 0.1}}}, "the key 1.5 is neither a text nor"),
    "nothing": ({}, "'assembly', 'application' are missing"),
    "numbers of too few bits": (
        {**HEAD, "readings": {"shaft_diameter": np.array([50.03, 40.0], dtype=np.float16)}},
        "readings.shaft_diameter: a number of 16 bits tells no more than three or four digits",
    ),
    "a quantity of too few bits": (
        {**HEAD, "readings": {"backlash": [QUANTITY(np.float16(0.1), "mm")]}},
        "readings.backlash, entry 1: a number of 16 bits",
    ),
    "an array of what is never measured, told once": (
        {**HEAD, "readings": {"shaft_diameter": np.array([50 + 1j, 40])}},
        r"^record: readings.shaft_diameter: found complex128, expected a mapping, .*, as pint's$",
    ),
    "an array that gives no numbers without their unit": (
        {**HEAD, "readings": {"backlash": [np.array(0.1).view(_Guarded)]}},
        "readings.backlash, entry 1: found _Guarded, expected a mapping, .*, as pint's",
    ),
}


@pytest.mark.parametrize(("data", "words"), WRONG.values(), ids=WRONG)
def test_what_is_wrong_is_told_with_the_path_of_its_keys(data: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        BOOK.check(checker.record_from(data))


def test_mistakes_are_told_as_those_of_a_file() -> None:
    data = {**HEAD, "readings": {"shaft_diameter": ["50 lb", 40], "backlash": {"3": 0.1}, "gear_mass": "abot 3"}}
    said = []
    for read in (checker.record_from, as_a_file):
        with pytest.raises(InputError) as found:
            BOOK.check(read(data))
        said.append([(one.message, one.hint, one.place.key if one.place else "") for one in found.value.problems])
    assert sorted(said[0]) == sorted(said[1])


def test_endless_nesting_ends_in_an_error() -> None:
    data: dict[str, Any] = {**HEAD}
    data["readings"] = data
    with pytest.raises(InputError, match="levels, one inside the other"):
        checker.record_from(data)


def test_dates_are_days() -> None:
    record = checker.record_from({**HEAD, "taken": date(2026, 5, 2), "readings": {"joint_gap": 0.02}})
    assert record.taken == "2026-05-02"


def test_a_reading_takes_the_place_of_another() -> None:
    first = train(backlash=[0.07, 0.08], joint_gap=0.02)
    second = first.with_reading("backlash", 2, "0.12 mm", note="turned round").with_reading("joint_gap", None, 0.03)
    assert [(one[0], one[1], one[4]) for one in told(second)] == [
        ("backlash", 0, "0.07"),
        ("backlash", 1, "0.12 mm"),
        ("joint_gap", 0, "0.03"),
    ]
    assert [one[4] for one in told(first)] == ["0.07", "0.08", "0.02"]
    assert len({first.digest, second.digest, first.without("joint_gap").digest}) == 3
    assert [one[4] for one in told(second.without("backlash", 1))] == ["0.12 mm", "0.03"]
    assert [one[0] for one in told(second.without("backlash"))] == ["joint_gap"]
    with pytest.raises(checker.InputError, match=r"nothing is written for 'backlsh' \(did you mean 'backlash'"):
        second.without("backlsh")


def test_several_readings_and_ends_and_facts_may_be_put_in() -> None:
    record = checker.record_from({**HEAD, "facts": {"oil": "mineral"}, "readings": {}})
    changed = record.with_reading("backlash", 1, [0.07, 0.08]).with_reading("backlash", 2, {"above": "0.1 mm"})
    changed = changed.with_reading("oil", None, "synthetic")
    assert [note.written for note in changed.facts] == [("synthetic",)]
    assert [(one[1], one[4]) for one in told(changed) if one[0] == "backlash"] == [
        (0, "0.07"),
        (0, "0.08"),
        (1, "above 0.1 mm"),
    ]


BAD_CHANGES: dict[str, tuple[Callable[[Record], Any], str]] = {
    "of one written for all": (lambda one: one.with_reading("gear_mass", 1, 2.0), "once for every station"),
    "with a strange unit": (lambda one: one.with_reading("backlash", 1, QUANTITY(1, "parsec")), "'parsec' is none"),
    "with an unknown form": (
        lambda one: one.with_reading("backlash", 1, {"about": 1}),
        "unknown key 'about' .did you mean 'above'",
    ),
}


@pytest.mark.parametrize(("change", "words"), BAD_CHANGES.values(), ids=BAD_CHANGES)
def test_a_change_that_cannot_be_is_refused(change: Callable[[Record], Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        change(train(gear_mass={"all": 3.0}))


def test_records_go_through_pickle() -> None:
    record = train(backlash=[0.07, 0.08]).with_reading("backlash", 1, 0.09)
    again = pickle.loads(pickle.dumps(record))  # noqa: S301
    assert (again.digest, told(again)) == (record.digest, told(record))
