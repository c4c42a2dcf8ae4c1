"""Where to fix what is no YAML: often above the line at which a reader stumbles."""

from __future__ import annotations

from typing import Any, NamedTuple, TypeAlias

from checker.documents.tree import Position

QUOTES = frozenset("'\"")
HINTS = {
    "mapping values are not allowed": "put text that holds ': ' in quotes",
    "could not find expected ':'": "a key needs a colon and a space after it",
    "cannot start any token": "put text that begins with this character in quotes",
    "unexpected end of stream": "a quote, bracket or brace is not closed",
    "did not find expected ','": "a comma is missing before this, or a bracket or brace is not closed",
}
_ONE_COLUMN = "keys of one mapping stand in one column"
_CLOSE_IT = "close it on this line"

Mark: TypeAlias = Any
"""A mark of the library: line and column from 0, and the index in the text."""


class Cause(NamedTuple):
    """What is wrong, the place to fix it, and how."""

    message: str
    at: Position
    hint: str = ""


def cause_of(error: Any, text: str, last: Any) -> Cause | None:
    """The cause of a syntax error after the `last` event, where it is known."""
    mark, begun = error.problem_mark, error.context_mark
    said, doing = error.problem or "", error.context or ""
    if mark is None or begun is None:
        return None
    if "unexpected end of stream" in said and "quoted scalar" in doing:
        return Cause("the quote opened here is not closed", _position(begun), _CLOSE_IT)
    if "could not find expected ':'" in said:
        return Cause("this is not a key with a value", _position(begun), HINTS["could not find expected ':'"])
    if getattr(last, "style", None) in QUOTES and last.start_mark.line < last.end_mark.line == mark.line:
        message = f"the quote opened here is closed on line {mark.line + 1} only"
        return Cause(message, _position(last.start_mark), _CLOSE_IT)
    if "flow" in doing and _stands_first(mark, text) and mark.line > begun.line:
        return _not_closed("bracket" if "sequence" in doing else "brace", begun, mark, text)
    if "did not find expected key" in said:
        return _no_key(mark, text)
    return None


def further_in(text: str, line: int, above: int) -> Cause:
    """A key, its line counted from 0, that stands below a value as if it went on with that."""
    stands = text.split("\n")[line]
    message = f"this line stands further in than line {above}, which has a value already"
    return Cause(message, (line + 1, len(stands) - len(stands.lstrip()) + 1), _ONE_COLUMN)


def _no_key(mark: Mark, text: str) -> Cause | None:
    if text[mark.index : mark.index + 1] in ("}", "]"):
        return Cause("nothing is open that this would close", _position(mark), "take it out")
    if _stands_first(mark, text):
        message = f"this line begins at column {mark.column + 1}, where no mapping that is open begins"
        return Cause(message, _position(mark), _ONE_COLUMN)
    return None


def _not_closed(what: str, begun: Mark, mark: Mark, text: str) -> Cause:
    """At the end of the last line before that which goes on as if all were closed."""
    lines = text.split("\n")
    above = max(number for number in range(mark.line) if lines[number].strip())
    message = f"the {what} opened on line {begun.line + 1} is not closed before line {mark.line + 1}"
    return Cause(message, (above + 1, len(lines[above].rstrip())), "close it here, or write a comma and go on")


def _stands_first(mark: Mark, text: str) -> bool:
    """Whether nothing stands before it on its line."""
    return not text[: mark.index].rpartition("\n")[2].strip()


def _position(mark: Mark) -> Position:
    return mark.line + 1, mark.column + 1
