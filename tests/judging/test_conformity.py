"""Deciding under doubt, against JCGM 106:2012, ISO 14253-1 and ILAC-G8, and as a law: more doubt never helps."""

from __future__ import annotations

import json
import math
from statistics import NormalDist

import numpy as np
import pytest
from examples import examples
from fits_tools import measured
from hypothesis import example, given
from hypothesis import strategies as st
from measurement_tools import ROWS, expected, given_in, instruments, size_judged

from checker import Decision, UsageError, Verdict
from checker.expressions.truth import CANNOT_TELL
from checker.judging.conformity import Doubt, conforms, probability
from checker.judging.measures import Measures

SETTINGS = examples(60)


def test_at_face_value_the_limit_decides() -> None:
    assert size_judged(10.1, 0.5, 10.0, 10.1, Decision("simple")).verdict is Verdict.WITHIN
    assert size_judged(10.101, 0.5, 10.0, 10.1, Decision("simple")).verdict is Verdict.OUTSIDE


@pytest.mark.parametrize(("rule", "probability"), [("strict", 0.95), ("probability", 0.4), ("probability", 1.0)])
def test_a_decision_rule_that_is_none_is_refused(rule: str, probability: float) -> None:
    """A probability below one half would turn the guard band outward."""
    with pytest.raises(UsageError):
        Decision(rule, probability)


@pytest.mark.parametrize(
    ("row", "value", "low", "high"),
    [
        ("jcgm106-zener", "y", None, "TU"),
        ("jcgm106-oil40", "y", "TL", "TU"),
        ("pc-clearance", "y", "TL", "TU"),
    ],
)
def test_the_probability_of_conformity_decides(row: str, value: str, low: str | None, high: str) -> None:
    """The printed probability is where the verdict turns."""
    inputs = given_in(row)
    printed, tolerance = float(ROWS[row]["expected"]), float(ROWS[row]["tolerance"].split()[1])
    ends = (inputs[low] if low else -math.inf, inputs[high])
    for asked, verdict in ((printed - tolerance, Verdict.WITHIN), (printed + tolerance, Verdict.UNDECIDED)):
        decision = Decision("probability", asked)
        assert size_judged(inputs[value], 2 * inputs["u"], *ends, decision).verdict is verdict


def test_a_lower_limit_alone_is_as_an_upper_one() -> None:
    """The container of JCGM 106, clause 7: mirrored, for the rule at hand has an upper limit."""
    inputs = given_in("jcgm106-container")
    for asked, verdict in ((0.975, Verdict.WITHIN), (0.985, Verdict.UNDECIDED)):
        decision = Decision("probability", asked)
        found = size_judged(-inputs["y"], 2 * inputs["u"], -math.inf, -inputs["TL"], decision)
        assert found.verdict is verdict


def test_resolution_and_scatter_together_are_near_their_folded_distribution() -> None:
    """As one normal distribution they come within 0.002 of the normal and rectangular one folded together."""
    inputs = given_in("pc-rect")
    whole = 2 * math.hypot(inputs["u"], 2 * inputs["rect_half"] / math.sqrt(12))
    for off, verdict in ((-0.002, Verdict.WITHIN), (0.002, Verdict.UNDECIDED)):
        decision = Decision("probability", float(ROWS["pc-rect"]["expected"]) + off)
        assert size_judged(inputs["y"], whole, inputs["TL"], inputs["TU"], decision).verdict is verdict


def test_guarded_acceptance_is_narrower_by_the_expanded_uncertainty() -> None:
    inputs = given_in("iso14253-accept")
    low, high = json.loads(ROWS["iso14253-accept"]["expected"])
    ends, step = (inputs["LSL"], inputs["USL"]), 1e-4
    for value in (low, high):
        assert size_judged(value, inputs["U"], *ends, Decision("guarded")).verdict is Verdict.WITHIN
    for value in (low - step, high + step, inputs["LSL"] - inputs["U"] + step, inputs["USL"] + inputs["U"] - step):
        assert size_judged(value, inputs["U"], *ends, Decision("guarded")).verdict is Verdict.UNDECIDED
    for value in (inputs["LSL"] - inputs["U"] - step, inputs["USL"] + inputs["U"] + step):
        assert size_judged(value, inputs["U"], *ends, Decision("guarded")).verdict is Verdict.OUTSIDE


