"""What a pack changes of those below it: the effects of its amendments, and limits looser or suspiciously far away."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from checker.errors import Place
from checker.expressions.truth import are_equal
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS, Bound, LimitSet
from checker.packs.limit_words import limit_words
from checker.packs.pack import Pack, foundations
from checker.packs.released import Standing
from checker.rulebook import Rulebook
from checker.vetting.comparison import rule_changes, words_changed
from checker.vetting.strength import Weakness

FAR = 9.999
"""From this many times a limit on, or its reciprocal, it may be a slip."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What an amendment or a retirement changes, a line each."""

    pack: str
    rule: str
    lines: tuple[str, ...]
    place: Place


def effects_in(rulebook: Rulebook, packs: Collection[str]) -> Iterator[Effect]:
    """The effects of all amendments and retirements of these packs, each pack held against those it builds on."""
    for pack in (pack for pack in rulebook.packs if pack.name in packs):
        if pack.amends:
            yield from _effects(pack, rulebook)
        for gone in pack.retires:
            yield Effect(str(pack), gone.name, (f"not asked any more: {gone.because}",), gone.origin.place)


def _effects(pack: Pack, rulebook: Rulebook) -> Iterator[Effect]:
    # They have been checked: a rule is compiled only when it is asked for.
    by_name = {other.name: other._replace(standing=Standing.RELEASED) for other in rulebook.packs}
    below = [by_name[name] for name in foundations(pack, by_name)]
    old, new = Rulebook(below, rulebook.plugins), Rulebook([*below, by_name[pack.name]], rulebook.plugins)
    rules = new.layered.rules.values()  # of what is lent another rule's limits too, but for rules that are new
    amended = (
        (rule.name, amendment.origin)
        for rule in rules
        for amendment in rule.amended
        if amendment.origin.pack == pack.name and rule.name in old.layered.rules
    )
    places = {name: origin.place for name, origin in amended}
    for name, lines in rule_changes(old, new, places):
        effects = lines or (words_changed(old.rules[name], new.rules[name]),)
        yield Effect(str(pack), name, (*effects, *_looser(new.rules[name], new, pack.name)), places[name])


def _looser(rule: CompiledRule, rulebook: Rulebook, pack: str) -> Iterator[str]:
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
            part = f"one part in {1 / times:.4g} of" if times > 0 else "far from"
            share = f"{times:.4g} times" if times > 1 else part
            words = f"{limit_words(now, rule)} is {share} the {limit_words(before, rule)} of {title}"
            what = f"{now.limit.band} {words}: is the decimal point right?"
            yield Weakness(rule.name, what, now.limit.origin.place)


def _changed(rule: CompiledRule, rulebook: Rulebook, packs: frozenset[str]) -> Iterator[tuple[Bound, Bound, str]]:
    """Plain limits of these packs, each with the plain limit it takes the place of, and whose that is."""
    below = _below(rule, rulebook, packs)
    if below is None:
        return
    for _, chain in uses_of(rule, rulebook):
        for position in POSITIONS:
            now, before = (plain_bound(limits, chain, *position) for limits in (rule.limits, below))
            is_ours = now is not None and now.number is not None and now.limit.origin.pack in packs
            if is_ours and now and before and now.is_ratio == before.is_ratio and before.number:
                yield now, before, below.title


def uses_of(rule: CompiledRule, rulebook: Rulebook) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The applications that a rule is asked for, each with its chain."""
    for name in rulebook.applications:
        chain = rulebook.chain(name)
        if not rule.rule.why_not_for(chain):
            yield name, chain


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
    bound = limits.plain(chain, band, side)
    return bound if bound is not None and (bound.number is not None or bound.limit.choices) else None


def _is_looser(now: Bound, before: Bound) -> bool:
    limit, limit_below = now.number or 0.0, before.number or 0.0
    is_beyond = limit > limit_below if now.limit.side == "high" else limit < limit_below
    return is_beyond and not are_equal(limit, limit_below)
