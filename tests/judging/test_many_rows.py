"""Many rows judged at once say what each of them says by itself."""

from __future__ import annotations

import math

import numpy as np
from examples import examples
from hypothesis import given
from hypothesis import strategies as st

from checker import Decision, load_rulebook
from checker.judging.judge import judge
from checker.judging.measures import Measures
from checker.packs.limit_set import ABSENT

RULE = load_rulebook("four-stroke").rules["main-oil-clearance"]
VALUES = st.sampled_from([0.0, 1.0, 1.0 + 5e-10, 2.0, 2.0 - 5e-10, 3.0, -1.0, math.nan, math.inf, -math.inf])


@st.composite
def some_measures(draw: st.DrawFn) -> Measures:
    """Values and limits on each other, missing, not there and off the end of a table, of two to five rows."""
    rows, stations = draw(st.integers(2, 5)), draw(st.integers(1, 4))
    of_limits = draw(st.sampled_from([1, rows]))

    def array(kind: st.SearchStrategy[float], *shape: int) -> np.ndarray:
        size = math.prod(shape)
        return np.array(draw(st.lists(kind, min_size=size, max_size=size))).reshape(shape)

    limits = array(VALUES, 4, of_limits, stations)
    is_there = array(st.booleans(), 4, 1, stations).astype(np.bool_)
    applies = array(st.sampled_from([1.0, 1.0, 0.5, 0.0]), *draw(st.sampled_from([(1, 1), (rows, stations)])))
    return Measures(
        array(VALUES, rows, stations),
        np.where(is_there, limits, np.array(ABSENT).reshape(4, 1, 1)),
        np.broadcast_to(applies, (rows, stations)),
        draw(st.booleans()),
    )


@examples(300)
@given(some_measures())
def test_each_row_is_judged_as_if_alone(measures: Measures) -> None:
    together = judge(RULE, measures, Decision())
    for row in range(len(measures.value)):
        alone = judge(RULE, measures.rows([row]), Decision())
        assert together.codes[row].tolist() == alone.codes[0].tolist()
        assert together.must_open[row].tolist() == alone.must_open[0].tolist()
