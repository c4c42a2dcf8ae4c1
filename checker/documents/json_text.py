"""Reads JSON (RFC 8259) with the line of every value."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import NamedTuple

from checker.documents.scalars import ScalarError, json_number
from checker.documents.tree import Position, Tree

_TOKEN = re.compile(
    r"[ \t\r\n]*+(?:"
    r"(?P<mark>[\[\]{},:])"
    r'|(?P<string>"(?:[^"\\\n]++|\\.)*+")'
    r"|(?P<number>[+-]?\.?[0-9][0-9A-Za-z.+_-]*)"
    r"|(?P<word>[+-]?[A-Za-z_][0-9A-Za-z_]*)"
    r'|(?P<open>"[^\n]*)'
    r"|(?P<other>.))"
)
_WORDS = {"true": True, "false": False, "null": None}

_VALUE = "a value"
_VALUE_OR_CLOSE = "a value or ']'"
_KEY = "a key in double quotes"
_KEY_OR_CLOSE = "a key in double quotes or '}'"
_COLON = "':'"
_NEXT_ENTRY = "',' or '}'"
_NEXT_VALUE = "',' or ']'"
_END = "the end of the file"
_VALUES = frozenset({"{", "[", "string", "number", "word"})
_ALLOWED = {  # kinds of token, by what is expected
    _VALUE: _VALUES,
    _VALUE_OR_CLOSE: _VALUES | {"]"},
    _KEY: frozenset({"string"}),
    _KEY_OR_CLOSE: frozenset({"string", "}"}),
    _COLON: frozenset({":"}),
    _NEXT_ENTRY: frozenset({",", "}"}),
    _NEXT_VALUE: frozenset({",", "]"}),
    _END: frozenset({"end"}),
}


class _Token(NamedTuple):
    kind: str
    text: str
    at: Position


def read_json(text: str, tree: Tree) -> None:
    """Feeds the one value of a text to the tree."""
    expected = _VALUE
    for token in _tokens(text):
        if token.kind not in _ALLOWED[expected]:
            message = f"expected {expected}, found {_shown(token)}"
            tree.findings.stop(message, token.at, tree.path, _hint(token, expected))
        expected = _take(token, tree)


def _tokens(text: str) -> Iterator[_Token]:
    line, line_start = 1, 0
    content = text.rstrip(" \t\r\n")  # the search would try each blank at the end anew
    for match in _TOKEN.finditer(content):
        kind = match.lastgroup or ""
        start = match.start(kind)
        if newlines := text.count("\n", match.start(), start):
            line, line_start = line + newlines, text.rfind("\n", 0, start) + 1
        yield _Token(match[kind] if kind == "mark" else kind, match[kind], (line, start - line_start + 1))
    yield _Token("end", "", (line, len(content) - line_start + 1))


def _take(token: _Token, tree: Tree) -> str:
    """Hands one token to the tree; returns what is expected after it."""
    match token.kind:
        case "{":
            tree.open({}, token.at)
            return _KEY_OR_CLOSE
        case "[":
            tree.open([], token.at)
            return _VALUE_OR_CLOSE
        case ":":
            return _VALUE
        case ",":
            return _KEY if tree.in_mapping else _VALUE
        case "string" if tree.wants_key:
            tree.key(_string(token, tree), token.at)
            return _COLON
        case "string":
            text = _string(token, tree)
            tree.scalar(text, text, token.at)
        case "number" | "word":
            tree.scalar(_bare(token, tree), token.text, token.at)
        case "}" | "]":
            tree.close()
    if tree.complete:
        return _END
    return _NEXT_ENTRY if tree.in_mapping else _NEXT_VALUE


def _string(token: _Token, tree: Tree) -> str:
    try:
        return str(json.loads(token.text))
    except json.JSONDecodeError as error:
        tree.problem(f"not a JSON string: {error.msg}", token.at)
        return token.text


def _bare(token: _Token, tree: Tree) -> float | bool | None:
    if token.kind == "word" and token.text in _WORDS:
        return _WORDS[token.text]
    try:
        return json_number(token.text)
    except ScalarError as error:
        tree.problem(error.message, token.at, error.hint)
        return None


def _hint(token: _Token, expected: str) -> str:
    if token.kind == "open":
        return "a quote is not closed on its line"
    if token.kind == "number" and expected == _KEY:
        return "write a decimal point, not a comma"
    return ""


def _shown(token: _Token) -> str:
    if token.kind == "end":
        return _END
    return repr(token.text if len(token.text) <= 40 else f"{token.text[:40]}...")
