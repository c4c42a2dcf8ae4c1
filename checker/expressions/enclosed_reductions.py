"""Where the mean, the least and what else is made of all stations lies; see enclose.py."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from checker.expressions import enclosures, truth
from checker.expressions.boxes import Boxes, Enclosure
from checker.expressions.enclosed_curves import by_its_range
from checker.expressions.functions import FUNCTIONS, Function, Kind


def over_stations(boxes: Boxes, call: Function, *given: Enclosure) -> Enclosure:
    """A reduction of all stations to one; one of a plugin lies in the range that it states for all of them."""
    x = given[0]
    own = _REDUCTIONS.get(call)
    if own is not None and x.middle.shape[-1] > 0:
        result = own(boxes, x)
        if call.result is Kind.CONDITION or call is FUNCTIONS["count"]:
            return result
        is_whole = x.is_exact.all(axis=-1, keepdims=True) | ~np.isfinite(x.middle).all(axis=-1, keepdims=True)
        return enclosures.chosen(np.asarray(is_whole), enclosures.exact(call(x.middle)), result)
    is_known = np.logical_and.reduce([each.is_exact.all(axis=-1, keepdims=True) for each in given])
    boxes.bends(~is_known)
    ends = ((each.low.min(axis=-1, keepdims=True), each.high.max(axis=-1, keepdims=True)) for each in given)
    somewhere = by_its_range(boxes, call, *(enclosures.between(low, high) for low, high in ends))
    return enclosures.chosen(is_known, enclosures.exact(call(*(each.middle for each in given))), somewhere)


def _mean(boxes: Boxes, x: Enclosure) -> Enclosure:
    return enclosures.scaled(_total(boxes, x), 1.0 / x.middle.shape[-1])


def _total(boxes: Boxes, x: Enclosure) -> Enclosure:
    slopes = None if x.slopes is None else x.slopes.sum(axis=-1, keepdims=True)
    middle, error, low, high = (part.sum(axis=-1, keepdims=True) for part in (x.middle, x.error, x.low, x.high))
    return boxes.enclosure(middle, slopes, error, low, high)


def _least(boxes: Boxes, x: Enclosure) -> Enclosure:
    """One half of the stations against the other, until one is left; of an odd number the middle one is in both."""
    while (count := x.middle.shape[-1]) > 1:
        half = (count + 1) // 2
        x = enclosures.smaller(boxes, x.at(slice(0, half)), x.at(slice(count - half, count)))
    return x


def _greatest(boxes: Boxes, x: Enclosure) -> Enclosure:
    return enclosures.scaled(_least(boxes, enclosures.scaled(x, -1.0)), -1.0)


def _spread(boxes: Boxes, x: Enclosure) -> Enclosure:
    """The greatest difference of any two."""
    first, second = np.nonzero(~np.eye(x.middle.shape[-1], dtype=np.bool_))
    if not len(first):
        return enclosures.exact(np.zeros((1, 1)))
    apart = enclosures.subtract(boxes, x.at(first), x.at(second))
    low, high = apart.low.max(axis=-1, keepdims=True), apart.high.max(axis=-1, keepdims=True)
    boxes.bends(~x.is_exact)
    boxes.blames(1.0, x)
    return enclosures.between(np.maximum(low, 0.0), high)


def _count(boxes: Boxes, x: Enclosure) -> Enclosure:
    unclear = ~np.isfinite(x.error).all(axis=-1, keepdims=True)
    low = (x.low >= truth.TRUE).sum(axis=-1, keepdims=True).astype(np.float64)
    high = (x.high > truth.FALSE).sum(axis=-1, keepdims=True).astype(np.float64)
    return enclosures.between(np.where(unclear, -np.inf, low), np.where(unclear, np.inf, high))


_REDUCTIONS: Mapping[Function, Callable[[Boxes, Enclosure], Enclosure]] = {
    FUNCTIONS["mean"]: _mean,
    FUNCTIONS["total"]: _total,
    FUNCTIONS["least"]: _least,
    FUNCTIONS["greatest"]: _greatest,
    FUNCTIONS["spread"]: _spread,
    FUNCTIONS["count"]: _count,
    FUNCTIONS["mean_known"]: _mean,
    FUNCTIONS["least_known"]: _least,
    FUNCTIONS["greatest_known"]: _greatest,
}
