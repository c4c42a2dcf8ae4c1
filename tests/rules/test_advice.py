"""What is merely recommended cuts nothing and replaces no good part: every remedy of every pack in this project.

A recommendation that is missed is told the words of the remedy, unless those are marked as irreversible. So words that
are not must ask for no surgery, or leave it to the owner, to the next time, to a second reading or to what is required.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from places import ROOT

from checker.packs.pack import HEAD, Pack
from checker.packs.reader import read_pack
from checker.packs.rule import Remedy

FOLDERS = sorted(path.parent for path in (*ROOT.glob(f"rules/*/{HEAD}"), *ROOT.glob(f"plugins/*/src/*/*/{HEAD}")))
SURGERY = re.compile(
    r"""\b(?: hone[ds]? | bored | bore \s and \s hone | bore \s to | (?:re)?grind\b | (?:re)?ground\b | mill(?:ed)?
    | (?:re)?cut\b | file[ds]? | lap(?:ped)? | relieve | deepen | widen | chamfer | scrape | lighten | sink | shrink
    | surface \s \{ | face \s (?:that|the|\{) | weld | ream | bush \s (?:it|the) | sleeved? | tap | polish(?:ed)?
    | take \s .* \s off | raise \s the \s port | open \s the \s (?!gap|lash) | size \s the | trued
    | made \s true | pressed | plated | new | replaced? | discard(?:ed)?
    | another \s (?!standard|edition|engine) | oversize | undersize )""",
    re.VERBOSE | re.IGNORECASE,
)
LEAVES_IT = re.compile(
    r"""\b(?: if \s you \s want | if \s it \s does | at \s the \s next | when \s .* \s next | the \s next \s time
    | required | only \s where | measure \s (?:\w+ \s){0,6}again | measure \s its .* first | read \s it \s again | first
    | before \s anything | where \s its \s maker | nothing \s is | leave \s it )\b""",
    re.VERBOSE | re.IGNORECASE,
)
Stated = tuple[str, Mapping[str, Any]]
"""A rule by name and what a pack states of it, be it a rule of its own or an amendment."""


def stated(pack: Pack) -> Iterator[Stated]:
    yield from ((rule.name, rule._asdict()) for rule in pack.rules)
    yield from ((amended.name, amended.changes) for amended in pack.amends)


def is_advised(limits_of: str | None) -> bool:
    """Whether a rule that takes limits of another takes recommendations too."""
    return limits_of is not None and not limits_of.startswith("must of ")


def recommended(packs: list[Pack]) -> dict[str, set[str]]:
    """The sides on which a value may miss a recommendation, by rule; all of them where it takes limits of another."""
    sides = defaultdict[str, set[str]](set)
    for name, keys in (found for pack in packs for found in stated(pack)):
        sides[name] |= {limit.side for entry in keys.get("limits", ()) for limit in entry.should.stated}
        sides[name] |= {"low", "high", "broken"} if is_advised(keys.get("limits_of")) else set()
    return sides


PACKS = [read_pack(folder) for folder in FOLDERS]
SIDES = recommended(PACKS)


def told_of_advice(pack: Pack) -> Iterator[tuple[str, str, str]]:
    """Rule, side and words of each remedy that a missed recommendation may be told."""
    for name, keys in stated(pack):
        remedy = keys.get("remedy", {})
        for side, action in (remedy.by_side if isinstance(remedy, Remedy) else remedy).items():
            if side in SIDES[name] and not action.irreversible:
                yield name, side, str(action)


@pytest.mark.parametrize("pack", PACKS, ids=lambda pack: pack.pack)
def test_advice_asks_for_no_surgery(pack: Pack) -> None:
    asks = [
        (name, side, words)
        for name, side, words in told_of_advice(pack)
        if SURGERY.search(words) and not LEAVES_IT.search(words)
    ]
    assert not asks, "\n".join(map(str, asks))


def test_the_words_are_those_that_packs_use() -> None:
    """A pattern that matches nothing would hold nothing: remedies that cut are found by it."""
    cutting = [
        str(action)
        for pack in PACKS
        for rule in pack.rules
        for action in rule.remedy.by_side.values()
        if action.irreversible
    ]
    unseen = [words for words in cutting if not SURGERY.search(words)]
    assert len(cutting) > 100 and len(unseen) < len(cutting) / 5, unseen
