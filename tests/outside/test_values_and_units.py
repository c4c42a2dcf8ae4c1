"""Inches and millimetres tell one engine, and a value on a limit holds it whatever its last binary digit."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from judging import record, rulebook
from places import DATA

from checker import Report, Rulebook, Verdict
from checker.documents.document import parse_yaml
from checker.packs.limit_set import POSITIONS
from checker.records.record import record_in

BOOK = rulebook("boosted", "nitrous", "alcohol")
INCH = 0.0254

METRIC = {"in": ("25.4", "mm"), "thou": ("25.4", "um"), "uin": ("0.0254", "um")}


def in_millimetres(text: str) -> str:
    """The same record with every length converted exactly."""

    def converted(found: re.Match[str]) -> str:
        factor, name = METRIC[found[2]]
        return f"{Decimal(found[1]) * Decimal(factor)} {name}"

    return re.sub(r"(\d+(?:\.\d+)?) (in|thou|uin)\b", converted, text)


def verdicts(text: str, application: str, book: Rulebook) -> dict[tuple[str, int], Any]:
    report = book.check(record_in(parse_yaml(text.encode(), "engine.yaml")), application)
    return {
        (made.name, made.station): (made.verdict, made.side, made.must_open, made.value) for made in report.findings
    }


@pytest.mark.parametrize(
    ("application", "book"),
    [("street-performance", rulebook("four-stroke")), ("drag", BOOK)],
    ids=["street-performance", "drag, with every pack on top"],
)
def test_one_engine_in_inches_and_in_millimetres_gives_one_report(application: str, book: Rulebook) -> None:
    text = (DATA / "complete_engine.yaml").read_text()
    metric = in_millimetres(text)
    assert " in," not in metric.partition("readings:")[2]
    inches, millimetres = verdicts(text, application, book), verdicts(metric, application, book)
    assert inches.keys() == millimetres.keys()
    assert {key: found[:3] for key, found in inches.items()} == {key: found[:3] for key, found in millimetres.items()}
    for key, found in inches.items():
        assert millimetres[key][3] == pytest.approx(found[3], rel=1e-9, abs=1e-12, nan_ok=True)


def plain_limits() -> list[tuple[str, str, str, str, Decimal]]:
    """Every length limit that counts always and is a plain amount: rule, characteristic, use, side, inches."""
    found = []
    for name in BOOK.rules:
        rule = BOOK.rules[name]
        if rule.judges.column is None or rule.is_demand or rule.per_unit_of is not None or rule.unit.kind != "length":
            continue
        for application in BOOK.applications:
            for band, side in POSITIONS:
                candidates = rule.limits.candidates(BOOK.chain(application), band, side)
                if len(candidates) == 1 and candidates[0].when is None and candidates[0].bound.constant is not None:
                    inches = Decimal(str(round(candidates[0].bound.constant / INCH, 9))).normalize()
                    found.append((name, rule.judges.column.name, application, side, inches))
    return found


PLAIN = plain_limits()
CLEARANCES = [
    ("crankshaft_end_play", None, None),
    ("pin_to_piston_clearance", "piston_pin_bore", "piston_pin_diameter"),
    ("pin_to_rod_clearance", "rod_small_end_bore", "piston_pin_diameter"),
    ("intake_guide_clearance", "intake_guide_bore", "intake_stem_diameter"),
    ("exhaust_guide_clearance", "exhaust_guide_bore", "exhaust_stem_diameter"),
]


def on_the_limit(report: Report, rule: str, side: str) -> set[Verdict]:
    """Verdicts of a rule that miss on this side."""
    codes = next(judged for judged in report.judged if judged.rule.name == rule).codes[0]
    return {Verdict(code) for code in codes} & {Verdict.OUTSIDE, Verdict.UNDECIDED}


def length(inches: Decimal, metric: bool) -> str:
    return f"{inches * Decimal('25.4')} mm" if metric else f"{inches} in"


@given(which=st.sampled_from(PLAIN), metric=st.booleans())
@examples(120)
def test_a_value_exactly_on_a_limit_is_not_beyond_it(which: tuple[str, str, str, str, Decimal], metric: bool) -> None:
    rule, characteristic, application, side, inches = which
    report = BOOK.check(record(application, {characteristic: {"all": length(inches, metric)}}))
    margins = next(judged for judged in report.judged if judged.rule.name == rule)
    position = [p for p, (_, s) in enumerate(POSITIONS) if s == side]
    nearest = np.nanmin(np.abs(margins.measures.margins[position, 0, 0]))
    assert nearest == pytest.approx(0, abs=1e-12)
    assert not on_the_limit(report, rule, side)


@given(
    clearance=st.sampled_from([(c, *p) for c, *p in CLEARANCES if p[0] and c in {plain[1] for plain in PLAIN}]),
    which=st.data(),
    size=st.decimals(Decimal("0.3"), Decimal("1.4"), places=4),
    metric=st.booleans(),
)
@examples(120)
def test_a_difference_exactly_on_a_limit_is_not_beyond_it(
    clearance: tuple[str, str, str], which: st.DataObject, size: Decimal, metric: bool
) -> None:
    """Two sizes whose difference, in decimals, is the limit: in binary it may be a hair more or less."""
    characteristic, outer, inner = clearance
    rule, _, application, side, inches = which.draw(st.sampled_from([p for p in PLAIN if p[1] == characteristic]))
    sizes = {outer: length(size + inches, metric), inner: length(size, metric)}
    facts = {"pin_fit": "floating", "guide_material": "iron"}
    assert not on_the_limit(BOOK.check(record(application, sizes, facts=facts)), rule, side)


def test_without_a_tolerance_many_such_values_would_be_turned_away() -> None:
    """In binary nearly half of the differences of sizes in tenths of a thou come out above the decimal they are."""
    draw = np.random.default_rng(7)
    limit = draw.integers(1, 400, 20_000)
    inner = draw.integers(3000, 40_000, 20_000)
    beyond = ((inner + limit) / 1e4 - inner / 1e4 > limit / 1e4).mean()
    assert 0.2 < beyond < 0.6
