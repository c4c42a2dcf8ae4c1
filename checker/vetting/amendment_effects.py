"""What each amendment and retirement of a pack changes in what a rule does; also where that is nothing."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from checker.errors import Place
from checker.packs.pack import Pack, foundations
from checker.packs.released import Standing
from checker.rulebook import Rulebook
from checker.vetting.comparison import rule_changes, words_changed
from checker.vetting.loosened import looser


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
    rules = new.layered.rules.values()  # of what is lent another rule's limits too
    amended = (
        (rule.name, amendment.origin)
        for rule in rules
        for amendment in rule.amended
        if amendment.origin.pack == pack.name
    )
    places = {name: origin.place for name, origin in amended}
    for name, lines in rule_changes(old, new, places):
        effects = lines or (words_changed(old.rules[name], new.rules[name]),)
        yield Effect(str(pack), name, (*effects, *looser(new.rules[name], new, pack.name)), places[name])
