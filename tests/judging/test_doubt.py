"""Doubt carried through rules, held to worked examples of the standards and to the `uncertainties` library.

Rows of data/uncertainty.csv carry their own source. Agreement with the library is to 1e-9 where a rule is linear. On a
curve the larger of the two moves by the expanded uncertainty counts: never less than first order, and more by the bend.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from examples import examples
from fits_tools import finding, measured, measurement
from hypothesis import given
from hypothesis import strategies as st
from measurement_tools import expected, given_in, instruments
from uncertainties import ufloat

from checker import Finding
from checker.judging.block import Block
from checker.judging.columns import Columns, Gathered
from checker.judging.conformity import Decision
from checker.judging.doubt import Doubts
from checker.judging.judge import Verdict
from checker.judging.measures import measure
from checker.records.layout import Layout

LINEAR = 1e-9
SETTINGS = examples(60)


# --- JCGM 100: how uncertainty is combined ----------------------------------------------------------------------------

H1 = """
standard_length: {with: certificate, value: 50.000623 mm}
difference_seen: {with: comparator, value: 0.215 um}
difference_random: {with: random, value: 0 um}
difference_systematic: {with: systematic, value: 0 um}
expansion: {with: handbook, value: 11.5e-6 per K}
expansion_difference: {with: guess, value: 0 per K}
mean_deviation: {with: thermometer, value: {below: 0 delta degC}}
cyclic_deviation: {with: cycle, value: 0 delta degC}
temperature_difference: {with: bed, value: 0 delta degC}
"""


def h1() -> Finding:
    """The end gauge of JCGM 100:2008, H.1: limits of +-a are a/sqrt(3) if uniform and a/sqrt(2) if U-shaped (4.3)."""
    readings = H1.replace("{below: 0 delta degC}", "'-0.1 delta degC'")
    per_kelvin = {"handbook": 2e-6 / math.sqrt(3), "guess": 1e-6 / math.sqrt(3)}
    kelvin = {"thermometer": 0.2, "cycle": 0.5 / math.sqrt(2), "bed": 0.05 / math.sqrt(3)}
    micrometres = {"certificate": 0.025, "comparator": 0.0058, "random": 0.0039, "systematic": 0.0067}
    listed = {
        **{name: f"expanded_uncertainty: {2 * u:.9f} um" for name, u in micrometres.items()},
        **{name: f"expanded_uncertainty: {2 * u * 1e6:.9f}e-6 per K" for name, u in per_kelvin.items()},
        **{name: f"expanded_uncertainty: {2 * u:.9f} delta degC" for name, u in kelvin.items()},
    }
    return finding(measured(readings, instruments(**listed)), "end-gauge")


def test_the_end_gauge_of_h1() -> None:
    assert h1().value * 1e9 == expected("gum-h1-l")
    assert h1().uncertainty / 2 * 1e9 == expected("gum-h1-uc")


def test_the_comparator_of_h1() -> None:
    standard = [5.8, 3.9, 6.7]
    readings = "\n".join(line for line in H1.strip().splitlines() if "difference" in line or "length" in line)
    exact = "\nexpansion: 0 per K\nmean_deviation: 0 delta degC\ncyclic_deviation: 0 delta degC\n"
    names = ("comparator", "random", "systematic")
    listed = {name: f"expanded_uncertainty: {2 * u / 1000:.6f} um" for name, u in zip(names, standard, strict=True)}
    listed |= {"certificate": "resolution: 0 um", "guess": "resolution: 0 per K", "bed": "resolution: 0 delta degC"}
    found = finding(measured(readings + exact, instruments(**listed)), "end-gauge")
    assert found.uncertainty / 2 * 1e9 == expected("gum-h1-ud")


def test_the_thermometer_of_h3_whose_slope_and_offset_are_correlated() -> None:
    """Whatever hangs together is a sum of causes that do not: here the offset by itself, and what it leaves open."""
    t, b = (np.array(given_in("gum-h3-b30")[name]) for name in ("t", "b"))
    design = np.stack([np.ones_like(t), t - 20.0], axis=1)
    (offset, slope), residual, *_ = np.linalg.lstsq(design, b, rcond=None)
    covariance = np.linalg.inv(design.T @ design) * residual[0] / (len(t) - 2)
    causes = 2.0 * np.linalg.cholesky(covariance)
    columns = Columns(
        {
            "offset": gathered(offset, first=causes[0, 0]),
            "slope": gathered(slope, first=causes[1, 0], second=causes[1, 1]),
            "warmer_by": gathered(10.0),
        }
    )
    rulebook = measurement()
    rule, chain = rulebook.rules["thermometer"], ("any-use",)
    inputs = rulebook.inputs("thermometer", chain)
    block = Block(rulebook.characteristics, Layout({}), columns.measured, columns.views)
    doubts = Doubts(block, columns, [inputs])
    measures = measure(rule, doubts.block, chain)
    doubt = doubts.about(measures, inputs, lambda block: measure(rule, block, chain))
    assert doubt is not None
    assert float(measures.value[0, 0]) == expected("gum-h3-b30")
    assert float(doubt.standard[3, 0, 0]) == expected("gum-h3-ub30")


def gathered(value: float, **shared: float) -> Gathered:
    def one(number: float) -> np.ndarray:
        return np.full((1, 1), number)

    moves = {name: one(move) for name, move in shared.items()}
    return Gathered(one(value), {}, one(0.0), one(0.0), moves, {}, {}, unstated=one(0.0), vague=set())


def test_scatter_of_repeated_readings_is_type_a() -> None:
    """JCGM 100:2008, 4.4.3, from memory: twenty temperatures, mean 100.145, and 0.333 for it; here as millimetres."""
    readings = [96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07]
    readings += [100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72]
    found = finding(measured(f"size: {[f'{value} mm' for value in readings]}\ngreatest_size: 200 mm"), "size-at-most")
    assert found.value * 1000 == pytest.approx(100.145, abs=5e-4)
    assert found.uncertainty / 2 * 1000 == pytest.approx(0.333, abs=5e-4)


def test_a_resolution_is_a_rectangle_of_one_step() -> None:
    """JCGM 100:2008, F.2.2.1: a step d gives d/sqrt(12)."""
    found = finding(
        measured("size: {with: rule, value: 10 mm}\ngreatest_size: 20 mm", instruments(rule="resolution: 0.5 mm")),
        "size-at-most",
    )
    assert found.uncertainty / 2 == pytest.approx(0.0005 / math.sqrt(12), rel=LINEAR)


# --- The same as an independent library -------------------------------------------------------------------------------

SIZES = st.floats(20.0, 200.0)
DOUBTS = st.floats(0.0005, 0.05)
PARTS = st.floats(0.05, 0.95)


@SETTINGS
@given(st.lists(st.tuples(SIZES, SIZES), min_size=2, max_size=5), DOUBTS, DOUBTS, PARTS)
def test_linear_rules_agree_with_the_library(
    pairs: list[tuple[float, float]], gauge: float, micrometer: float, part: float
) -> None:
    """Bore by a gauge of its own and shaft by another; part of each instrument's error is alike in all its readings."""
    listed = instruments(
        gauge=f"expanded_uncertainty: {gauge:.9f} mm, shared: {gauge * part:.9f} mm",
        micrometer=f"expanded_uncertainty: {micrometer:.9f} mm, shared: {micrometer * part:.9f} mm",
    )
    tops, bottoms = ([f"{size:.6f} mm" for size in sizes] for sizes in zip(*pairs, strict=True))
    found = measured(
        f"top: {{with: gauge, values: {tops}}}\nbottom: {{with: micrometer, values: {bottoms}}}",
        f"stations: {{place: {len(pairs)}}}\n{listed}",
    )
    causes = {}
    for name, whole in (("gauge", round(gauge, 9)), ("micrometer", round(micrometer, 9))):
        alike = round((gauge if name == "gauge" else micrometer) * part, 9)
        own = math.sqrt(whole**2 - alike**2) / 2
        causes[name] = (ufloat(0, alike / 2), [ufloat(0, own) for _ in pairs])
    read = [
        (
            round(top, 6) + causes["gauge"][0] + causes["gauge"][1][number],
            round(bottom, 6) + causes["micrometer"][0] + causes["micrometer"][1][number],
        )
        for number, (top, bottom) in enumerate(pairs)
    ]
    mean = sum(top - bottom for top, bottom in read) / len(read)
    assert finding(found, "mean-difference").uncertainty * 1000 == pytest.approx(2 * mean.std_dev, rel=LINEAR)
    total = sum(top for top, _ in read) - sum(bottom for _, bottom in read)
    assert finding(found, "sum-above-the-mean").uncertainty * 1000 == pytest.approx(2 * total.std_dev, rel=LINEAR)
    for station, (top, bottom) in enumerate(read, 1):
        margin = top - 0.9 * bottom
        made = finding(found, "share", station)
        assert made.margin * 1000 == pytest.approx(margin.nominal_value, rel=LINEAR, abs=1e-9)
        assert made.uncertainty * 1000 == pytest.approx(2 * margin.std_dev, rel=LINEAR)


