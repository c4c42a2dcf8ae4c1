"""Limits in words, as the pack states them."""

from __future__ import annotations

from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import Bound, CompiledEntry
from checker.packs.limits import BANDS, PHYSICS


def limit_words(bound: Bound, rule: CompiledRule) -> str:
    """One limit, such as "at least 0.0003 x shaft_diameter"."""
    words = bare_words(bound, rule)
    return words if bound.limit.side == "broken" else f"{side_words(bound.limit.side)} {words}"


def bare_words(bound: Bound, rule: CompiledRule) -> str:
    """The same without its side: "0.0003 x shaft_diameter", "2*0.04 mm (0.08 mm)"; of a demand what must be."""
    limit = bound.limit
    if limit.side == "broken":
        return f"be {' or '.join(limit.choices)}" if limit.choices else "hold"
    if bound.is_ratio and rule.rule.per_unit_of:
        return f"{limit.written} x {rule.rule.per_unit_of}"
    worked_out = None if bound.constant is not None else bound.number
    return limit.written if worked_out is None else f"{limit.written} ({write_quantity(worked_out, rule.unit)})"


def side_words(side: str) -> str:
    """The side that a limit bounds."""
    return "at least" if side == "low" else "at most"


def band_words(low: str, high: str) -> str:
    """What lies between two ends, either of which may be missing: "0.1 mm to 0.2 mm", "at least 0.1 mm"."""
    if low and high:
        return f"{low} to {high}"
    ends = {"low": low, "high": high}
    return "".join(f"{side_words(side)} {end}" for side, end in ends.items() if end)


def entry_words(entry: CompiledEntry, rule: CompiledRule) -> str:
    """An entry, such as "any, when grease == "mineral": must at least 3 mm, at most 4 mm; should at most 3.5 mm"."""
    bands = ((band, [bound for bound in entry.bounds if bound.limit.band == band]) for band in (PHYSICS, *BANDS))
    words = "; ".join(
        f"{band} {', '.join(limit_words(bound, rule) for bound in bounds)}" for band, bounds in bands if bounds
    )
    condition = f", when {entry.when.text}" if entry.when else ""
    return f"{entry.application}{condition}: {words}"
