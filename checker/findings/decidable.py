"""How much better a measurement must be for an undecided value to be decided."""

from __future__ import annotations

import math

import numpy as np

from checker.findings.standpoint import Standpoint
from checker.judging.conformity import Doubt
from checker.judging.judge import Verdict, judge
from checker.judging.measures import Measures
from checker.records.instruments import COVERAGE

_STEPS, _ROUNDS = 64, 4
"""Each round narrows the share down to one step in 64: in the end to less than a ten-millionth of the present doubt."""


def needed_uncertainty(here: Standpoint) -> float:
    """The greatest expanded uncertainty, in SI, with which a verdict would be told; zero where none would do.

    It is found by judging again with a share of the present doubt, so it holds for every decision rule; it is missing
    where nothing is known of that.
    """
    doubt = here.judged.doubt
    if doubt is None:
        return 0.0
    position, _ = here.nearest()
    now = COVERAGE * here.at(doubt.standard[position])
    if not math.isfinite(now):
        return math.nan
    low, high = 0.0, 1.0
    for _ in range(_ROUNDS):
        shares = np.linspace(low, high, _STEPS + 1)
        decided = np.flatnonzero(_is_decided(here, doubt, shares))
        if not len(decided):
            return 0.0
        last = int(decided.max())
        low, high = float(shares[last]), float(shares[min(last + 1, _STEPS)])
    return low * now


def _is_decided(here: Standpoint, doubt: Doubt, shares: np.ndarray) -> np.ndarray:
    """With which shares of the doubt something would be told."""
    measures, own = here.judged.measures, slice(here.station, here.station + 1)
    alone = Measures(measures.value[:1, own], measures.limits[:, :1, own], measures.applies[:1, own])
    at_station = doubt.at(np.array([0]), np.array([here.station]))
    with np.errstate(invalid="ignore"):
        less = at_station._replace(standard=at_station.standard * shares[:, np.newaxis])
    codes = judge(here.rule, alone.of_rows(len(shares)), here.context.decision, less).codes[:, 0]
    return np.asarray(codes != Verdict.UNDECIDED)
