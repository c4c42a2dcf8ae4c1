"""Finding rules by the words people know them by: of their titles, their names, and what they judge."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from checker.errors import nearest
from checker.packs.characteristic import Characteristic
from checker.packs.compiled import CompiledRule

_WORD = re.compile(r"[a-z0-9]+")


def find_rules(
    words: Sequence[str], rules: Mapping[str, CompiledRule], characteristics: Mapping[str, Characteristic]
) -> tuple[CompiledRule, ...]:
    """The rules in which every one of these words occurs; a rule's own name or title finds that rule alone.

    Words are compared whole, upper or lower case, one or many ("gear", "gears"); where no rule has them all, a part of
    a word is enough.
    """
    asked = " ".join(words).lower().strip()
    alone = [rule for rule in rules.values() if asked in (rule.name, rule.rule.title.lower())]
    if alone:
        return tuple(alone)
    wanted = [_stem(word) for word in _WORD.findall(asked)]
    known = {name: words_of(rule, characteristics) for name, rule in rules.items()}
    whole = [rules[name] for name, own in known.items() if all(word in own for word in wanted)]
    found = whole or [
        rules[name] for name, own in known.items() if all(any(word in one for one in own) for word in wanted)
    ]
    return tuple(found) if wanted else ()


def words_of(rule: CompiledRule, characteristics: Mapping[str, Characteristic]) -> frozenset[str]:
    """The words of a rule's name and title, and of the names and titles of the characteristics it judges."""
    judged = [column.name for column in rule.judges.columns]
    titles = (characteristics[name].title for name in judged if name in characteristics)
    return frozenset(map(_stem, _WORD.findall(" ".join((rule.name, rule.rule.title, *judged, *titles)).lower())))


def nearest_words(words: Sequence[str], names: Iterable[str], known: Iterable[str]) -> str:
    """A hint for words that find nothing: the known word nearest to one that is not, else the nearest rule."""
    stems = sorted(known)
    hints = (nearest(word.lower(), stems) for word in words if _stem(word.lower()) not in stems)
    return next(filter(None, hints), "") or nearest("-".join(words), names)


def _stem(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