@SETTINGS
@given(SIZES, SIZES, DOUBTS, PARTS)
def test_what_one_micrometer_gives_to_bore_and_journal_alike_cancels(
    top: float, bottom: float, whole: float, part: float
) -> None:
    listed = instruments(micrometer=f"expanded_uncertainty: {whole:.9f} mm, shared: {whole * part:.9f} mm")
    found = measured(
        f"top: {{with: micrometer, values: [{top:.6f} mm]}}\nbottom: {{with: micrometer, values: [{bottom:.6f} mm]}}",
        listed,
    )
    whole, shared = round(whole, 9), round(whole * part, 9)
    alike = ufloat(0, shared / 2)
    own = [ufloat(0, math.sqrt(max(0.0, whole**2 - shared**2)) / 2) for _ in range(2)]
    difference = (top + alike + own[0]) - (bottom + alike + own[1])
    margin = (top + alike + own[0]) - 0.9 * (bottom + alike + own[1])
    assert finding(found, "mean-difference").uncertainty * 1000 == pytest.approx(2 * difference.std_dev, abs=1e-12)
    assert finding(found, "share").uncertainty * 1000 == pytest.approx(2 * margin.std_dev, rel=LINEAR)


@SETTINGS
@given(st.floats(100, 5000), st.floats(10, 50), st.floats(10, 50), *[st.floats(0.0005, 0.03)] * 3)
def test_curved_rules_are_never_below_first_order_and_above_it_by_the_bend(
    force: float, width: float, thickness: float, first: float, second: float, third: float
) -> None:
    """Of a quotient, a divisor that shrinks by the share r lets it grow by r/(1 - r), where first order says r."""
    found = measured(
        f"force: {{with: scale, value: {force:.6f} N}}\nwidth: {{with: caliper, value: {width:.6f} mm}}\n"
        f"thickness: {{with: micrometer, value: {thickness:.6f} mm}}",
        instruments(
            scale=f"expanded_uncertainty: {first * 100:.9f} %",
            caliper=f"expanded_uncertainty: {second * 100:.9f} %",
            micrometer=f"expanded_uncertainty: {third * 100:.9f} %",
        ),
    )
    quotient = ufloat(force, force * first / 2) / (
        ufloat(width, width * second / 2) * ufloat(thickness, thickness * third / 2)
    )
    made = finding(found, "pressure").uncertainty / 1e6
    assert 2 * quotient.std_dev * (1 - 1e-6) <= made <= 2 * quotient.std_dev / (1 - max(second, third)) * (1 + 1e-6)


