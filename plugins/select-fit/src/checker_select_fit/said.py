"""What the checker says of a choice: whether all is within, what speaks against it, and how far off the aims it is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np
from checker import CompiledRule, Judged, Report, Verdict

from checker_select_fit.asked import GOOD, Bearing, miss_of

_SPREAD = re.compile(r"spread\(\s*(\w+)\s*\)")

FITTING = frozenset({Verdict.WITHIN, Verdict.NOT_APPLICABLE})
"""What a rule that judges the fit itself may say."""

SAME_SHARE = 1e-9
"""Margins that differ by less than this share of them are one."""


def spread_of(rule: CompiledRule) -> str:
    """The characteristic whose spread over all stations a rule judges; empty where it judges anything else."""
    found = _SPREAD.fullmatch(rule.judges.text.strip())
    return found[1] if found else ""


class Objection(NamedTuple):
    """A rule that speaks against a choice, and what it says."""

    rule: str
    verdict: Verdict


class Said(NamedTuple):
    """What the rules say of one station: whether all is within, how far off the aims (squared), and what is not."""

    is_good: bool
    distance: float
    against: tuple[Objection, ...]


def said_of(report: Report, bearing: Bearing, aims: Mapping[str, float], station: int) -> Said:
    """What the rules that see one station alone say of it."""
    own = [judged for judged in report.judged if judged.rule.name in bearing.own]
    against = [_objection(judged, station) for judged in own if _is_against(judged, bearing, station)]
    shown = _is_shown(own, bearing, station) or bearing.fits_are_across
    distance = sum(distance_of(judged, aims, station) for judged in own if judged.rule.name in bearing.aimed)
    return Said(shown and not against, distance, tuple(against))


def said_of_all(report: Report, bearing: Bearing, aims: Mapping[str, float]) -> Said:
    """What all rules say of all stations, those across stations too."""
    asked = [judged for judged in report.judged if judged.rule.name in bearing.names]
    against = [
        _objection(judged, station)
        for judged in asked
        for station in range(judged.codes.shape[1])
        if _is_against(judged, bearing, station)
    ]
    fitting = [judged for judged in asked if judged.rule.name in bearing.judging]
    most = max((judged.codes.shape[1] for judged in fitting), default=0)
    shown = most > 0 and all(_is_shown(fitting, bearing, station) for station in range(most))
    distance = sum(
        distance_of(judged, aims, station)
        for judged in asked
        if judged.rule.name in bearing.aimed
        for station in range(judged.codes.shape[1])
    )
    return Said(shown and not against, distance, tuple(against))


def _objection(judged: Judged, station: int) -> Objection:
    return Objection(judged.rule.name, Verdict(int(judged.codes[0, station])))


def _is_against(judged: Judged, bearing: Bearing, station: int) -> bool:
    """Whether a rule speaks against a choice.

    What judges the fit itself must be within, unless it does not apply. What else the parts bear on may be no worse
    than it is, where it is not within; and a part must not bring a question with it that was none before and that
    nobody can answer.
    """
    place, verdict = (judged.rule.name, station), Verdict(int(judged.codes[0, station]))
    if judged.rule.name in bearing.judging:
        return verdict not in FITTING
    if verdict in GOOD:
        return verdict is Verdict.NOT_MEASURED and place in bearing.idle
    was, is_now = bearing.was.get(place), miss_of(judged, station)
    return was is None or verdict > was.verdict or is_now.margin < was.margin - abs(was.margin) * SAME_SHARE


def _is_shown(asked: Iterable[Judged], bearing: Bearing, station: int) -> bool:
    """Whether anything that judges the fit says of a station that it is within; saying nothing is not enough."""
    return any(
        judged.codes[0, station] == Verdict.WITHIN
        for judged in asked
        if judged.rule.name in bearing.judging and station < judged.codes.shape[1]
    )


def distance_of(judged: Judged, aims: Mapping[str, float], station: int) -> float:
    """How far a value lies from its aim, as a share of half its band, squared; 0 where nothing is aimed at.

    The aim is the one stated, else the middle of all that is required and recommended.
    """
    value = float(judged.measures.value[0, station])
    must_low, should_low, should_high, must_high = (float(edge) for edge in judged.measures.limits[:, 0, station])
    low, high = max(must_low, should_low), min(must_high, should_high)
    stated = aims.get(judged.rule.judges.characteristic or "")
    if not np.isfinite(value) or (stated is None and not np.isfinite(high - low)):
        return 0.0
    aim = (low + high) / 2 if stated is None else stated
    reach = [abs(end - aim) for end in (low, high) if np.isfinite(end) and end != aim]
    half = (high - low) / 2 if np.isfinite(high - low) and high > low else (min(reach) if reach else 1e-3)
    return ((value - aim) / half) ** 2
