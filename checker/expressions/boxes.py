"""Bounds of values, and the boxes of what is in doubt that they are the bounds in."""

from __future__ import annotations

from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from checker.expressions.truth import Array, Truths

Indices: TypeAlias = npt.NDArray[np.intp]


class Enclosure(NamedTuple):
    """Bounds by box and station; within a box the value is `middle + slopes * (causes - their middles)`, give or take.

    `slopes` has an axis of causes before those two, and is none where nothing in doubt bears on the value. A missing or
    infinite value has bounds alike; one of which nothing is known has infinite ones, and an infinite `error`. Where it
    `is_bounded` no value is missing, and none without bounds.
    """

    low: Array
    high: Array
    middle: Array
    slopes: Array | None
    error: Array
    is_bounded: bool = False

    @property
    def is_sharp(self) -> bool:
        """Whether it was made of values about which there is no doubt, each of them known or missing."""
        return self.low is self.high

    @property
    def is_exact(self) -> Truths:
        """Where it is one value, or missing."""
        return np.asarray((self.low == self.high) | np.isnan(self.middle))

    def of_shape(self, other: Enclosure) -> Enclosure:
        """The same for as many boxes and stations as another has."""
        shape = np.broadcast_shapes(self.low.shape, other.low.shape)
        if self.low.shape == shape:
            return self
        slopes = None if self.slopes is None else np.broadcast_to(self.slopes, (len(self.slopes), *shape))
        low, high, middle, error = (
            np.broadcast_to(part, shape) for part in (self.low, self.high, self.middle, self.error)
        )
        return Enclosure(low, high, middle, slopes, error, self.is_bounded)

    def at(self, stations: Any) -> Enclosure:
        """Its values at some of the stations."""
        if self.is_sharp:
            return sharp(self.low[..., stations], self.is_bounded)
        slopes = None if self.slopes is None else self.slopes[..., stations]
        low, high, middle, error = (part[..., stations] for part in (self.low, self.high, self.middle, self.error))
        return Enclosure(low, high, middle, slopes, error, self.is_bounded)


def sharp(values: Array, is_bounded: bool) -> Enclosure:
    """Values about which there is no doubt, as one array."""
    return Enclosure(values, values, values, None, np.zeros(values.shape), is_bounded)