# --- What first order alone would get wrong ---------------------------------------------------------------------------


def test_a_difference_of_nothing_is_not_certain() -> None:
    """First order sees no slope at the bottom of a fold, and would call 0 +- 0.7 mm within 0.5 mm."""
    readings = "top: {with: rule, values: [10.0 mm]}\nbottom: {with: rule, values: [10.0 mm]}"
    found = finding(measured(readings, instruments(rule="expanded_uncertainty: 0.5 mm")), "fold")
    assert found.uncertainty == pytest.approx(0.0005 * math.sqrt(2), rel=LINEAR)
    assert found.verdict is Verdict.UNDECIDED


def test_a_reading_at_the_edge_of_what_is_possible_can_be_judged() -> None:
    """Nothing less than 0 mm is possible; that is no reason to doubt a reading of 0 mm, moved or not."""
    readings = "top: {with: rule, values: [0.0 mm]}\nbottom: {with: rule, values: [0.0 mm]}"
    found = finding(measured(readings, instruments(rule="expanded_uncertainty: 0.1 mm")), "fold")
    assert found.verdict is Verdict.WITHIN


def test_doubt_whether_a_rule_applies_is_doubt() -> None:
    """What is wider than 50 mm must be 5 mm thick: 49.95 +- 0.10 mm may be."""
    for width, verdict in (
        ("49.8", "not applicable"),
        ("49.95", "undecided"),
        ("50.05", "undecided"),
        ("50.2", "outside"),
    ):
        readings = f"width: {{with: rule, value: {width} mm}}\nthickness: 4 mm"
        found = finding(measured(readings, instruments(rule="expanded_uncertainty: 0.1 mm")), "only-if-wide")
        assert str(found.verdict) == verdict
        assert found.must_open == (verdict == "undecided")
        at_face_value = measured(
            readings, instruments(rule="expanded_uncertainty: 0.1 mm"), decision=Decision("simple")
        )
        assert finding(at_face_value, "only-if-wide").verdict in (Verdict.NOT_APPLICABLE, Verdict.OUTSIDE)


