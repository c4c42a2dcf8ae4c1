"""Which limits of a rule count for a use, as far as it is known without a record."""

from __future__ import annotations

from collections.abc import Iterator

from checker.expressions.truth import FALSE, TRUE
from checker.judging.block import Block
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import STATED, Candidate
from checker.packs.limits import PHYSICS

OTHERWISE = "otherwise"


def effective_limits(rule: CompiledRule, chain: tuple[str, ...], block: Block) -> dict[str, list[Candidate]]:
    """The limits that count for an application, by the condition under which they do; "" for always.

    `block` holds the facts that are known: they settle the conditions they can.
    """
    found: dict[str, list[Candidate]] = {}
    for band, side in STATED:
        for condition, candidate in _counting(rule.limits.candidates(chain, band, side), block):
            found.setdefault(condition, []).append(candidate)
    return dict(sorted(found.items(), key=lambda item: _ORDER.get(item[0], 1)))


_ORDER = {"": 0, OTHERWISE: 2}


def _counting(candidates: tuple[Candidate, ...], block: Block) -> Iterator[tuple[str, Candidate]]:
    """Up to the first that counts for certain; of what physics asks for nothing stands in place of another."""
    condition = ""
    for candidate in candidates:
        is_physics = candidate.bound.limit.band == PHYSICS
        truth = TRUE if candidate.when is None else float(block.evaluate(candidate.when)[0, 0])
        if truth == TRUE:
            yield condition, candidate
            if not is_physics:
                return
        elif truth != FALSE and candidate.when is not None:
            condition = "" if is_physics else OTHERWISE
            yield f"when {candidate.when.text}", candidate
