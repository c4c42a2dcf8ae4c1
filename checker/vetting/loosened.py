"""Limits that a pack states otherwise than those below it: looser, or so far away that it may be a slip."""

from __future__ import annotations

from collections.abc import Iterator

from checker.expressions.truth import are_equal
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS, Bound, LimitSet
from checker.packs.limit_words import limit_words
from checker.rulebook import Rulebook
from checker.vetting.strength import Weakness

FAR = 9.999
"""From this many times a limit on, or its reciprocal, it may be a slip."""


def looser(rule: CompiledRule, rulebook: Rulebook, pack: str) -> Iterator[str]:
    """What a pack allows that the packs below do not, once in words for all uses alike."""
    lines = dict.fromkeys(
        f"{now.limit.band} {limit_words(now, rule)} is looser than {limit_words(before, rule)} of {title}"
        for now, before, title in _changed(rule, rulebook, frozenset({pack}))
        if _is_looser(now, before)
    )
    yield from lines


def far_away(rule: CompiledRule, rulebook: Rulebook, packs: frozenset[str]) -> Iterator[Weakness]:
    """Limits of these packs that are ten times one below, or a tenth of it."""
    seen = set()
    for now, before, title in _changed(rule, rulebook, packs):
        times = (now.number or 0.0) / (before.number or 1.0)
        if not 1 / FAR < times < FAR and (now, title) not in seen:
            seen.add((now, title))
            share = (
                f"{times:.4g} times" if times > 1 else f"one part in {1 / times:.4g} of" if times > 0 else "far from"
            )
            words = f"{limit_words(now, rule)} is {share} the {limit_words(before, rule)} of {title}"
            what = f"{now.limit.band} {words}: is the decimal point right?"
            yield Weakness(rule.name, what, now.limit.origin.place)


def _changed(rule: CompiledRule, rulebook: Rulebook, packs: frozenset[str]) -> Iterator[tuple[Bound, Bound, str]]:
    """Plain limits of these packs, each with the plain limit it takes the place of, and whose that is."""
    below = _below(rule, rulebook, packs)
    if below is None:
        return
    for application in rulebook.applications:
        chain = rulebook.chain(application)
        if rule.rule.why_not_for(chain):
            continue
        for position in POSITIONS:
            now, before = (plain_bound(limits, chain, *position) for limits in (rule.limits, below))
            is_ours = now is not None and now.number is not None and now.limit.origin.pack in packs
            if is_ours and now and before and now.is_ratio == before.is_ratio and before.number:
                yield now, before, below.title


def _below(rule: CompiledRule, rulebook: Rulebook, packs: frozenset[str]) -> LimitSet | None:
    """The limits of a rule as the packs below these had them, where these amended any."""
    others = {str(pack) for pack in rulebook.packs if pack.name not in packs}
    is_amended = any(
        amendment.origin.pack in packs and "limits" in amendment.changes for amendment in rule.rule.amended
    )
    below = [limits for limits in rule.alternatives if limits.title in others] if is_amended else []
    return below[-1] if below else None


def plain_bound(limits: LimitSet, chain: tuple[str, ...], band: str, side: str) -> Bound | None:
    """The limit that counts, if that is one number, or are some choices, whatever else is known."""
    candidates = limits.candidates(chain, band, side)
    bound = candidates[0].bound if len(candidates) == 1 and candidates[0].when is None else None
    return bound if bound is not None and (bound.number is not None or bound.limit.choices) else None


def _is_looser(now: Bound, before: Bound) -> bool:
    one, other = now.number or 0.0, before.number or 0.0
    beyond = one > other if now.limit.side == "high" else one < other
    return beyond and not are_equal(one, other)
