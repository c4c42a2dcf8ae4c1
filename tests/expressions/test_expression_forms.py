"""Facts by words, quantities as written, subsets, neighbours, and what is known of several names."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from examples import examples
from expression_tools import ENGINE, SIX, Stations, scope_of, symbol, value_of
from hypothesis import given
from hypothesis import strategies as st
from pint_registry import REGISTRY

from checker.expressions import enclosures
from checker.expressions.boxes import Boxes, Enclosure
from checker.expressions.compiling import compile_expression, where_neighbours_are
from checker.expressions.enclose import enclose
from checker.expressions.evaluate import evaluate
from checker.expressions.names import Column, Symbol

NAN = math.nan
METALS = ("steel", "aluminium", "titanium")
WHEEL = scope_of(
    symbol("tension", "N", "spoke", 0.0, 3000.0),
    symbol("by_hand", "N", "spoke", 0.0, 3000.0),
    symbol("rim", "N", "wheel", 0.0, 3000.0),
    Symbol("side", None, "spoke", 0, 1, ("drive", "other")),
    Symbol("metal", None, None, 0, 2, METALS),
    Symbol("ordered", None, None, 0, 2, METALS),
    parents={"wheel": None, "spoke": "wheel"},
)
SPOKES = Stations({"spoke": 6, "wheel": 2}, {("spoke", "wheel"): [0, 1, 0, 1, 0, 1]})


def wheel(text: str, **values: float | Sequence[float]) -> list[float]:
    """The values of an expression; a name with `__known` says which of its values are there."""
    given: dict[str, float | Sequence[float]] = dict(values)
    for name, value in values.items():
        given[f"{name}__known value"] = np.isfinite(np.atleast_1d(value)).astype(float).tolist()
    found: list[float] = value_of(text, WHEEL, SPOKES, **given)[0].tolist()
    return found


# --- facts --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "metal", "result"),
    [
        ("metal is aluminium", 1.0, 1.0),
        ("metal is 'aluminium'", 0.0, 0.0),
        ("metal is not aluminium", 1.0, 0.0),
        ("metal in (steel, titanium)", 2.0, 1.0),
        ("metal not in (steel, titanium)", 2.0, 0.0),
        ("metal is aluminium", NAN, 0.5),
        ("metal is not aluminium", NAN, 0.5),
        ("metal in (steel, titanium)", NAN, 0.5),
        ("known(metal is aluminium)", 1.0, 1.0),
        ("known(metal is aluminium)", 2.0, 0.0),
        ("known(metal is aluminium)", NAN, 0.0),
        ("known(metal is not aluminium)", NAN, 0.0),
        ("not known(metal is not aluminium)", NAN, 1.0),
    ],
)
def test_a_fact_compared_with_words(text: str, metal: float, result: float) -> None:
    assert wheel(text, metal=metal) == [result]


def test_a_fact_compared_with_another() -> None:
    assert wheel("metal is ordered", metal=1.0, ordered=1.0) == [1.0]
    assert wheel("metal is not ordered", metal=1.0, ordered=2.0) == [1.0]
    assert wheel("metal is ordered", metal=1.0, ordered=NAN) == [0.5]
    assert wheel("known(metal is ordered)", metal=1.0, ordered=NAN) == [0.0]


def test_a_word_that_is_a_choice_is_never_another_fact() -> None:
    scope = replace(WHEEL, symbols={**WHEEL.symbols, "steel": Symbol("steel", None, None, 0, 2, METALS)})
    assert value_of("metal is steel", scope, SPOKES, metal=0.0).item() == 1.0


# --- quantities ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "theirs"),
    [
        ("0.5 thou", "thou"),
        ("65 lb-ft", "foot * pound_force"),
        ("12 N m", "newton * metre"),
        ("0.0010 in/in", ""),
        ("0.5 thou per in", "thou / inch"),
        ("3 in2", "inch ** 2"),
        ("5 %", "percent"),
        ("30 in Hg", "inch_Hg_60F"),
        ("0.45 lb/hp-h", "pound / (horsepower * hour)"),
    ],
)
def test_a_quantity_is_what_a_reference_library_makes_of_it(text: str, theirs: str) -> None:
    """pint with its own full unit file is the reference; its inch of mercury is that at 60 degF, ours at 0 degC."""
    number = float(text.split()[0])
    expected = (number * REGISTRY.Unit(theirs)).to_base_units().magnitude
    assert value_of(text).item() == pytest.approx(expected, rel=5e-3 if "Hg" in text else 1e-9)


def test_a_quantity_is_one_value() -> None:
    assert value_of("stroke/2 mm", stroke=0.1).item() == pytest.approx(50)
    assert value_of("2 mm*3", stroke=0.1).item() == pytest.approx(0.006)
    assert value_of("(2 mm)**2").item() == pytest.approx(4e-6)
    assert value_of("0 if stroke > 0.05 m else 1 in", stroke=0.1).item() == 0.0


# --- subsets ------------------------------------------------------------------------------------------------------

REDUCTIONS: dict[str, Callable[[list[float]], float]] = {
    "mean": statistics.fmean,
    "total": math.fsum,
    "least": min,
    "greatest": max,
    "spread": lambda values: max(values) - min(values),
}
tensions = st.lists(st.one_of(st.just(NAN), st.floats(1, 3000)), min_size=6, max_size=6)
sides = st.lists(st.sampled_from([0.0, 1.0, NAN]), min_size=6, max_size=6)


@examples(200)
@given(st.sampled_from(sorted(REDUCTIONS)), tensions, sides, st.sampled_from([("spoke", 1), ("wheel", 2)]))
def test_a_reduction_over_the_stations_that_are_meant(
    name: str, values: list[float], side: list[float], by: tuple[str, int]
) -> None:
    """What is left out does not count, missing or not; what is missing of those meant makes the result missing."""
    per, groups = by
    text = f"{name}(tension where side is drive)" if groups == 1 else f'{name}(tension where side is drive, "{per}")'
    found = wheel(text, tension=values, side=side)
    for group in range(groups):
        pairs = list(zip(values, side, strict=True))[group::groups]
        sure = [value for value, at in pairs if at == 0.0]
        all_that_may_be = [value for value, at in pairs if at != 1.0]
        result = REDUCTIONS[name](sure) if sure and all(map(math.isfinite, sure)) else NAN
        if len(sure) != len(all_that_may_be):
            known = all(map(math.isfinite, all_that_may_be)) and name not in ("mean", "total")
            result = result if known and math.isfinite(result) and REDUCTIONS[name](all_that_may_be) == result else NAN
        assert found[group] == pytest.approx(result, nan_ok=True)


@examples(200)
@given(st.sampled_from([*sorted(REDUCTIONS), "count"]), tensions, sides, st.data())
def test_what_is_decided_of_a_subset_no_further_fact_changes(
    name: str, values: list[float], side: list[float], data: st.DataObject
) -> None:
    inner = "tension > 500 N" if name == "count" else "tension"
    before = wheel(f"{name}({inner} where side is drive)", tension=values, side=side)[0]
    filled = [at if math.isfinite(at) else data.draw(st.sampled_from([0.0, 1.0])) for at in side]
    more = [value if math.isfinite(value) else data.draw(st.floats(1, 3000)) for value in values]
    after = wheel(f"{name}({inner} where side is drive)", tension=more, side=filled)[0]
    assert math.isnan(before) or after == pytest.approx(before)


def test_of_no_station_there_is_nothing() -> None:
    assert math.isnan(wheel("mean(tension where side is other)", tension=[1, 2, 3, 4, 5, 6], side=[0] * 6)[0])


def test_the_condition_guards_what_is_reduced() -> None:
    assert wheel("greatest(1 N/tension where tension > 0 N)", tension=[0, 2, 4, 5, 8, 10])[0] == pytest.approx(0.5)


# --- neighbours ---------------------------------------------------------------------------------------------------


def test_a_neighbour_is_the_next_of_the_same_parent() -> None:
    values = [10.0, 1.0, 20.0, 2.0, 40.0, 4.0]
    found = wheel("next(tension) - tension", tension=values)
    assert found[:4] == [10.0, 1.0, 20.0, 2.0]
    assert all(map(math.isnan, found[4:]))
    back = wheel("tension - previous(tension)", tension=values)
    assert all(map(math.isnan, back[:2]))
    assert back[2:] == [10.0, 1.0, 20.0, 2.0]


def test_a_reduction_leaves_the_ends_out() -> None:
    values = [10.0, 1.0, 20.0, 2.0, 40.0, 4.0]
    assert wheel("greatest(next(tension) - tension)", tension=values) == [20.0]
    assert wheel('greatest(next(tension) - tension, "wheel")', tension=values) == [20.0, 2.0]
    assert wheel("count(next(tension) > tension)", tension=values) == [4.0]
    assert wheel("total(next(tension - rim))", tension=values, rim=[1.0, 1.0]) == [66.0 - 4]


def test_without_a_parent_all_stations_stand_in_one_line() -> None:
    found = value_of("next(cylinder_bore)", ENGINE, SIX, cylinder_bore=[1, 2, 3, 4, 5, 6])[0]
    assert found[:5].tolist() == [2, 3, 4, 5, 6]
    assert math.isnan(found[5])


def test_where_a_neighbour_is() -> None:
    judged = compile_expression("tension - next(tension)", WHEEL)
    there = where_neighbours_are(judged, "metal is steel", WHEEL)
    metal = {Column("metal"): np.array([[0.0]])}
    assert evaluate(there, metal.__getitem__, SPOKES).tolist() == [[1, 1, 1, 1, 0, 0]]
    assert not compile_expression("greatest(tension - next(tension))", WHEEL).neighbours


# --- what is known of several names -------------------------------------------------------------------------------


@examples(100)
@given(st.sampled_from(["least", "greatest", "mean"]), tensions, tensions)
def test_of_several_names_those_that_are_known(name: str, one: list[float], other: list[float]) -> None:
    found = wheel(f"{name}_known(tension, by_hand)", tension=one, by_hand=other)
    for value, *pair in zip(found, one, other, strict=True):
        there = [each for each in pair if math.isfinite(each)]
        assert value == pytest.approx(REDUCTIONS[name](there) if there else NAN, nan_ok=True)


def test_what_was_written_down_but_does_not_count_leaves_it_open() -> None:
    """A reading set aside might have been the least: neither it nor the others are taken."""
    values = {"tension": [5.0] * 6, "by_hand": [NAN] * 6}
    known = {"tension__known value": [1.0] * 6, "by_hand__known value": [NAN] * 6}
    assert np.isnan(value_of("least_known(tension, by_hand)", WHEEL, SPOKES, **values, **known)).all()


# --- enclosures ---------------------------------------------------------------------------------------------------

FORMS = [
    "least(tension where by_hand > 1000 N)",
    "mean(tension where by_hand > 1000 N)",
    'total(tension where by_hand > 1000 N, "wheel")',
    "count(tension > 900 N where by_hand > 1000 N)",
    "spread(tension where side is drive)",
    "next(tension) - tension",
    "greatest(abs(previous(tension) - by_hand))",
    "mean_known(tension, by_hand)",
    "least_known(by_hand, tension)",
    "greatest_known(by_hand, tension)",
    "larger_of(tension, smaller_of(by_hand, 1000 N)) - smaller_of(tension, by_hand)",
    "acos(tension / 3000 N) - asin(by_hand / 3000 N)",
    "sqrt(tension * by_hand) - by_hand",
    "exp(tension / 3000 N) + log(1 + tension / 1000 N) - log10(1 + by_hand / 1000 N)",
    "atan((tension - by_hand) / 100 N)",
]


@examples(60)
@given(st.sampled_from(FORMS), st.lists(st.floats(500, 1500), min_size=12, max_size=12), st.data())
def test_an_enclosure_holds_every_value(text: str, middles: list[float], data: st.DataObject) -> None:
    halves = data.draw(st.lists(st.sampled_from([0.0, 1.0, 80.0]), min_size=12, max_size=12))
    causes = np.array(data.draw(st.lists(st.lists(st.floats(-1, 1), min_size=12, max_size=12), min_size=1, max_size=8)))
    expression = compile_expression(text, WHEEL)
    known = [float(each) for each in data.draw(st.lists(st.booleans(), min_size=6, max_size=6))]
    facts = {Column("side", at="spoke"): [0.0, 1.0, 0.0, 1.0, 0.0, 1.0]}
    facts[Column("by_hand", "known value", "spoke")] = known
    facts[Column("tension", "known value", "spoke")] = [1.0] * 6
    boxes = Boxes(np.zeros((12, 1)), np.ones((12, 1)), np.zeros(12, dtype=np.bool_), np.zeros(1, dtype=np.intp))
    start = {"tension": 0, "by_hand": 6}

    def missing(column: Column, values: np.ndarray) -> np.ndarray:
        is_asked = "known" in text and column.name == "by_hand"
        return np.where(np.array(known) == 1.0, values, np.nan) if is_asked else values

    def bounds(column: Column) -> Enclosure:
        if column in facts:
            return enclosures.exact(np.array([facts[column]]))
        at = slice(start[column.name], start[column.name] + 6)
        middle, half = missing(column, np.array([middles[at]])), np.array([halves[at]])
        slopes = np.zeros((12, 1, 6))
        slopes[np.arange(start[column.name], start[column.name] + 6), 0, np.arange(6)] = halves[at]
        return Enclosure(middle - half, middle + half, middle, slopes, np.zeros((1, 6)))

    found = enclose(expression, bounds, SPOKES, boxes)
    for row in causes:
        values = np.array(middles) + row * np.array(halves)

        def fetch(column: Column, values: np.ndarray = values) -> np.ndarray:
            if column in facts:
                return np.array([facts[column]])
            return missing(column, values[np.newaxis, start[column.name] : start[column.name] + 6])

        exact = np.broadcast_to(evaluate(expression, fetch, SPOKES), found.low.shape)
        inside = (found.low - 1e-6 <= exact) & (exact <= found.high + 1e-6)
        open_or_missing = np.isnan(exact) & (np.isnan(found.low) | np.isinf(found.low))
        assert (inside | open_or_missing).all(), (text, found.low, exact, found.high)


@pytest.mark.parametrize(
    ("text", "width"),
    [
        # The sine and the cosine of an angle and of what it lacks of a right angle are alike.
        ("asin(tension / 3000 N) + acos(tension / 3000 N)", 0.003),
        ("sqrt(tension * tension) - tension", 25.0),
        ("exp(log(1 + tension / 1000 N)) - tension / 1000 N", 0.015),
        # Of two at most 160 N apart the larger is at most 80 N above their mean.
        ("larger_of(tension, by_hand) - (tension + by_hand) / 2", 80.0 + 1e-9),
    ],
)
def test_what_one_reading_does_twice_cancels_in_curves_too(text: str, width: float) -> None:
    slopes = 80.0 * np.eye(2).reshape(2, 2, 1, 1)
    given = {
        name: Enclosure(middle - 80.0, middle + 80.0, middle, slope, np.zeros((1, 1)), is_bounded=True)
        for name, slope, middle in zip(("tension", "by_hand"), slopes, [np.full((1, 1), 1000.0)] * 2, strict=True)
    }
    boxes = Boxes(np.zeros((2, 1)), np.ones((2, 1)), np.zeros(2, dtype=np.bool_), np.zeros(1, dtype=np.intp), True)
    found = enclose(compile_expression(text, WHEEL), lambda column: given[column.name], SPOKES, boxes)
    assert (found.high - found.low).max() <= width
