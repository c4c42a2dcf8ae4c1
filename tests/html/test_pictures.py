"""Pictures: what a pack may ask for, and where things lie on a drawing."""

from __future__ import annotations

import cmath
import math
import re
from itertools import pairwise
from pathlib import Path
from xml.etree.ElementTree import Element

import pytest
from defusedxml.ElementTree import fromstring
from hypothesis import example, given
from hypothesis import strategies as st
from pack_tools import plugins_with, write_pack
from report_tools import FULL, HEAD, RULES, mill_report, plainly, words

from checker import PackError, Report, load_rulebook
from checker.html.dials import Dial, clockwise, dials
from checker.html.limits import Drawn
from checker.html.picture_band import band, band_scale, row
from checker.html.picture_clock import clocks
from checker.html.picture_cycle import cycles
from checker.html.report_page import write_html
from checker.html.scale import scale_for

FINITE = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)


def drawing(markup: str) -> Element:
    found: Element = fromstring(markup)
    return found


def first_svg(markup: str) -> Element:
    """The first drawing in it; what is around it need not be well-formed XML."""
    found = re.search(r"<svg.*?</svg>", markup, re.DOTALL)
    assert found
    return drawing(found[0])


def numbers_in(path: str | None) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", path or "")]


# --- what a pack may ask for ---------------------------------------------------------------------------------------

