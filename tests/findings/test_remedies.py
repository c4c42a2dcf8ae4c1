"""Remedies: doing what is written is enough, never too much, and no part is spoilt for advice.

Outside check: none is needed for arithmetic that the test does itself, by following what is written and judging again.
"""

from __future__ import annotations

import re

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from judging import finding, report
from pack_tools import gear_record, plugins_with, write_pack

from checker import Finding, Report, Rulebook, Verdict, load_rulebook

HEAD = """
pack: aims
version: 1.0.0
rule_language: 1
title: Aims
applications: {plain: {title: Plain}}
milestones: [done]
"""
ENDS = ("must_low", "should_low", "should_high", "must_high", "other_low", "other_high")
FACTS = "".join(f"  {end}: {{title: End {end}, unit: mm, plausible: [0 mm, 100 mm]}}\n" for end in ENDS)
RULES = f"""
characteristics:
{FACTS}  gap: {{title: Gap, unit: mm, plausible: [0 mm, 100 mm], with: feeler gauge, usual_uncertainty: 0.02 mm}}
  room: {{title: Room, unit: mm, plausible: [0 mm, 100 mm], with: feeler gauge}}
rules:
  gap:
    title: Gap
    before: done
    judges: gap
    limits:
      any: {{must: {{at_least: must_low, at_most: must_high}}, should: {{at_least: should_low, at_most: should_high}}}}
    basis: {{kind: shop policy}}
    remedy: {{low: "Open it {{limit - value}}.", high: "Close it {{value - limit}}."}}
  gap-for-the-other:
    title: Gap for the other part
    before: done
    judges: gap
    limits: {{any: {{must: {{at_least: other_low, at_most: other_high}}}}}}
    basis: {{kind: shop policy}}
    remedy: {{low: "Open it {{limit - value}}.", high: "Close it {{value - limit}}."}}
  room:
    title: Room
    before: done
    judges: room
    limits: {{any: {{must: {{at_least: 1 mm}}, should: {{at_least: 2 mm, at_most: 9 mm}}}}}}
    basis: {{kind: shop policy}}
    remedy:
      low: {{irreversible: "File it {{limit - value}}."}}
      high: "Fit a file-to-fit part: {{value - limit}} over."
"""
AMOUNT = re.compile(r"(Open|Close) it ([\d.]+) mm")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    return load_rulebook(
        write_pack(tmp_path_factory.mktemp("packs") / "aims", pack=HEAD, rules=RULES), plugins=plugins_with()
    )


def judged(book: Rulebook, ends: dict[str, float], **readings: object) -> Report:
    facts = "".join(f"  {end}: {value:.4f} mm\n" for end, value in ends.items())
    record = gear_record(readings, "plain", f"facts:\n{facts}" if facts else "")
    return book.check(record)


def missed(report: Report) -> list[Finding]:
    return [found for found in report.findings if found.verdict in (Verdict.ADVISORY, Verdict.OUTSIDE)]


def in_order(*values: float) -> dict[str, float]:
    low, high = sorted(values[:2]), sorted(values[2:4])
    other = sorted(values[4:6])
    lows, highs = sorted([*low, other[0]]), sorted([*high, other[1]])
    return {
        "must_low": lows[0], "should_low": lows[1], "other_low": lows[2],
        "should_high": 50 + highs[0], "must_high": 50 + highs[1], "other_high": 50 + highs[2],
    }  # fmt: skip


LENGTH = st.integers(0, 400_000).map(lambda tenths: 1 + tenths / 10_000)


@examples(60)
@given(
    st.tuples(*[LENGTH] * 6).map(lambda values: in_order(*values)), st.integers(0, 950_000).map(lambda n: n / 10_000)
)
def test_doing_what_is_written_is_enough_and_not_too_much(book: Rulebook, ends: dict[str, float], gap: float) -> None:
    for found in missed(judged(book, ends, gap=f"{gap:.4f} mm")):
        match = AMOUNT.match(found.remedy)
        assert match, found.remedy
        amount = float(match[2]) * (1 if match[1] == "Open" else -1)
        assert abs(amount) >= 0.02 - 1e-9  # what the gauge usually tells
        again = judged(book, ends, gap=f"{gap + amount:.4f} mm")
        assert not missed(again), (found.remedy, again.findings)


