"""What is said never to bend is a straight line: half way between two points it lies half way between its values."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from expression_tools import ENGINE
from judging import rulebook
from places import ROOT

from checker import read_record
from checker.expressions.compiling import compile_expression
from checker.expressions.evaluate import evaluate
from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import Column
from checker.expressions.truth import Array

STRAIGHT = """
main_bearing_bore - main_journal_diameter
main_journal_diameter
-deck_clearance / 2 + 3 * stroke
mean(rod_mass) + total(rod_mass)
rod_width - crankpin_width
mean(rod_width, "crankpin")
stroke if piston_alloy is cast else 2 * stroke
mean(cylinder_bore where piston_alloy is "4032")
next(main_journal_diameter) - main_journal_diameter
"""
BENT = """
stroke * cylinder_bore
cylinder_bore ** 2
rod_width / crankpin_width
abs(deck_clearance)
smaller_of(stroke, cylinder_bore)
least(rod_mass)
spread(rod_mass)
sqrt(stroke / cylinder_bore)
stroke if deck_clearance > 0 else cylinder_bore
count(rod_mass > 1 kg)
mean(rod_mass where rod_mass > 1 kg)
least_known(stroke, deck_clearance)
floor(stroke / cylinder_bore)
"""


@pytest.mark.parametrize("text", STRAIGHT.strip().splitlines())
def test_sums_and_multiples_do_not_bend(text: str) -> None:
    assert not compile_expression(text, ENGINE).bends


@pytest.mark.parametrize("text", BENT.strip().splitlines())
def test_products_comparisons_and_choices_by_size_may_bend(text: str) -> None:
    assert compile_expression(text, ENGINE).bends


def shipped() -> Iterator[Expression]:
    """All that four-stroke computes and compares."""
    book = rulebook("four-stroke")
    yield from (item.derived for item in book.characteristics.values() if item.derived is not None)
    for rule in book.rules.values():
        yield from rule.expressions(book.chain("street-performance"))


def test_what_is_shipped_and_does_not_bend_is_half_way_at_half_way() -> None:
    book = rulebook("four-stroke")
    layout = book.check(read_record(ROOT / "rules" / "demo_record.yaml")).context.block.layout
    random = np.random.default_rng(20260503)
    kinds = {True: 0, False: 0}
    for expression in shipped():
        kinds[expression.bends] += 1
        if not expression.bends:
            ends: list[dict[Column, Array]] = [{}, {}]
            for column in expression.columns:
                shape = (1, layout.count(column.at))
                is_open = book.characteristics[column.name].unit is not None and not column.view.startswith(KNOWN)
                first = random.uniform(-1.0, 1.0, shape) if is_open else np.ones(shape)
                ends[0][column], ends[1][column] = first, random.uniform(-1.0, 1.0, shape) if is_open else first
            middle = {column: (ends[0][column] + ends[1][column]) / 2 for column in expression.columns}
            one, other, half_way = (evaluate(expression, at.__getitem__, layout) for at in (*ends, middle))
            assert half_way == pytest.approx((one + other) / 2, rel=1e-9, abs=1e-12, nan_ok=True), expression.text
    assert min(kinds.values()) > 100