WRONG = {
    "an unknown picture": ("picture: marks", "picture: mark", "no picture 'mark'.*did you mean 'marks'"),
    "not an angle": ("of: {«mark»: mark_angle}", "of: {«mark»: stone_gap}", "'stone_gap' is a length, not an angle"),
    "no number": ("of: {«mark»: mark_angle}", "of: {«mark»: mark_angle > 0 deg}", "is a truth, not an angle"),
    "a span on a clock": (
        "of: {«mark»: mark_angle}",
        "of: {«mark»: [mark_angle, gate_opens]}",
        "spans belong on a cycle",
    ),
    "a reserved name": (
        "  gate: {title: «Gate», kind",
        "  band: {title: «Gate», kind",
        "'band' is how a rule is drawn",
    ),
    "an unknown kind": ("kind: clock", "kind: dial", "expected clock or cycle"),
    "stations apart": (
        "of: {«mark»: mark_angle}",
        "of: {«mark»: mark_angle, «heat»: spindle_heat/1 K*1 deg}",
        "cannot be drawn together",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_picture_that_cannot_be_drawn_is_refused_with_its_line(name: str, tmp_path: Path) -> None:
    before, after, message = WRONG[name]
    assert before in RULES
    pack = write_pack(tmp_path / "mill", pack=words(HEAD, plainly), mill=words(RULES.replace(before, after), plainly))
    with pytest.raises(PackError, match=message) as caught:
        load_rulebook(pack, plugins=plugins_with(mill=pack))
    assert all(problem.place and problem.place.line for problem in caught.value.problems)


def test_a_rule_is_drawn_without_asking(tmp_path: Path) -> None:
    assert "<svg" in write_html(mill_report(tmp_path))


# --- where things lie ----------------------------------------------------------------------------------------------


@given(FINITE, FINITE)
@example(1000000.0, 999999.9999999999)
def test_ticks_are_round_evenly_spaced_and_on_the_scale(one: float, other: float) -> None:
    scale = scale_for([one, other], 0.0, 400.0)
    ticks = scale.ticks()
    assert 2 <= len(ticks) <= 12
    steps = [after - before for before, after in pairwise(ticks)]
    assert all(step == pytest.approx(steps[0], rel=1e-6) for step in steps)
    slack = 1e-6 * (scale.high - scale.low)
    assert all(scale.low - slack <= tick <= scale.high + slack for tick in ticks)
    assert len({scale.written(tick) for tick in ticks}) == len(ticks)


@given(st.lists(FINITE, min_size=1, max_size=6))
def test_a_scale_has_room_for_every_value_and_keeps_their_order(values: list[float]) -> None:
    scale = scale_for(values, 0.0, 400.0)
    places = [scale.at(value) for value in sorted(values)]
    assert places == sorted(places)
    assert all(0.0 < place < 400.0 for place in places)


def marker(svg: Element) -> float:
    """Where the middle of the mark lies along the band."""
    mark = next(part for part in svg if "mark" in part.get("class", ""))
    return float(mark.get("x", "nan")) + 8


@given(
    st.floats(0.1, 0.9),
    st.floats(-2.0, 3.0),
    st.sampled_from([(0.0, 1.0), (-math.inf, 1.0), (0.0, math.inf)]),
)
def test_a_value_is_drawn_inside_its_limits_only_where_it_lies_inside(
    other: float, value: float, must: tuple[float, float]
) -> None:
    nothing = (math.nan, math.nan)
    items = [Drawn("within", number, 0.0, must, nothing) for number in (value, other)]
    svg = drawing(band(items[0], items, band_scale(items)))
    bar = next(part for part in svg if part.get("class") == "must")
    left = float(bar.get("x", "nan"))
    right = left + float(bar.get("width", "nan"))
    inside = left - 0.02 <= marker(svg) <= right + 0.02
    assert inside == (must[0] - 1e-4 <= value <= must[1] + 1e-4) or min(abs(value - end) for end in must) < 0.01


def test_a_band_shows_limits_the_other_stations_and_the_doubt() -> None:
    items = [Drawn("outside", value, 0.1, (0.0, 1.0), (0.2, 0.8)) for value in (1.4, 0.5, 0.6)]
    svg = drawing(band(items[0], items, band_scale(items)))
    kinds = [part.get("class") for part in svg]
    assert (kinds.count("end-must"), kinds.count("end-should"), kinds.count("other")) == (2, 2, 2)
    whisker = numbers_in(next(part for part in svg if part.get("class") == "whisker").get("d"))
    left, right = whisker[0], whisker[2]
    limit = max(numbers_in(part.get("d"))[0] for part in svg if part.get("class") == "end-must")
    assert limit < left < marker(svg) < right
    assert marker(svg) == pytest.approx((left + right) / 2, abs=0.2)


def test_a_row_is_drawn_as_the_stations_lie_and_says_what_is_missing() -> None:
    nothing = (math.nan, math.nan)
    items = {number: Drawn("within", float(number), 0.0, nothing, nothing) for number in (1, 2, 3, 4, 6)}
    strips = list(drawing(row(items, ((1, 3, 5), (2, 4, 6)), "mm", "told")).iter("svg"))
    named = [strip for strip in strips if strip.get("class") == "row"]
    stations = [[p.text for p in strip.iter("text") if "strong" in p.get("class", "")] for strip in named]
    assert stations == [["1", "3", "5"], ["2", "4", "6"]]
    assert ["?" in [part.text for part in strip.iter("text")] for strip in named] == [True, False]


@given(st.floats(-720.0, 720.0))
def test_a_circle_is_broken_where_its_angle_points(angle: float) -> None:
    """Clockwise from the top is a complex number: the letter and the middle of the gap lie on its ray."""
    svg = first_svg(clocks([Dial(0, "stone 1", {"mark": (angle,)}, {})], ["mark"], {}))
    turned = cmath.exp(1j * math.radians(angle))
    pointing = complex(turned.imag, -turned.real)  # x to the right, y down
    letter = next(part for part in svg.iter("text") if part.get("class") == "letter middle")
    at = complex(float(letter.get("x", "nan")), float(letter.get("y", "nan")) - 3.5) - complex(110, 110)
    assert abs(at / abs(at) - pointing) < 0.01
    path = next(part for part in svg.iter("path") if part.get("class") == "broken-circle").get("d")
    x, y, radius, _, _, large, clockwise_sweep, to_x, to_y = numbers_in(path)
    ends = [complex(x, y) - complex(110, 110), complex(to_x, to_y) - complex(110, 110)]
    assert [abs(end) for end in ends] == [pytest.approx(radius, abs=0.02)] * 2
    gap = sum(ends) / 2
    assert abs(gap / abs(gap) - pointing) < 0.01
    assert (large, clockwise_sweep) == (1, 1)


@given(st.floats(0.0, 359.0), st.floats(0.5, 359.0))
def test_a_span_runs_clockwise_from_its_start_to_its_end(start: float, length: float) -> None:
    end = start + length
    svg = first_svg(cycles([Dial(0, "", {"open": (start, end)}, {})], ["open"], {}))
    path = next(part for part in svg.iter("path") if part.get("class") == "span").get("d")
    x, y, *_, large, sweep, to_x, to_y = numbers_in(path)
    drawn_length = math.degrees(
        cmath.phase((complex(to_x, to_y) - complex(170, 170)) / (complex(x, y) - complex(170, 170)))
    )
    assert drawn_length % 360 == pytest.approx(length % 360, abs=0.05)
    assert (large == 1) == (length > 180) or abs(length - 180) < 0.1
    assert sweep == 1
    assert clockwise(start, end) == pytest.approx(length)


def test_events_are_told_from_the_nearest_mark_and_moments_from_the_first() -> None:
    """A timing card gives an opening of 354 degrees as 6 before, a closing of 219 as 39 after; common practice."""
    dial = Dial(0, "", {"open": (354.0, 219.0), "middle": (106.5,)}, {"top": 0.0, "bottom": 180.0})
    markup = cycles([dial], ["open", "middle"], {})
    assert "6.0 deg before top to 39.0 deg after bottom, 225.0 deg long" in markup
    assert "106.5 deg after top" in markup


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Report:
    return mill_report(tmp_path_factory.mktemp("mill"), FULL)


def test_a_picture_is_drawn_for_every_station_where_something_is_known(report: Report) -> None:
    found = dials(report.pictures["marks"], report.context)
    assert [(dial.where, dial.angles) for dial in found] == [
        ("stone 1", {"mark": (pytest.approx(45.0),)}),
        ("stone 2", {"mark": (pytest.approx(10.0),)}),
        ("stone 3", {"mark": (pytest.approx(200.0),)}),
    ]
    (gate,) = dials(report.pictures["gate"], report.context)
    assert gate.angles == {"open": (pytest.approx(20.0), pytest.approx(200.0))}


def test_a_picture_of_nothing_is_left_out(tmp_path: Path) -> None:
    page = write_html(mill_report(tmp_path, "\n  spindle_heat: {1: 40 degC}\n"))
    assert "Marks from above" not in page
    assert 'class="clock' not in page
