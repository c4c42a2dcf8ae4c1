"""One definition for several kinds of things: written out in full when a file is read, so that all else sees each.

Under `each_of` a word in capitals stands for several kinds, and beside it stand sections as elsewhere in the file:

    each_of:
      SHAFT: [input, output]
      rules:
        SHAFT-runout:
          title: SHAFT shaft runout
          before: {input: gears-on, output: cover-on}

Every entry whose name holds the word stands once for each kind, with the kind in place of the word in all its names and
texts, capitalised where it opens one or a sentence in it. A mapping from exactly the kinds says what differs; `none`
there leaves the key out for that kind.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import Any, TypeAlias

from checker.documents.document import Document
from checker.documents.tree import KeyPath
from checker.errors import InputError, Problem

EACH_OF = "each_of"
NONE = "none"
_WORD = re.compile(r"[A-Z]{2,30}")
_KIND = re.compile(r"[a-z0-9][a-z0-9_-]{0,63}")
_EXAMPLE = "for example each_of: {SHAFT: [input, output], rules: ...}"

Kinds: TypeAlias = Mapping[str, str]
"""The kind for which each word stands."""


def written_out(document: Document) -> Document:
    """The document without each_of: every entry in it once for each kind, at the lines where it is defined.

    Raises InputError naming everything that cannot be written out.
    """
    if not isinstance(document.data, Mapping) or EACH_OF not in document.data:
        return document
    writing = _Writing(document)
    writing.run()
    if writing.problems:
        raise InputError(writing.problems)
    return document.rewritten(writing.data, writing.came_from)


@dataclass(slots=True)
class _Writing:
    """A document while it is written out: its new data, and of each path the one it was written at."""

    document: Document
    data: dict[str, Any] = field(default_factory=dict)
    came_from: dict[KeyPath, KeyPath] = field(default_factory=lambda: {(): ()})
    problems: list[Problem] = field(default_factory=list)

    def run(self) -> None:
        words, sections = self.words_and_sections()
        for key, value in self.document.data.items():
            if key != EACH_OF:
                self.place(self.data, (key,), value, (key,))
                continue
            for section, entries in sections.items():
                self.section(section, entries, words)

    def words_and_sections(self) -> tuple[Mapping[str, tuple[str, ...]], Mapping[str, Mapping[str, Any]]]:
        stated = self.document.data[EACH_OF]
        if not isinstance(stated, Mapping):
            self.fault("expected words in capitals and sections", (EACH_OF,), _EXAMPLE)
            return {}, {}
        words = {word: kinds for word, kinds in stated.items() if _WORD.fullmatch(word)}
        sections = {name: entries for name, entries in stated.items() if name not in words}
        if not words:
            self.fault("no word in capitals stands for several kinds", (EACH_OF,), _EXAMPLE)
        for word, kinds in words.items():
            if not _are_kinds(kinds):
                self.fault(f"{word} stands for two names or more", (EACH_OF, word), f"{word}: [input, output]")
        for name, entries in sections.items():
            if not isinstance(entries, Mapping):
                self.fault("expected entries by name", (EACH_OF, name), _EXAMPLE)
        return ({}, {}) if self.problems else (words, sections)

    def section(self, section: str, entries: Mapping[str, Any], words: Mapping[str, tuple[str, ...]]) -> None:
        into = self.data.setdefault(section, {})
        self.came_from.setdefault((section,), (EACH_OF, section))
        for name, value in entries.items():
            path = (EACH_OF, section, name)
            named = [word for word in words if _standing(word).search(name)]
            if not named:
                self.fault(f"{name!r} holds none of {', '.join(words)}", path, f"it belongs outside {EACH_OF}")
            for kinds in product(*(words[word] for word in named)) if named else ():
                values = dict(zip(named, kinds, strict=True))
                self.entry(into, section, _with_kinds(name, values), value, path, _Kinds(values, words))

    def entry(self, into: dict[str, Any], section: str, name: str, value: Any, path: KeyPath, kinds: _Kinds) -> None:
        own = self.document.data.get(section)
        if name in into or (isinstance(own, Mapping) and name in own):
            self.fault(f"{name!r} is stated twice", path, f"it stands in {section} too")
            return
        self.place(into, (section, name), value, path, kinds)

    def place(self, into: Any, path: KeyPath, value: Any, source: KeyPath, kinds: _Kinds | None = None) -> None:
        """Put a value, written out, under the last step of its path."""
        own = kinds.choice(value) if kinds else None
        if own is not None:
            self.came_from[path] = source
            value, source = value[own], (*source, own)
            if value == NONE:
                return
        self.came_from[path] = source
        made = self.written(path, value, source, kinds)
        if isinstance(into, list):
            into.append(made)
        elif isinstance(into.get(path[-1]), dict) and isinstance(made, dict):
            into[path[-1]].update(made)
        else:
            into[path[-1]] = made

    def written(self, path: KeyPath, value: Any, source: KeyPath, kinds: _Kinds | None) -> Any:
        if isinstance(value, Mapping):
            mapping: dict[str, Any] = {}
            for key, inner in value.items():
                name = _with_kinds(key, kinds.kinds) if kinds else key
                self.place(mapping, (*path, name), inner, (*source, key), kinds)
            return mapping
        if isinstance(value, list):
            items: list[Any] = []
            for number, inner in enumerate(value):
                self.place(items, (*path, len(items)), inner, (*source, number), kinds)
            return items
        return _with_kinds(value, kinds.kinds) if kinds and isinstance(value, str) else value

    def fault(self, message: str, path: KeyPath, hint: str = "") -> None:
        self.problems.append(Problem(message, self.document.place(*path), hint))


@dataclass(frozen=True, slots=True)
class _Kinds:
    """The kinds for which an entry is written out, and all for which the words stand."""

    kinds: Kinds
    words: Mapping[str, tuple[str, ...]]

    def choice(self, value: Any) -> str | None:
        """The kind under which what counts here stands, where a value differs by kind."""
        if not isinstance(value, Mapping):
            return None
        return next((kind for word, kind in self.kinds.items() if set(value) == set(self.words[word])), None)


def _are_kinds(kinds: Any) -> bool:
    if not isinstance(kinds, list) or len(kinds) < 2 or not all(isinstance(kind, str) for kind in kinds):
        return False
    return len(set(kinds)) == len(kinds) and all(_KIND.fullmatch(kind) for kind in kinds)


def _standing(word: str) -> re.Pattern[str]:
    return re.compile(f"(?<![A-Za-z]){word}(?![A-Za-z])")


def _with_kinds(text: str, kinds: Kinds) -> str:
    for word, kind in kinds.items():
        if word in text:
            opening = re.compile(rf"(?:^|(?<=[.?!] )){word}(?= )")
            text = _standing(word).sub(kind, opening.sub(kind.capitalize(), text))
    return text
