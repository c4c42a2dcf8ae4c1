"""Tables of a pack as functions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.documents.document import Origin, parse_yaml
from checker.errors import PackError
from checker.expressions.functions import Function
from checker.expressions.intervals import Interval, RangeError
from checker.expressions.polyline import Polyline
from checker.packs.figures import Axis, Table
from checker.packs.limits import Basis
from checker.packs.tables import table_function
from checker.units.units import unit

ORIGIN = Origin(parse_yaml(b"tables: {grade: {}}", "tables.yaml"), ("tables", "grade"), "invented", "1.0.0")
INF, NAN = math.inf, math.nan


def table(
    *rows: tuple[float, float], up_to: float | None = None, stepped: bool = False, x: str = "1", y: str = "1"
) -> Function:
    stated = Table("grade", ORIGIN, Axis(x), Axis(y), Basis("invented"), up_to=up_to)
    stated = stated._replace(stepped=rows) if stepped else stated._replace(linear=rows)
    return table_function(stated, unit(x), unit(y))


def look_up(function: Function, *values: float) -> list[float]:
    found: list[float] = function(np.array([values]))[0].tolist()
    return found


# An invented gasket grade by the highest piston projection, in the form such tables have in workshop manuals.
GASKETS = table((0.470, 1.30), (0.605, 1.35), (0.755, 1.50), up_to=0.830, stepped=True, x="mm", y="mm")


def test_a_step_holds_from_its_own_mark_up_to_the_next() -> None:
    marks = [0.470, 0.604, 0.605, 0.754, 0.755, 0.830]
    assert look_up(GASKETS, *(mark / 1000 for mark in marks)) == pytest.approx(
        [0.0013, 0.0013, 0.00135, 0.00135, 0.0015, 0.0015]
    )


def test_off_its_ends_a_table_covers_nothing() -> None:
    assert look_up(GASKETS, 0.469e-3, 0.831e-3, 0.0, -1.0) == [INF] * 4
    line = table((8.0, 87.0), (10.0, 91.0))
    assert look_up(line, 7.99, 10.01) == [INF, INF]


def test_missing_is_missing_and_not_off_the_end() -> None:
    assert np.isnan(look_up(GASKETS, NAN)).all()
    assert look_up(GASKETS, INF) == [INF]


def test_a_mark_given_in_inches_is_the_same_mark() -> None:
    # 0.605 mm = 0.605 / 25.4 in exactly; in binary it falls a hair to one side or the other
    assert look_up(GASKETS, 0.605 / 25.4 * 0.0254, (0.605 - 1e-9) * 1e-3) == pytest.approx([0.00135] * 2)
    assert look_up(GASKETS, 0.830 / 25.4 * 0.0254 * (1 + 1e-12)) == pytest.approx([0.0015])


def test_straight_lines_between_points() -> None:
    line = table((8.0, 87.0), (10.0, 91.0), (11.0, 95.0))
    assert look_up(line, 8.0, 9.0, 10.0, 10.5, 11.0) == pytest.approx([87.0, 89.0, 91.0, 93.0, 95.0])


def test_a_line_agrees_with_the_steam_table() -> None:
    # Boiling point of water by pressure: 0.09 MPa 96.69 degC, 0.10 MPa 99.61 degC (IAPWS-IF97, from memory);
    # half way between them the straight line gives 98.15, the tables 98.18
    boiling = table((0.09, 96.69), (0.10, 99.61), x="MPa", y="degC")
    assert look_up(boiling, 95_000.0) == [pytest.approx(98.18 + 273.15, abs=0.05)]


def test_the_range_is_that_of_the_rows() -> None:
    assert GASKETS.range_of(Interval(0.0, 1.0)) == pytest.approx((0.0013, 0.0015))
    assert GASKETS.ends
    with pytest.raises(RangeError, match="covers nothing"):
        GASKETS.range_of(Interval(1e-3, 2e-3))


MARKS = st.lists(st.integers(-50, 50), min_size=2, max_size=7, unique=True).map(sorted)


@given(st.data(), MARKS)
def test_what_a_line_says_on_a_stretch_and_how_steeply_holds_all_along_it(
    data: st.DataObject, marks: list[int]
) -> None:
    # against numpy.interp at 400 places of the stretch
    heights = data.draw(st.lists(st.integers(-50, 50), min_size=len(marks), max_size=len(marks)))
    line = Polyline(np.array(marks, dtype=np.float64), np.array(heights, dtype=np.float64))
    low, high = sorted(data.draw(st.tuples(*[st.floats(marks[0], marks[-1])] * 2)))
    found = line.over(np.array([[low]]), np.array([[high]]))
    places = np.linspace(low, high, 400)
    said = np.interp(places, line.x, line.y)
    assert found.least[0, 0] <= said.min() + 1e-9
    assert found.most[0, 0] >= said.max() - 1e-9
    for slope, side in ((found.flattest[0, 0], 1.0), (found.steepest[0, 0], -1.0)):
        assert (side * (said - said[0]) >= side * slope * (places - places[0]) - 1e-9).all()


def test_on_one_stretch_of_a_line_nothing_bends() -> None:
    line = Polyline(np.array([0.0, 10.0, 20.0]), np.array([0.0, 10.0, 30.0]))
    low, high = np.array([[2.0, 12.0, 8.0]]), np.array([[9.0, 19.0, 12.0]])
    found = line.over(low, high)
    assert found.flattest.tolist() == [[1.0, 2.0, 1.0]]
    assert found.steepest.tolist() == [[1.0, 2.0, 2.0]]
    assert (found.least.tolist(), found.most.tolist()) == ([[2.0, 14.0, 8.0]], [[9.0, 28.0, 14.0]])


@pytest.mark.parametrize(
    ("rows", "up_to", "stepped", "words"),
    [
        (((1.0, 1.0), (1.0, 2.0)), None, False, "1 does not lie above 1"),
        (((2.0, 1.0), (1.0, 2.0)), None, False, "1 does not lie above 2"),
        (((1.0, 1.0), (2.0, 2.0)), None, True, "no end"),
        (((1.0, 1.0), (2.0, 2.0)), 1.5, True, "1.5 does not lie above 2"),
        (((1.0, 1.0),), None, False, "one point makes no line"),
        (((NAN, 1.0), (2.0, 2.0)), None, False, "does not lie above"),
    ],
)
def test_rows_in_no_order_are_refused(
    rows: tuple[tuple[float, float], ...], up_to: float | None, stepped: bool, words: str
) -> None:
    with pytest.raises(PackError, match=words) as caught:
        table(*rows, up_to=up_to, stepped=stepped)
    assert caught.value.problems[0].place == ORIGIN.place
