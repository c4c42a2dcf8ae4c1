"""Finding rules by the words people know them by: of their titles, their names, and what they judge."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from typing import TypeVar

from checker.errors import Problem, UsageError, nearest
from checker.packs.compiled import CompiledRule
from checker.rulebook import Rulebook

Thing = TypeVar("Thing")
_WORD = re.compile(r"[a-z0-9]+")


def find_rules(words: Sequence[str], book: Rulebook) -> tuple[CompiledRule, ...]:
    """The rules in which every one of these words occurs; a rule's own name or title finds that rule alone.

    Words are compared whole, upper or lower case, one or many ("gear", "gears"); where no rule has them all, a part of
    a word is enough.
    """
    asked = " ".join(words).lower().strip()
    alone = [rule for rule in book.rules.values() if asked in (rule.name, rule.rule.title.lower())]
    return tuple(alone or having(asked, [(rule, _words_of(rule, book)) for rule in book.rules.values()]))


def none_found(words: Sequence[str], books: Sequence[Rulebook], listed_by: str = "") -> UsageError:
    """What to say where these find no rule: the nearest words that do, or else what lists them."""
    names = {name for book in books for name in book.rules}
    known = {word for book in books for rule in book.rules.values() for word in _words_of(rule, book)}
    message = f"no rule has {' '.join(words)!r} in its title, name or characteristic"
    return UsageError(Problem(message, hint=nearest_words(words, names, known) or listed_by))


def having(asked: str, known: Sequence[tuple[Thing, Collection[str]]]) -> list[Thing]:
    """The things whose own words have all the words asked for, else those that have them as parts of words."""
    wanted = words_in(asked)
    whole = [thing for thing, own in known if wanted <= set(own)]
    parts = (thing for thing, own in known if all(any(word in own_word for own_word in own) for word in wanted))
    return (whole or list(parts)) if wanted else []


def _words_of(rule: CompiledRule, book: Rulebook) -> frozenset[str]:
    """The words of a rule's name and title, and of the names and titles of the characteristics it judges."""
    judged, items = [column.name for column in rule.judges.columns], book.layered.characteristics
    titles = (items[name].title for name in judged if name in items)
    return words_in(" ".join((rule.name, rule.rule.title, *judged, *titles)))


def words_in(text: str) -> frozenset[str]:
    """The words of a text as they are compared: in lower case, one for many."""
    return frozenset(map(_stem, _WORD.findall(text.lower())))


def nearest_words(words: Sequence[str], names: Iterable[str], known: Iterable[str]) -> str:
    """A hint for words that find nothing: the known word nearest to one that is not, else the nearest rule."""
    stems = sorted(known)
    hints = (nearest(word.lower(), stems) for word in words if _stem(word.lower()) not in stems)
    return next(filter(None, hints), "") or nearest("-".join(words), names)


def _stem(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
