"""What is said of some rows of a table: how many verdicts of each kind, what must hold, and each finding asked for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import Array, Truths
from checker.judging.conformity import Decision
from checker.judging.judge import Codes, Judged, Verdict
from checker.judging.rows import Compared, Places
from checker.packs.compiled import CompiledRule

Numbers = npt.NDArray[np.int64]

KINDS = len(Verdict)
# Compared many times as fast as members of an Enum.
_WITHIN, _IDLE = int(Verdict.WITHIN), int(Verdict.NOT_APPLICABLE)


class Found(NamedTuple):
    """Some findings of one rule: in which rows, at which stations, what, and its value and limits in SI."""

    rule: CompiledRule
    rows: Numbers
    stations: Numbers
    verdicts: Numbers
    values: Array
    limits: Array

    def where(self, is_wanted: Truths, rows: Numbers) -> Found:
        """Some of them, in rows that are counted anew."""
        return Found(
            self.rule,
            rows[self.rows[is_wanted]],
            self.stations[is_wanted],
            self.verdicts[is_wanted],
            self.values[is_wanted],
            self.limits[:, is_wanted],
        )


class Told(NamedTuple):
    """What is said of some rows: of each how many verdicts there are of each kind, and whether a must is open.

    The rows of what is `found` are counted among these rows. `refused` are the readings of each that do not count.
    """

    rows: Numbers
    verdicts: Numbers
    must_open: Truths
    found: tuple[Found, ...]
    refused: Numbers

    def with_others(self, other: Told) -> Told:
        """With what other rules say of the same rows."""
        must_open, refused = self.must_open | other.must_open, np.maximum(self.refused, other.refused)
        return Told(self.rows, self.verdicts + other.verdicts, must_open, (*self.found, *other.found), refused)

    def of(self, wanted: Numbers) -> Told:
        """What is said of some of the rows."""
        if wanted.size == self.rows.size:
            return self
        is_wanted = np.zeros(self.rows.size, dtype=np.bool_)
        is_wanted[wanted] = True
        anew = np.cumsum(is_wanted) - 1
        found = tuple(one.where(is_wanted[one.rows], anew) for one in self.found)
        return Told(self.rows[wanted], self.verdicts[wanted], self.must_open[wanted], found, self.refused[wanted])


def told_of(judged: Collection[Judged], rows: Numbers, wanted: Numbers, refused: int = 0) -> Told:
    """What rules say of some rows, in one where they say the same of all; with each finding of a `wanted` verdict.

    So many readings of each row were `refused`.
    """
    alike = [one for one in judged if len(one.codes) == 1]
    differing = [one for one in judged if len(one.codes) > 1]
    for_all = np.bincount(np.concatenate([np.zeros(0, np.int64), *(one.codes[0] for one in alike)]), minlength=KINDS)
    verdicts = np.zeros((rows.size, KINDS), dtype=np.int64)
    for one in differing:
        others = np.flatnonzero(one.codes.ravel("F") != _WITHIN)  # few, as a rule
        verdicts += _counted(rows.size, one.codes.shape[1], others, one.codes.ravel("F")[others])
    must_open = np.full(rows.size, any(one.must_open.any() for one in alike))
    for one in differing:
        must_open |= one.must_open.any(axis=1)
    found = tuple(_found(judged, rows.size, wanted)) if wanted.size else ()
    return Told(rows, verdicts + for_all, must_open, found, np.full(rows.size, refused))


def _found(judged: Iterable[Judged], rows: int, wanted: Numbers) -> Iterator[Found]:
    for one in judged:
        is_wanted = np.isin(one.codes, wanted)
        if is_wanted.any():
            at, stations = np.nonzero(np.broadcast_to(is_wanted, (rows, is_wanted.shape[1])))
            row = at if len(one.codes) > 1 else np.zeros_like(at)
            seen = one.measures.of_rows(len(one.codes))
            codes = one.codes[row, stations].astype(np.int64)
            yield Found(one.rule, at, stations, codes, seen.value[row, stations], seen.limits[:, row, stations])


def told_by_comparing(compared: Compared, decision: Decision, rows: Numbers, wanted: Numbers) -> Told:
    """The same of what was compared; none of the verdicts that comparing tells are wanted."""
    codes, must_open = compared.verdicts(decision)
    own = np.zeros(rows.size, dtype=np.bool_)
    own[compared.places[must_open] % rows.size] = True
    found = []
    is_wanted = np.isin(codes, wanted)
    for rule, bound, (start, end) in zip(compared.rules, compared.bounds, pairwise(compared.starts), strict=False):
        here = np.flatnonzero(is_wanted[start:end]) + start
        if here.size:
            stations, at = np.divmod(compared.places[here] - bound * rows.size, rows.size)
            value, limits = compared.seen.value[0, here], compared.seen.limits[:, 0, here]
            found.append(Found(rule, at, stations, codes[here].astype(np.int64), value, limits))
    verdicts = _counted(rows.size, compared.bounds[-1], compared.places, codes)
    for is_idle, (start, end) in zip(compared.idle, pairwise(compared.bounds), strict=True):
        if is_idle is not None:
            idle = np.broadcast_to(is_idle, (len(is_idle), end - start)).sum(axis=1)
            verdicts[:, _IDLE] += idle
            verdicts[:, _WITHIN] -= idle
    return Told(rows, verdicts, own, tuple(found), np.zeros_like(rows))


def _counted(rows: int, stations: int, places: Places, codes: Codes) -> Numbers:
    """How many verdicts of each kind there are in each row: these at places counted a station after the other.

    All else is within.
    """
    found = np.bincount(places % max(rows, 1) * KINDS + codes, minlength=rows * KINDS).reshape(rows, KINDS)
    found[:, _WITHIN] += stations - found.sum(axis=1)
    return found