def test_a_condition_that_uncertainty_could_turn_is_undecided() -> None:
    for width, verdict in (("9.7", "outside"), ("9.95", "undecided"), ("10.05", "undecided"), ("10.3", "within")):
        readings = f"width: {{with: rule, value: {width} mm}}\nthickness: {{with: rule, value: 5 mm}}"
        found = finding(measured(readings, instruments(rule="expanded_uncertainty: 0.1 mm")), "holds")
        assert str(found.verdict) == verdict


# --- Readings known from their ends -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "verdict"),
    [
        ("between: [10.0 mm, 10.1 mm]", "within"),
        ("between: [9.9 mm, 10.1 mm]", "undecided"),
        ("between: [9.8 mm, 9.9 mm]", "outside"),
        ("above: 10.2 mm", "outside"),
        ("above: 10.05 mm", "undecided"),
        ("below: 9.9 mm", "outside"),
        ("below: 10.05 mm", "undecided"),
    ],
)
@pytest.mark.parametrize("decision", [Decision("simple"), Decision("guarded"), Decision("probability", 0.95)])
def test_an_interval_is_judged_by_its_worse_end(size: str, verdict: str, decision: Decision) -> None:
    facts = "facts: {least_size: 10 mm, greatest_size: 10.1 mm}\n" + instruments(gauges="expanded_uncertainty: 0 mm")
    found = measured(f"size: {{with: gauges, {size}}}", facts, decision=decision)
    assert str(finding(found, "size").verdict) == verdict


def test_an_open_end_reaches_as_far_as_is_possible() -> None:
    """Off the strip's range, a computed value is known on one side too: above 20 mm less 19 mm is at least 1 mm."""
    found = measured("top: {1: {above: 20 mm}}\nbottom: {1: 19 mm}")
    assert finding(found, "fold").verdict is Verdict.OUTSIDE
    assert finding(measured("top: {1: {above: 19.4 mm}}\nbottom: {1: 19 mm}"), "fold").verdict is Verdict.UNDECIDED


@pytest.mark.parametrize(("most", "verdict"), [(11.1, "within"), (10.9, "undecided")])
def test_a_share_is_taken_of_the_furthest_that_a_reading_may_be(most: float, verdict: str) -> None:
    """A tenth of 10 mm is 1 mm, though a tenth of the middle is but 0.8 mm."""
    facts = f"facts: {{least_size: 4 mm, greatest_size: {most} mm}}\n" + instruments(
        feelers="expanded_uncertainty: 10 %"
    )
    found = measured("size: {with: feelers, between: [6 mm, 10 mm]}", facts)
    assert str(finding(found, "size").verdict) == verdict


@pytest.mark.parametrize(("share", "verdict"), [(3, "within"), (5, "undecided")])
def test_what_a_gauge_reads_wrong_alike_grows_with_the_difference(share: int, verdict: str) -> None:
    """Two ends 0.48 mm apart, all read 5 per cent too small, are 0.504 mm apart."""
    gauge = instruments(gauge=f"expanded_uncertainty: {share} %, shared: {share} %")
    ends = "{with: gauge, between: [9.76 mm, 10.24 mm]}"
    found = measured(f"top: {{1: {ends}}}\nbottom: {{1: {ends}}}", gauge, decision=Decision("guarded"))
    assert str(finding(found, "fold").verdict) == verdict