def test_between_acceptance_and_refusal_nothing_is_decided() -> None:
    inputs = given_in("iso14253-indet")
    for value, verdict in (
        (inputs["USL"] - inputs["U"], Verdict.WITHIN),
        (inputs["y"], Verdict.UNDECIDED),
        (inputs["USL"] + inputs["U"] - 1e-6, Verdict.UNDECIDED),
        (inputs["USL"] + inputs["U"] + 1e-6, Verdict.OUTSIDE),
    ):
        assert size_judged(value, inputs["U"], -math.inf, inputs["USL"], Decision("guarded")).verdict is verdict


@pytest.mark.parametrize("row", [name for name in ROWS if name.startswith("ilac")])
def test_a_guard_band_bounds_the_risk(row: str) -> None:
    """At the acceptance limit, r times U inside, the probability of not conforming is the printed risk."""
    share, risk, whole = given_in(row)["r"], float(ROWS[row]["expected"]), 0.02
    assert NormalDist().cdf(-2 * share) == expected(row)
    if not 0.5 <= 1 - risk <= 0.9999:
        return
    for part, verdict in ((1.03, Verdict.WITHIN), (0.97, Verdict.UNDECIDED)):
        decision = Decision("probability", 1 - NormalDist().cdf(-2 * share))
        found = size_judged(10.0 - part * share * whole, whole, -math.inf, 10.0, decision)
        assert found.verdict is verdict


def test_the_guard_factor_for_95_per_cent() -> None:
    assert Decision("probability", given_in("iso14253-2017-g")["p"]).guard() == expected("iso14253-2017-g")


def test_a_narrow_tolerance_needs_a_wider_guard() -> None:
    """Between two limits 4 u apart the one-sided guard of 1.645 u is not enough."""
    guard, u, low = float(ROWS["guard-two-sided-narrow"]["expected"]), 0.01, 10.0
    decision = Decision("probability", given_in("guard-two-sided-narrow")["p"])
    for off, verdict in ((1e-4, Verdict.WITHIN), (-1e-4, Verdict.UNDECIDED)):
        assert size_judged(low + (guard + off) * u, 2 * u, low, low + 4 * u, decision).verdict is verdict


def test_a_tolerance_can_be_too_narrow_to_prove_anything() -> None:
    width, u, low = float(ROWS["guard-min-width"]["expected"]), 0.01, 10.0
    decision = Decision("probability", given_in("guard-min-width")["p"])
    for off, verdict in ((1e-4, Verdict.WITHIN), (-1e-4, Verdict.UNDECIDED)):
        whole = (width + off) * u
        assert size_judged(low + whole / 2, 2 * u, low, low + whole, decision).verdict is verdict


RULES = [Decision("guarded"), Decision("probability", 0.9), Decision("probability", 0.99), Decision("simple")]


@SETTINGS
@given(st.floats(9.9, 10.2), st.floats(0.001, 0.2), st.sampled_from(RULES[:3]))
@example(9.999824271796316, 0.125, Decision("guarded"))  # a need of a thousandth of what there is
def test_the_uncertainty_that_is_asked_for_decides(value: float, uncertainty: float, decision: Decision) -> None:
    found = size_judged(value, uncertainty, 10.0, 10.1, decision)
    if found.verdict is not Verdict.UNDECIDED or found.needed_uncertainty < 1e-7:
        return
    needed = found.needed_uncertainty * 1000
    assert needed < uncertainty
    assert size_judged(value, needed * 0.9999, 10.0, 10.1, decision).verdict is not Verdict.UNDECIDED
    assert size_judged(value, needed * 1.001, 10.0, 10.1, decision).verdict is Verdict.UNDECIDED
    assert "or less would decide" in found.remarks[0]
    assert found.remarks[0].startswith("conforms with a probability of 0.") == (decision.rule == "probability")


@SETTINGS
@given(st.floats(9.8, 10.3), st.floats(0.0, 0.3), st.floats(1.0, 10.0), st.sampled_from(RULES))
def test_more_uncertainty_decides_nothing_more(value: float, less: float, times: float, decision: Decision) -> None:
    one, other = (size_judged(value, u, 10.0, 10.1, decision).verdict for u in (less, less * times))
    assert other in (one, Verdict.UNDECIDED)