@examples(40)
@given(st.integers(0, 12), st.integers(1, 60), st.integers(-40, 40))
def test_where_little_room_is_left_no_amount_leads_out_of_it(book: Rulebook, low: int, width: int, off: int) -> None:
    """Bands of a few thousandths of a millimetre, narrower than the feeler tells."""
    least, most = 1 + low / 1000, 1 + (low + width) / 1000
    ends = dict(zip(ENDS, (least, least, most, most, least, most), strict=True))
    gap = (least + most) / 2 + off / 1000
    for found in missed(judged(book, ends, gap=f"{gap:.4f} mm")):
        match = AMOUNT.match(found.remedy)
        if match is None:
            assert "finer instrument" in found.remedy
            continue
        amount = float(match[2]) * (1 if match[1] == "Open" else -1)
        assert not missed(judged(book, ends, gap=f"{gap + amount:.4f} mm"))


def test_a_recommendation_that_another_rule_forbids_is_not_aimed_at(book: Rulebook) -> None:
    """The first rule recommends 6 mm or more, the other requires 5 mm or less: nothing keeps both."""
    ends = dict(zip(ENDS, (1.0, 6.0, 8.0, 9.0, 2.0, 5.0), strict=True))
    (found,) = missed(judged(book, ends, gap="4 mm"))
    assert found.verdict is Verdict.ADVISORY
    assert "Gap for the other part" in found.remedy and not AMOUNT.match(found.remedy)
    low = judged(book, ends, gap="1.5 mm").findings
    remedy = next(one.remedy for one in low if one.name == "gap-for-the-other")
    assert remedy == "Open it 0.5 mm." or remedy == "Open it 0.50 mm."


def test_nothing_is_taken_off_for_a_recommendation(book: Rulebook) -> None:
    (advised,) = missed(judged(book, {}, room="1.5 mm"))
    assert advised.verdict is Verdict.ADVISORY
    assert "File" not in advised.remedy and "no part is cut" in advised.remedy
    (required,) = missed(judged(book, {}, room="0.5 mm"))
    assert required.remedy.startswith("File it 1.5")
    (reversible,) = missed(judged(book, {}, room="9.5 mm"))
    assert reversible.remedy.startswith("Fit a file-to-fit part")


PLACES = """
stations: {wheel: {title: Wheel}}
characteristics:
  bore: {title: Bore, per: wheel, unit: mm, plausible: [1 mm, 100 mm], with: plug gauge, usual_uncertainty: 0.002 mm}
  shaft: {title: Shaft, per: wheel, unit: mm, plausible: [1 mm, 100 mm], with: micrometer, usual_uncertainty: 0.002 mm}
  width: {title: Width, per: wheel, unit: mm, plausible: [1 mm, 100 mm], with: rule, usual_uncertainty: 0.5 mm}
  play:
    title: Play
    per: wheel
    unit: mm
    plausible: [0 mm, 2 mm]
    with: feeler gauge
    usual_uncertainty: 0.002 mm
    derived: bore - shaft
    follows: [bore]
    agrees_within: 0.5 mm
rules:
  play:
    title: Play
    before: done
    judges: play
    limits: {any: {must: {at_least: 0.1 mm + 0.001*width, at_most: 0.05*width}}}
    basis: {kind: shop policy}
    remedy: {low: "Open it {limit - value}.", high: "Close it {value - limit}."}
"""


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    folder = tmp_path_factory.mktemp("packs") / "places"
    return load_rulebook(write_pack(folder, pack=HEAD, rules=PLACES), plugins=plugins_with())


def first_wheel(book: Rulebook, more: str = "", **readings: str) -> str:
    """The remedy at the first of two wheels; its play should be 0.120 mm."""
    record = gear_record({"width": "[20.00 mm, 20.00 mm]", **readings}, "plain", f"stations: {{wheel: 2}}\n{more}")
    return next(found.remedy for found in book.check(record).findings if found.station == 0)


def test_an_amount_is_no_less_than_its_own_reading_tells(places: Rulebook) -> None:
    assert first_wheel(places, play="[0.118 mm, 0.200 mm]") == "Open it 0.002 mm."
    assert first_wheel(places, play="[0.11 mm, 0.200 mm]") == "Open it 0.01 mm."


@pytest.mark.parametrize("other", ["0.2 mm", "0.20 mm", "0.2000 mm"])
@pytest.mark.parametrize(("own", "amount"), [("0.115 mm", "0.005"), ("0.11 mm", "0.01")])
def test_a_reading_at_another_station_moves_no_amount(places: Rulebook, own: str, amount: str, other: str) -> None:
    assert first_wheel(places, play=f"[{own}, {other}]") == f"Open it {amount} mm."


