"""Limits in words, as the pack states them."""

from __future__ import annotations

from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import Bound, CompiledEntry
from checker.packs.limits import BANDS, PHYSICS


def limit_words(bound: Bound, rule: CompiledRule) -> str:
    """One limit, such as "at least 0.0003 x shaft_diameter"."""
    words = bare_words(bound, rule)
    return words if bound.limit.side == "broken" else f"{side_words(bound.limit.side)} {words}"


def bare_words(bound: Bound, rule: CompiledRule) -> str:
    """The same without its side, such as "0.0003 x shaft_diameter"; of a demand what must be."""
    limit = bound.limit
    if limit.side == "broken":
        return f"be {' or '.join(limit.choices)}" if limit.choices else "hold"
    size = rule.rule.per_unit_of if bound.is_ratio else None
    return f"{limit.written}{f' x {size}' if size else ''}"


def side_words(side: str) -> str:
    """The side that a limit bounds."""
    return "at least" if side == "low" else "at most"


def entry_words(entry: CompiledEntry, rule: CompiledRule) -> str:
    """An entry, such as "any, when grease == "mineral": must at least 3 mm, at most 4 mm; should at most 3.5 mm"."""
    bands = ((band, [bound for bound in entry.bounds if bound.limit.band == band]) for band in (PHYSICS, *BANDS))
    words = "; ".join(
        f"{band} {', '.join(limit_words(bound, rule) for bound in bounds)}" for band, bounds in bands if bounds
    )
    condition = f", when {entry.when.text}" if entry.when else ""
    return f"{entry.application}{condition}: {words}"