@SETTINGS
@given(
    st.lists(st.tuples(st.floats(10, 20), st.floats(10, 20)), min_size=2, max_size=4),
    st.floats(0.0, 1.0),
    st.floats(1.0, 5.0),
    st.sampled_from(RULES),
)
def test_so_it_is_on_every_kind_of_rule(
    pairs: list[tuple[float, float]], less: float, times: float, decision: Decision
) -> None:
    def verdicts(uncertainty: float) -> dict[tuple[str, int], Verdict]:
        listed = instruments(gauge=f"expanded_uncertainty: {uncertainty:.9f} mm", scale="expanded_uncertainty: 5 %")
        tops, bottoms = ([f"{size:.6f} mm" for size in sizes] for sizes in zip(*pairs, strict=True))
        readings = (
            f"top: {{with: gauge, values: {tops}}}\nbottom: {{with: gauge, values: {bottoms}}}\n"
            f"force: {{with: scale, value: 900 N}}\nwidth: {{with: gauge, value: {pairs[0][0] * 2:.6f} mm}}\n"
            f"thickness: {{with: gauge, value: {pairs[0][1] / 2:.6f} mm}}"
        )
        found = measured(readings, f"stations: {{place: {len(pairs)}}}\n{listed}", decision=decision)
        return {(made.name, made.station): made.verdict for made in found.findings}

    before, after = verdicts(less), verdicts(less * times)
    for key, verdict in after.items():
        assert verdict is not Verdict.WITHIN or before[key] is Verdict.WITHIN


# --- The arithmetic by itself -----------------------------------------------------------------------------------------


def at_a_station(*margins: float) -> np.ndarray:
    """By position, one record, one station."""
    return np.array(margins, dtype=np.float64).reshape(len(margins), 1, 1)


def doubt(standard: float, below: float = 0.0, applies: bool = False, applies_at_all: bool = False) -> Doubt:
    each = (at_a_station(*[size] * 4) for size in (standard, below, 0.0))
    truths = (np.array([[truth]]) for truth in (applies, applies_at_all))
    return Doubt(*each, *truths, np.ones((4, 1, 1), dtype=np.bool_))


@pytest.mark.parametrize(
    ("margin", "below", "expected"),
    [
        # The standard normal distribution in any table of it, such as ISO 3534-1 refers to; from memory.
        (2.0, 0.0, 0.97725),
        (2.0, 0.5, 0.93319),  # what an interval leaves open is taken off the margin first
        (2.0, 2.0, 0.5),
        (-1.0, 0.0, 0.15866),
        (math.nan, 0.0, 0.0),  # nothing is known: nothing is likely
        (math.inf, 0.0, 1.0),  # no limit on that side
    ],
)
def test_the_probability_beside_one_limit(margin: float, below: float, expected: float) -> None:
    found = probability(0, 3, at_a_station(margin, math.inf, math.inf, math.inf), doubt(1.0, below))
    assert found[0, 0] == pytest.approx(expected, abs=5e-6)


def test_beside_two_limits_what_lies_beyond_each_is_taken_off() -> None:
    found = probability(0, 3, at_a_station(2.0, math.inf, math.inf, 1.0), doubt(1.0))
    assert found[0, 0] == pytest.approx(0.97725 - 0.15866, abs=1e-5)


def test_without_doubt_what_holds_is_certain() -> None:
    assert probability(0, 3, at_a_station(2.0, 1.0, 1.0, 0.0), doubt(0.0))[0, 0] == 1.0


@pytest.mark.parametrize("rule", ["simple", "where-known", "guarded", "probability"])
@pytest.mark.parametrize(
    ("applies", "applies_at_all", "at_face_value"), [(True, False, False), (False, True, True), (True, True, True)]
)
def test_an_interval_leaves_open_whether_a_rule_applies_however_it_is_decided(
    applies: bool, applies_at_all: bool, at_face_value: bool, rule: str
) -> None:
    """Uncertainty is set aside by simple acceptance; an interval is what was read."""
    found = doubt(1.0, applies=applies, applies_at_all=applies_at_all).is_about_applying(Decision(rule))
    assert bool(found[0, 0]) is (at_face_value if rule == "simple" else True)


def test_whether_a_rule_applies_is_settled_where_nothing_reaches_it() -> None:
    assert not doubt(1.0).is_about_applying(Decision("guarded")).any()


@pytest.mark.parametrize("value", [math.inf, -math.inf])
def test_what_no_table_gives_has_no_margin(value: float) -> None:
    """An infinite value is one that is not covered: it is far inside no limit."""
    limits = at_a_station(1.0, -math.inf, math.inf, 9.0)
    measures = Measures(np.array([[value]]), limits, np.ones((1, 1)))
    counted = measures.counted
    assert np.isnan(counted[[0, 3]]).all()
    assert np.isinf(counted[1:3]).all()
    assert (conforms(measures.value, limits, None, Decision())[[0, 3]] == CANNOT_TELL).all()