@pytest.mark.parametrize("width", ["20 mm", "20.000 mm"])
def test_a_reading_behind_the_limit_alone_moves_no_amount(places: Rulebook, width: str) -> None:
    """It is read to half a millimetre, and counts a thousandth."""
    assert first_wheel(places, play="[0.115 mm, 0.200 mm]", width=f"[{width}, {width}]") == "Open it 0.005 mm."


def test_a_reading_behind_the_other_limit_moves_no_amount(places: Rulebook) -> None:
    """A rule good to a millimetre leaves 0.05 mm of doubt about the greatest play, and a thousandth about the least."""
    more = "instruments: {feeler: {expanded_uncertainty: 0.002 mm}, rule: {expanded_uncertainty: 1 mm}}\n"
    width, play = "{with: rule, values: [20 mm, 20 mm]}", "{with: feeler, values: [0.115 mm, 0.200 mm]}"
    assert first_wheel(places, more, width=width, play=play) == "Open it 0.005 mm."


def test_what_was_measured_is_told_as_finely_as_it_was_read(places: Rulebook) -> None:
    """Bore and shaft are read to a tenth, but the play is not worked out from them."""
    parts = {"bore": "[10.1 mm, 10.2 mm]", "shaft": "[10.0 mm, 10.0 mm]"}
    assert first_wheel(places, play="[0.115 mm, 0.200 mm]", **parts) == "Open it 0.005 mm."


def test_a_reading_set_aside_moves_no_amount(places: Rulebook) -> None:
    """A play read to a tenth before the wheel was bored counts no more; bore and shaft were read anew, finely."""
    more = "taken: 2026-05-02\nparts: {wheel: {fitted: 2026-05-01, bears_on: [bore]}}\n"
    stale = "{taken: 2026-04-01, values: [0.1 mm, 0.2 mm]}"
    anew = {"bore": "[10.115 mm, 10.200 mm]", "shaft": "[10.000 mm, 10.000 mm]"}
    assert first_wheel(places, more, play=stale, **anew) == "Open it 0.005 mm."


def test_what_is_worked_out_is_told_as_coarsely_as_its_parts(places: Rulebook) -> None:
    parts = {"bore": "[10.11 mm, 10.200 mm]", "shaft": "[10.000 mm, 10.000 mm]"}
    assert first_wheel(places, **parts) == "Open it 0.01 mm."


SHEET = {"piston_to_wall_clearance": {"at_least": "0.0035 in", "at_most": "0.0045 in", "source": "piston sheet"}}


def test_a_nought_lost_at_one_station_makes_no_remedy_coarser() -> None:
    """A number of a program, or of a spreadsheet: 4.027 among 4.0271 was read to ten-thousandths too."""
    readings = {"cylinder_bore": ["4.0302 in", "4.0302 in"], "piston_diameter": ["4.027 in", "4.0271 in"]}
    found = report("street-performance", readings, stations={"cylinder": 2}, part_limits=SHEET)
    amounts = [finding(found, "piston-to-wall-clearance", station).remedy.split(",")[0] for station in (1, 2)]
    assert amounts == ["Hone the bore by 0.0003 in", "Hone the bore by 0.0004 in"]


def test_what_is_missed_by_less_than_was_written_down_is_no_work_where_it_is_only_recommended() -> None:
    readings = {"cylinder_bore": ["4.03 in"], "head_gasket_bore": "4.1 in"}
    found = report("street-performance", readings, stations={"cylinder": 1})
    advice = finding(found, "head-gasket-bore")
    assert (advice.verdict, advice.remedy.split(":")[0]) == (Verdict.ADVISORY, "Leave it")
    readings = {"cylinder_bore": ["4.12 in"], "head_gasket_bore": "4.1 in"}
    needed = finding(report("street-performance", readings, stations={"cylinder": 1}), "head-gasket-bore")
    assert (needed.verdict, "write down all its digits" in needed.remedy) == (Verdict.OUTSIDE, True)


def test_what_is_amiss_is_told_with_no_more_digits_than_the_value() -> None:
    """13.3 of a gauge scaled for 14.7 is 0.9048; 0.90 is recommended at most."""
    readings = {"fuel": "petrol", "displayed_air_fuel_ratio": "13.3", "gauge_stoichiometric_ratio": "14.7"}
    found = finding(report("street", readings), "lambda-full-throttle")
    assert (found.shown_value, found.missed_by) == ("0.9048", "0.0048 over")
    readings = {
        "fuel": "petrol",
        "spark_control": "fixed curve",
        "fuel_octane": "98 RON",
        "compression_ratio": {1: "10.37"},
    }
    found = finding(report("street", readings, stations={"cylinder": 1}), "octane-for-compression")
    assert found.remedy.startswith("Knock risk: 3.48 octane short.")
