"""How far a value may move: both ends of the answer are judged, and stand where the limits are by hand."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from pack_tools import gear_rulebook
from record_heads import TRAIN

import checker
from checker import Record, UsageError, Verdict

DAY = date(2026, 6, 1)
GEARS = gear_rulebook()


def train(**readings: Any) -> Record:
    return checker.record_from({"assembly": "R", **TRAIN, "readings": {"gear_module": [2, 2], **readings}})


def test_the_ends_are_the_limits() -> None:
    """Backlash of a module of 2 mm: 0.03 to 0.05 of it is advised, 0.02 to 0.08 a must (gears.yaml)."""
    room = GEARS.room(train(backlash=[0.08, 0.08]), "backlash", 1, on=DAY)
    assert (room.unit, room.value, room.where) == ("mm", pytest.approx(0.08), "mesh 1")
    assert (room.down.value, room.up.value) == (pytest.approx(0.06, abs=1e-5), pytest.approx(0.10, abs=1e-5))
    assert (room.down.rule, room.down.verdict) == ("backlash", Verdict.ADVISORY)
    must = GEARS.room(train(backlash=[0.08, 0.08]), "backlash", 1, musts_only=True, on=DAY)
    assert (must.down.value, must.up.value) == (pytest.approx(0.04, abs=1e-5), pytest.approx(0.16, abs=1e-5))
    assert must.up.verdict is Verdict.OUTSIDE


def test_what_it_was_measured_with_takes_its_part_of_the_room() -> None:
    """Guarded by 0.004 mm on both sides (ISO 14253-1)."""
    measured = {"with": "micrometer", "values": [0.08, 0.08]}
    room = GEARS.room(train(backlash=measured), "backlash", 2, musts_only=True, on=DAY)
    assert (room.down.value, room.up.value) == (pytest.approx(0.044, abs=1e-5), pytest.approx(0.156, abs=1e-5))
    assert room.down.verdict is room.up.verdict is Verdict.UNDECIDED


def test_where_advice_is_undecided_already_the_must_stops_it() -> None:
    """0.062 mm is within 0.004 mm of what is advised; the must is guarded as above."""
    room = GEARS.room(train(backlash={"with": "micrometer", "values": [0.062, 0.08]}), "backlash", 1, on=DAY)
    assert (room.down.value, room.up.value) == (pytest.approx(0.044, abs=1e-5), pytest.approx(0.156, abs=1e-5))


def test_what_there_is_once_may_be_called_the_first() -> None:
    record = checker.record_from({"assembly": "R", **TRAIN, "readings": {"joint_gap": "0.1 mm"}})
    assert GEARS.room(record, "joint_gap", 1, on=DAY) == GEARS.room(record, "joint_gap", None, on=DAY)


def test_a_value_that_bears_on_others_stops_at_the_first_of_them() -> None:
    """A press of 5 um at least, on a shaft of 50 mm at most 45 um (shafts.yaml: 40 and 30/60 of the 10 above)."""
    room = GEARS.room(train(shaft_diameter=[50.0, 50.0], gear_bore=[49.97] * 4), "gear_bore", 2, on=DAY)
    assert (room.up.value, room.up.rule) == (pytest.approx(49.995, abs=1e-4), "gear-press")
    assert (room.down.value, room.down.rule) == (pytest.approx(49.955, abs=1e-4), "gear-press")
    assert str(room).startswith(
        "Gear bore, gear 2, 49.97 mm: down to 49.955 mm, beyond which Press of a gear on its shaft, gear 2 is outside"
    )


def test_a_value_that_nothing_stops_may_move_as_far_as_is_possible() -> None:
    room = GEARS.room(train(shaft_length=[500.0, 400.0]), "shaft_length", 1, on=DAY)
    assert (room.up.value, room.up.beyond, room.up.rule) == (pytest.approx(2000.0), None, "")


def test_what_is_amiss_already_is_no_room() -> None:
    """0.2 mm are beyond the must of 0.16 mm, and any more or less by itself is no worse: that must not read as room."""
    record = train(backlash={1: [0.2, 0.2], 2: [0.08, 0.08]})
    room = GEARS.room(record, "backlash", 1, on=DAY)
    assert room.up.beyond is None
    assert [(one.rule, one.where, one.verdict) for one in room.already] == [("backlash", "mesh 1", Verdict.OUTSIDE)]
    assert str(room).endswith("; already outside: Backlash of a mesh")
    assert GEARS.room(record, "backlash", 2, on=DAY).already == ()


def test_what_could_not_be_judged_yet_is_no_room() -> None:
    room = GEARS.room(train(shaft_length=[500.0, 400.0]), "shaft_length", 1, on=DAY)
    told = [(one.rule, one.where, one.verdict) for one in room.already]
    assert told == [("shaft-weight", "shaft 1", Verdict.NOT_MEASURED)]
    assert GEARS.room(train(shaft_length=[500.0, 400.0]), "shaft_length", 1, musts_only=True, on=DAY).already == ()


def test_a_plain_number_has_room() -> None:
    """A centre distance of 80.03 mm is 0 to 0.06 mm over 2 x (20 + 60)/2: 0.03 mm either way is 0.03 teeth."""
    record = train(pinion_teeth=[20, 20], wheel_teeth=[60, 60], centre_distance=[80.03, 80.03])
    room = GEARS.room(record, "pinion_teeth", 1, on=DAY)
    assert (room.down.value, room.up.value) == (pytest.approx(19.97, abs=1e-3), pytest.approx(20.03, abs=1e-3))
    assert str(room).startswith("Teeth of the pinion, mesh 1, 20: down to 19.97, beyond which")


@examples(6)
@given(st.floats(30, 110), st.floats(-0.05, 0.12), st.booleans(), st.booleans())
def test_both_ends_are_judged_as_they_say(diameter: float, press: float, is_measured: bool, musts_only: bool) -> None:
    """The heaviest press follows a table over the diameter, and ends with it: no rule of it is monotone."""
    sizes = [round(diameter, 3), 60.0]
    shafts = {"with": "micrometer", "values": sizes} if is_measured else sizes
    record = train(shaft_diameter=shafts, gear_bore=[round(diameter - press, 3)] * 4, end_float=[0.1, 0.1])
    room = GEARS.room(record, "shaft_diameter", 1, musts_only=musts_only, on=DAY)
    gauge = "micrometer" if is_measured else None

    def said(value: float) -> dict[tuple[str, int], tuple[int, bool]]:
        report = GEARS.check(record.with_reading("shaft_diameter", 1, f"{value!r} mm", instrument=gauge), on=DAY)
        return {
            (one.rule.name, station): (int(code), bool(is_open))
            for one in report.judged
            for station, (code, is_open) in enumerate(zip(one.codes[0], one.must_open[0], strict=True))
        }

    def worse(value: float) -> dict[str, int]:
        found = {}
        for key, (code, is_open) in said(value).items():
            is_must = code == Verdict.OUTSIDE or (is_open and not now[key][1])
            if code > max(now[key][0], Verdict.SEEN) and (is_must or not musts_only):
                found[key[0]] = max(code, found.get(key[0], 0))
        return found

    now = said(room.value)
    for end in (room.down, room.up):
        assert worse(end.value) == {}
        if end.beyond is not None:
            assert abs(end.beyond - end.value) < 0.001
            assert worse(end.beyond)[end.rule] == end.verdict


@pytest.mark.parametrize(
    ("name", "station", "words"),
    [
        ("backlsh", 1, "no measured characteristic 'backlsh' .did you mean 'backlash'"),
        ("oil", None, "^no measured characteristic 'oil'$"),
        ("backlash", 3, "backlash has no station 3 .stations are counted from 1 to 2"),
        ("backlash", 0, "backlash has no station 0 .stations are counted from 1 to 2"),
        ("backlash", None, "backlash has 2 stations"),
        ("end_float", 1, "nothing that counts was measured for end_float"),
    ],
)
def test_what_has_no_room_is_told(name: str, station: int | None, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        GEARS.room(train(backlash=[0.08, 0.08]), name, station)


def test_numbers_stay_finite() -> None:
    room = GEARS.room(train(joint_gap=0.0), "joint_gap", on=DAY)
    assert np.isfinite([room.value, room.down.value, room.up.value]).all()
    assert room.down.beyond is None


def test_what_is_moved_is_as_old_as_what_was_read() -> None:
    """A dated reading is younger than its part; where it is moved it must not count as stale, and say nothing."""
    part = {"taken": "2026-05-05", "parts": {"wheel": {"fitted": "2026-05-01", "bears_on": ["backlash"]}}}
    readings = {"gear_module": [2, 2], "backlash": [0.08, 0.08]}
    dated = checker.record_from({"assembly": "R", **TRAIN, **part, "readings": readings})
    assert GEARS.room(dated, "backlash", 1, on=DAY) == GEARS.room(train(backlash=[0.08, 0.08]), "backlash", 1, on=DAY)


STREET = {"assembly": "R", "application": "street", "units": {"length": "in"}}
SET = {"instruments": {"gauge": {"expanded_uncertainty": "0.1 thou", "set_with": "steel"}}}


def clearances(temperature: str, bore: float) -> Record:
    """A warm bore of aluminium and a journal of steel, both measured with what was set in steel."""
    materials = {"main_bearing_bore": "aluminium", "main_journal_diameter": "steel"}
    around = {"temperatures": {"parts": temperature, "materials": materials}, "stations": {"main": 1}, **SET}
    sizes = {"main_journal_diameter": 2.4490, "main_bearing_bore": bore}
    readings = {name: {"with": "gauge", "values": [size]} for name, size in sizes.items()}
    return checker.record_from({**STREET, **around, "readings": readings})


def test_a_warm_part_has_the_room_that_it_has_when_cold() -> None:
    """Aluminium grows by 11e-6 per kelvin more than steel: 2.4515 in at 20 degrees is read 0.0003 in larger at 34."""
    street = checker.load_rulebook("four-stroke")
    cold, warm = (
        street.room(clearances(temperature, bore), "main_bearing_bore", 1, musts_only=True)
        for temperature, bore in (("20 degC", 2.4515), ("34 degC", 2.45184))
    )
    assert warm.value == pytest.approx(cold.value, abs=1e-4)
    assert (warm.down.value, warm.up.value) == (
        pytest.approx(cold.down.value, abs=2e-5),
        pytest.approx(cold.up.value, abs=2e-5),
    )


def test_how_many_there_are_may_be_left_open() -> None:
    record = checker.record_from({**STREET, "readings": {"crankshaft_end_play": 0.006}})
    assert checker.load_rulebook("four-stroke").room(record, "crankshaft_end_play").up.rule == "crankshaft-end-play"


@pytest.mark.parametrize("vague", ["0.08 +/- 0.02", "0.06 to 0.10", {"between": [0.06, 0.10]}])
def test_a_vague_reading_is_as_vague_where_it_is_moved(vague: Any) -> None:
    """The must asks for 0.04 to 0.16 mm, and the value is known to 0.02 mm."""
    room = GEARS.room(train(backlash={1: vague}), "backlash", 1, musts_only=True, on=DAY)
    assert (room.down.value, room.up.value) == (pytest.approx(0.06, abs=1e-5), pytest.approx(0.14, abs=1e-5))
    assert room.down.verdict is room.up.verdict is Verdict.UNDECIDED


def test_several_readings_scatter_as_much_where_they_are_moved() -> None:
    """Two standard deviations of their mean, 0.01 mm over the root of three, are kept from the limits (JCGM 100)."""
    room = GEARS.room(train(backlash={1: [0.07, 0.08, 0.09]}), "backlash", 1, musts_only=True, on=DAY)
    kept = 2 * 0.01 / np.sqrt(3)
    assert (room.down.value, room.up.value) == (
        pytest.approx(0.04 + kept, abs=1e-5),
        pytest.approx(0.16 - kept, abs=1e-5),
    )
