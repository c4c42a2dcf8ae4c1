"""Bounds of sensitivities hold wherever readings may lie; one reading moves a value as far as they say."""

from __future__ import annotations

import numpy as np
import pytest
from expression_tools import ENGINE, SIX

from checker.expressions.compiling import compile_expression
from checker.expressions.differentiate import differentiate
from checker.expressions.evaluate import evaluate
from checker.expressions.expression import Expression
from checker.expressions.names import VALUE, Column
from checker.expressions.sensitivity import Sensitivity, UnboundedError
from checker.expressions.truth import Array

ROWS = 12
BENDING = (
    "main_bearing_bore - main_journal_diameter",
    "abs(main_bearing_bore - main_journal_diameter)",
    "abs(main_bearing_bore - mean(main_bearing_bore))/2 - 3*main_journal_diameter",
    "abs(rod_width - next(rod_width))",
    "spread(main_bearing_bore - main_journal_diameter)",
    "spread(rod_width, 'crankpin') + crankpin_width",
    "total(rod_width, 'crankpin')*crankpin_width",
    "larger_of(main_bearing_bore, larger_of(main_journal_diameter, stroke)) - smaller_of(main_bearing_bore, stroke)",
    "greatest(rod_width) - least(main_journal_diameter)",
    "cylinder_bore*cylinder_bore*stroke/least(rod_width)",
    "cylinder_bore**2*pi/4 - stroke**3/mean(cylinder_bore)",
    "sqrt(cylinder_bore*stroke) - hypot(cylinder_bore, stroke)",
    "abs(abs(rod_width - 0.03 m) - 1 mm)",
    "total(cylinder_bore where piston_alloy is cast) - stroke",
    "stroke/(cylinder_bore - stroke) if cylinder_bore - stroke > 0 m else 0",
    "cylinder_bore if piston_alloy is cast else 2*stroke",
    "stroke/-2 + 0.1*main_journal_diameter",
    "total(rod_mass*stroke) + mean(stroke - rod_mass*0.01 m/1 kg)*1 kg",
    "total(2*stroke if piston_alloy is cast else stroke)",
    "total(larger_of(stroke, rod_width)) - greatest(smaller_of(stroke, rod_width))",
    "total(cylinder_bore*(stroke if piston_alloy is cast else 2*stroke))",
    "least_known(stroke, cylinder_bore) - mean_known(stroke, cylinder_bore)",
)
JUMPING = (
    "stroke + (3.5 mm if cylinder_bore > 100 mm else 3.3 mm)",
    "greatest(3.5 mm if rod_width > 30.1 mm else 3.3 mm) + stroke",
    "larger_of(rod_width, 29.9 mm if rod_width < 30 mm else 30.1 mm)*(2 if stroke > 60 mm else -3)",
    "abs(stroke - (60.5 mm if stroke > 60 mm else 59.9 mm))",
)
OPEN = (
    "stroke if stroke > 60 mm else 2*stroke",
    "round_up(stroke, 1 mm)",
    "stroke/(rod_width - 30 mm) if rod_width > 30 mm else 0",
    "count(rod_width > 30 mm)",
    "log(crankpin_width/stroke)",
)
LENGTHS = ("main_journal_diameter", "main_bearing_bore", "rod_width", "crankpin_width", "cylinder_bore", "stroke")
STATIONS = {name: SIX.count(ENGINE.symbols[name].stations) for name in LENGTHS}