class Boxes:
    """Parts of what is in doubt, by cause and box: middles and half widths as shares of each cause, from -1 to 1.

    Each box is of the record in one of the `rows`. Causes that are `round` lie in a ball together, the others each
    anywhere between their ends. `turned` tells in which boxes a comparison or a step came out either way, `bent` in
    which values follow their causes along no straight line.
    """

    def __init__(self, middles: Array, halves: Array, is_round: Truths, rows: Indices, is_whole: bool = False) -> None:
        self.middles = middles
        self.halves = halves
        self.is_round = is_round
        self.rows = rows
        self._are_round = bool(is_round.all())
        self._round_middles: Array = middles if self._are_round else middles[is_round]
        self.is_whole = is_whole
        self.turned = np.zeros(len(rows), dtype=np.bool_)
        self.bent = np.zeros(len(rows), dtype=np.bool_)
        self._loosened: list[tuple[Array | float, Array | None, tuple[Enclosure, ...]]] = []

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.rows)

    def some(self, wanted: Truths) -> Boxes:
        """Some of them, as nobody has looked at them yet."""
        return Boxes(self.middles[:, wanted], self.halves[:, wanted], self.is_round, self.rows[wanted], self.is_whole)

    def turns(self, where: Truths) -> None:
        """Note in which boxes, by box and station, something came out either way."""
        self.turned |= where.any(axis=-1)

    def bends(self, where: Truths) -> None:
        """Note in which boxes, by box and station, something is off a straight line."""
        self.bent |= where.any(axis=-1)

    def enclosure(
        self, middle: Array, slopes: Array | None, error: Array, low: Array | float, high: Array | float
    ) -> Enclosure:
        """From a straight line and from bounds found otherwise, whichever are closer."""
        least, most = self._reach(middle, slopes, error)
        low, high = np.fmax(low, least), np.fmin(high, most)
        low, high = np.minimum(low, high), np.maximum(low, high)
        is_tight = np.isfinite(most - least)
        is_bounded = bool(is_tight.all())
        if not is_bounded:
            is_loose = ~is_tight
            centre, half = (low + high) / 2, (high - low) / 2
            is_open = ~np.isfinite(half)
            middle = np.where(is_loose, np.where(is_open, 0.0, centre), middle)
            error = np.where(is_loose, np.where(is_open, np.inf, half), error)
            slopes = None if slopes is None else np.where(is_loose, 0.0, slopes)
        return Enclosure(low, high, middle, slopes, error, is_bounded)

    def _reach(self, middle: Array, slopes: Array | None, error: Array) -> tuple[Array, Array]:
        if slopes is None:
            return middle - error, middle + error
        if self.is_whole and self._are_round:
            wide = np.sqrt(np.add.reduce(slopes * slopes)) + error
            return middle - wide, middle + wide
        reaches = np.abs(slopes) * self.halves[:, :, np.newaxis]
        wide = np.add.reduce(reaches) + error
        low, high = middle - wide, middle + wide
        if len(self._round_middles):
            curved = slopes if self._are_round else slopes[self.is_round]
            centre = middle - np.einsum("cbs,cb->bs", curved, self._round_middles)
            wide = np.sqrt(np.add.reduce(curved * curved)) + error
            wide = wide if self._are_round else wide + np.add.reduce(reaches[~self.is_round])
            low, high = np.maximum(low, centre - wide), np.minimum(high, centre + wide)
        return low, high

    def blames(self, part: Array | float, *causes: Enclosure, of: Array | None = None) -> None:
        """Note what made bounds loose: by what part of their width, or by how much `of` that width."""
        if len(self.middles):
            self._loosened.append((part, of, causes))

    def blamed(self) -> tuple[Array, list[tuple[Array, Indices]]]:
        """How much each cause makes bounds loose, by box; and the points, with their rows, at which it goes furthest.

        There are points only if each box is the whole of its row.
        """
        blame, worst = np.zeros(self.middles.shape), []
        for part, of, causes in self._loosened:
            if of is not None:
                share = np.where(of > 0, np.minimum(part / np.where(of > 0, of, 1.0), 1.0), 0.0)
                part = np.where(np.isinf(part), 1.0, share)
            for slopes in (cause.slopes for cause in causes if cause.slopes is not None and np.any(part)):
                reaches = np.abs(slopes) * self.halves[:, :, np.newaxis]
                whole = reaches.sum(axis=0)
                weight: Array = np.zeros(np.broadcast_shapes(whole.shape, np.shape(part)))
                np.divide(part, whole, out=weight, where=(whole > 0) & np.isfinite(whole))
                blame += np.einsum("cbs,bs->cb", np.where(np.isfinite(whole), reaches, 0.0), weight)
                if self.is_whole:
                    box, station = np.nonzero(np.broadcast_to(weight > 0, (self.count, weight.shape[-1])))
                    wide = np.broadcast_to(slopes, (len(slopes), self.count, weight.shape[-1]))
                    worst.append((self._furthest(wide[:, box, station]), np.tile(self.rows[box], 2)))
        return blame, worst

    def _furthest(self, slopes: Array) -> Array:
        """The points, by cause and number, at which values with these slopes are greatest and least."""
        in_ball = self.is_round[:, np.newaxis]
        length = np.sqrt((slopes**2).sum(axis=0, where=in_ball))
        with np.errstate(all="ignore"):
            greatest = np.where(in_ball, np.where(length > 0, slopes / length, 0.0), np.sign(slopes))
        return np.concatenate([greatest, -greatest], axis=1)
