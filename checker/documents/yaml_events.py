"""Reads YAML through PyYAML's events: one document, no anchors, tags, directives, merge keys or tabs."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, TypeAlias

import yaml

from checker.documents.scalars import ScalarError, plain_key, plain_value
from checker.documents.tree import Tree
from checker.documents.yaml_causes import HINTS, QUOTES, cause_of, further_in

Loader: TypeAlias = "type[yaml.SafeLoader] | type[yaml.CSafeLoader]"
Event: TypeAlias = Any  # the library's types call every mark optional, but events read from a text always have theirs

# libyaml reads several times faster; the events are the same, and what they mean is settled here.
FASTEST: Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

# 0,022 in a list is two values to YAML and may be one to whoever wrote it; 2.449,2.448 is certainly two.
_DECIMAL_COMMA = re.compile(r"\s*,(?=\d+(?![\d.]))")


def read_yaml(text: str, tree: Tree, loader: Loader = FASTEST) -> None:
    """Feeds the one document of a text to the tree."""
    _Reader(text, tree, loader).read()


class _Reader:
    def __init__(self, text: str, tree: Tree, loader: Loader) -> None:
        self.text = text
        self.tree = tree
        self.loader = loader
        self.at: tuple[int, int] = (1, 1)
        self.last: Event = None
        self.checked_for_tabs = 0
        self.flows = 0
        """How many brackets and braces are open."""
        self.take: Mapping[type[Event], Callable[[Event], None]] = {
            yaml.MappingStartEvent: self._take_start,
            yaml.SequenceStartEvent: self._take_start,
            yaml.MappingEndEvent: self._take_end,
            yaml.SequenceEndEvent: self._take_end,
            yaml.AliasEvent: self._take_alias,
            yaml.DocumentStartEvent: self._take_document,
        }

    def read(self) -> None:
        self._refuse_directives()
        for event in self._events():
            start = event.start_mark
            self.at = (start.line + 1, start.column + 1)
            if type(event) is yaml.ScalarEvent:  # two of three are
                self._take_scalar(event)
            elif take := self.take.get(type(event)):
                take(event)
            self.last = event
        self._refuse_tabs(len(self.text))

    def _events(self) -> Iterator[Event]:
        try:
            yield from iter(self.loader(self.text).get_event, None)
        except yaml.MarkedYAMLError as error:
            self._refuse_syntax(error)
        except Exception as error:  # the library leaks other kinds too; none of them may become a traceback
            self.tree.findings.stop(f"cannot be read as YAML from here on ({type(error).__name__})", self.at)

    def _take_document(self, event: Event) -> None:
        if self.tree.complete:
            self.tree.findings.stop("a second document; a file holds one", self.at)

    def _take_scalar(self, event: Event) -> None:
        if event.anchor is not None or event.tag is not None:
            self._refuse_properties(event)
        text = event.value
        value = text if event.style else self._unquoted(event, text)
        if event.style in QUOTES:
            self._refuse_tabs(event.start_mark.index)
            self.checked_for_tabs = event.end_mark.index
        self._feed(value, text)

    def _take_start(self, event: Event) -> None:
        self._refuse_properties(event)
        if self.tree.wants_key:
            self.tree.findings.stop("a list or mapping cannot be a key", self.at, self.tree.path)
        self.tree.open({} if isinstance(event, yaml.MappingStartEvent) else [], self.at)
        if self.flows or event.flow_style:
            self.flows += 1

    def _take_end(self, event: Event) -> None:
        self.tree.close()
        if self.flows:
            self.flows -= 1

    def _take_alias(self, event: Event) -> None:
        self.tree.problem(f"aliases (*{event.anchor[:40]}) are not read", self.at, "write the value out")
        self._feed(None, event.anchor)

    def _unquoted(self, event: Event, text: str) -> str | float | bool | None:
        """What an unquoted scalar means."""
        # Where lines were folded there is a blank now, or a line end.
        if (" " in text or "\n" in text) and event.end_mark.line + 1 != self.at[0]:
            if self.text[event.end_mark.index : event.end_mark.index + 1] == ":":
                deeper = further_in(self.text, event.end_mark.line, self.at[0])
                self.tree.findings.stop(deeper.message, deeper.at, (), deeper.hint)
            self.tree.problem("an unquoted value runs over several lines", self.at, "is a colon or a quote missing?")
            return text
        if self.flows and text[-1:].isdigit() and _DECIMAL_COMMA.match(self.text, event.end_mark.index):
            hint = "write a decimal point, or a space after the comma"
            self.tree.problem("a comma with no space after it", self.at, hint)
        try:
            return plain_key(text) if self.tree.wants_key else plain_value(text)
        except ScalarError as error:
            self.tree.problem(error.message, self.at, error.hint)
            return None

    def _feed(self, value: str | float | bool | None, written: str) -> None:
        if self.tree.wants_key:
            self.tree.key(written, self.at)
        else:
            self.tree.scalar(value, written, self.at)

    def _refuse_properties(self, event: Event) -> None:
        if event.anchor is not None:
            self.tree.problem(f"anchors (&{event.anchor[:40]}) are not read", self.at, "write the value at each use")
        if event.tag is not None:
            self.tree.problem(f"tags ({ascii(event.tag[:40])[1:-1]}) are not read", self.at, "leave the tag out")

    def _refuse_directives(self) -> None:
        for number, line in enumerate(self.text.split("\n"), 1):
            if line.startswith("%"):
                self.tree.findings.add("directives (%) are not read", (number, 1), (), "leave the line out")
            elif line.strip() and not line.lstrip().startswith("#"):
                return

    def _refuse_syntax(self, error: yaml.MarkedYAMLError) -> None:
        mark = error.problem_mark or error.context_mark
        at = (mark.line + 1, mark.column + 1) if mark else self.at
        cause = cause_of(error, self.text, self.last)
        if cause is not None:
            self.tree.findings.stop(cause.message, cause.at, (), cause.hint)
        # Further on, quotes cannot be told from the rest.
        self._refuse_tabs(self.last.end_mark.index if self.last else 0)
        if mark and self.text[mark.index : mark.index + 1] == "\t":
            self._refuse_tabs(mark.index + 1)
            self.tree.findings.settle()
        said = error.problem or error.context or "unknown fault"
        begun = f", {error.context} begun on line {error.context_mark.line + 1}" if error.context_mark else ""
        hint = next((hint for words, hint in HINTS.items() if words in said), "")
        self.tree.findings.stop(f"not valid YAML: {said}{begun}"[:300], at, (), hint)

    def _refuse_tabs(self, end: int) -> None:
        """From the last quoted scalar to this index; one problem for each line."""
        tab = self.text.find("\t", self.checked_for_tabs, end)
        while tab >= 0:
            at = (self.text.count("\n", 0, tab) + 1, tab - self.text.rfind("\n", 0, tab))
            self.tree.findings.add("a tab outside quotes", at, (), "write spaces")
            line_end = self.text.find("\n", tab, end)
            tab = self.text.find("\t", line_end, end) if line_end >= 0 else -1
        self.checked_for_tabs = end