class Rows:
    """Readings of some rows about the same middles, each station with its own cause of doubt and one they share."""

    def __init__(self, random: np.random.Generator) -> None:
        middles = {"cylinder_bore": 0.1, "stroke": 0.06, "main_journal_diameter": 0.06, "main_bearing_bore": 0.0601}
        self.random = random
        self.values = {
            name: middles.get(name, 0.03) + random.normal(0, 1e-4, (ROWS, count)).round(4)
            for name, count in STATIONS.items()
        }
        self.causes = sum(STATIONS.values()) + 2
        self.sizes = {name: np.zeros((self.causes, ROWS, count)) for name, count in STATIONS.items()}
        number = 1
        for name, count in STATIONS.items():
            for station in range(count):
                self.sizes[name][number, :, station] = 1e-4 * random.uniform(0.8, 1.0, ROWS)
                number += 1
            if name in ("main_journal_diameter", "main_bearing_bore", "rod_width"):
                self.sizes[name][-1] = 5e-5
        self.alloys = np.array([[0.0, 1, 0, 0, 2, 0]])
        self.masses = random.normal(1, 0.1, (ROWS, STATIONS["rod_width"]))

    def fixed(self, column: Column) -> Array:
        """What nothing is in doubt about."""
        if column.view != VALUE:
            return np.ones((1, 1))
        return self.masses if column.name == "rod_mass" else self.alloys

    def bounds(self, column: Column) -> Sensitivity:
        """What holds in all rows."""
        if column.name not in STATIONS or column.view != VALUE:
            values = self.fixed(column)
            return Sensitivity(values.min(axis=0, keepdims=True), values.max(axis=0, keepdims=True))
        values, sizes = self.values[column.name], self.sizes[column.name]
        reach = np.sqrt((sizes**2).sum(axis=0))
        low, high = ((values + way * reach) for way in (-1, 1))
        least, most = sizes.min(axis=1), sizes.max(axis=1)
        moves = np.array([most]) if (least == most).all() else np.array([least, most, least])
        found = Sensitivity(low.min(axis=0, keepdims=True), high.max(axis=0, keepdims=True), moves)
        own = ENGINE.symbols[column.name].stations
        return found if column.at in (None, own) or own is None else found.at(SIX.children(column.at, own))

    def moved(self, expression: Expression, shares: Array) -> Array:
        """The values of an expression when each cause moves by so many expanded uncertainties, by cause and row."""

        def fetch(column: Column) -> Array:
            if column.name not in STATIONS or column.view != VALUE:
                return self.fixed(column)
            moves = (shares[:, :, np.newaxis] * self.sizes[column.name]).sum(axis=0)
            found, own = self.values[column.name] + moves, ENGINE.symbols[column.name].stations
            return found if column.at in (None, own) or own is None else found[:, SIX.children(column.at, own)]

        return evaluate(expression, fetch, SIX)


@pytest.mark.parametrize("are_alike", [False, True])
@pytest.mark.parametrize("text", BENDING)
def test_no_value_moves_further_or_less_than_is_said(text: str, are_alike: bool) -> None:
    """Whether the sizes of doubt differ from row to row, or are alike in all of them."""
    random = np.random.default_rng(17)
    rows, expression = Rows(random), compile_expression(text, ENGINE)
    for sizes in rows.sizes.values() if are_alike else ():
        sizes[:] = sizes.max(axis=1, keepdims=True)
    found = differentiate(expression, rows.bounds, SIX)
    assert found.moves is not None
    still = rows.moved(expression, np.zeros((rows.causes, ROWS)))
    rounding = 1e-12 * np.nanmax(np.abs(still))
    reach = found.reach(1.0) + rounding
    for _ in range(60):
        shares = random.normal(0, 1, (rows.causes, ROWS)) * (random.random((rows.causes, 1)) < random.random())
        length = np.sqrt((shares**2).sum(axis=0))
        values = rows.moved(expression, shares / np.where(length > 0, length, 1.0))
        assert not (np.abs(values - still) > reach).any()
        assert not ((values < found.low - rounding) | (values > found.high + rounding)).any()
    for cause in range(rows.causes):
        alone = np.zeros((rows.causes, ROWS))
        alone[cause] = 1.0
        moves = np.maximum(*(np.abs(rows.moved(expression, way * alone) - still) for way in (1.0, -1.0)))
        assert not (moves > found.furthest[cause] + rounding).any()
        assert not (moves < found.certain[cause] - rounding).any()


@pytest.mark.parametrize("text", BENDING[:3])
def test_along_a_straight_line_both_bounds_are_the_same(text: str) -> None:
    """So that whole tables are told from it; the size of a difference is no different, whichever way it lies."""
    rows = Rows(np.random.default_rng(5))
    for sizes in rows.sizes.values():
        sizes[:] = sizes.max(axis=1, keepdims=True)
    found = differentiate(compile_expression(text, ENGINE), rows.bounds, SIX)
    assert found.moves is not None
    assert np.allclose(found.certain, found.furthest, rtol=1e-12, atol=0)
    assert found.furthest.any()


@pytest.mark.parametrize("text", JUMPING)
def test_no_value_jumps_further_than_is_said(text: str) -> None:
    random = np.random.default_rng(23)
    rows, expression = Rows(random), compile_expression(text, ENGINE)
    found = differentiate(expression, rows.bounds, SIX)
    still = rows.moved(expression, np.zeros((rows.causes, ROWS)))
    jumped = 0
    for _ in range(60):
        shares = random.normal(0, 1, (rows.causes, ROWS)) * (random.random((rows.causes, 1)) < random.random())
        length = np.sqrt((shares**2).sum(axis=0))
        values = rows.moved(expression, shares / np.where(length > 0, length, 1.0))
        jumped += int((np.abs(values - still) > found.reach(1.0) - found.furthest[0]).sum())
        assert not (np.abs(values - still) > found.reach(1.0) + 1e-15).any()
    assert jumped


@pytest.mark.parametrize("text", OPEN)
def test_what_may_turn_or_is_not_known_is_left_open(text: str) -> None:
    rows = Rows(np.random.default_rng(3))
    with pytest.raises(UnboundedError):
        differentiate(compile_expression(text, ENGINE), rows.bounds, SIX)
