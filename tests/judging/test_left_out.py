"""What is left out of the evaluation because nothing can come of it changes no result.

A record with gaps is evaluated in one row, where whatever is missing may be left out; and once more with a second row
below it in which every value is known, so that nothing is.
"""

from __future__ import annotations

import numpy as np
import pytest
from judging import rulebook

from checker.judging.block import Block
from checker.judging.measures import Measures, measure
from checker.vetting.trial import trial_block

RECORDS = 6


@pytest.mark.parametrize("share", [0.02, 0.2, 0.6, 0.9])
def test_nothing_changes_by_what_is_left_out(share: float) -> None:
    book, random = rulebook("four-stroke"), np.random.default_rng(int(share * 100))
    whole = trial_block(book)
    for row in range(RECORDS):
        known = {name: values[row : row + 1] for name, values in whole.measured.items() if random.random() < share}
        alone = Block(
            book.characteristics,
            whole.layout,
            known,
            beside=[(Block(book.characteristics, whole.layout, {}), known.keys())],
        )
        beside = Block(book.characteristics, whole.layout, _with_all_known_below(known, whole))
        for rule in book.rules.values():
            chain = book.chain(book.applications[row % len(book.applications)])
            one, other = measure(rule, alone, chain), measure(rule, beside, chain)
            assert _first_row(one) == _first_row(other), rule.name


def _with_all_known_below(known: dict[str, np.ndarray], whole: Block) -> dict[str, np.ndarray]:
    below = {name: np.nanmax(values, axis=0, keepdims=True) for name, values in whole.measured.items()}
    return {name: np.concatenate([known.get(name, np.full_like(row, np.nan)), row]) for name, row in below.items()}


def _first_row(measures: Measures) -> list[str]:
    """As text, in which missing values are alike."""
    return [str(values.tolist()) for values in (measures.value[0], measures.limits[:, 0], measures.applies[0])]
