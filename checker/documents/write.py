"""Writing plain data as YAML that this project reads back to the same data and the same texts."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping

from checker.documents.document import Document
from checker.documents.scalars import ScalarError, plain_value

_PLAIN = re.compile(r"(?:[A-Za-z0-9]|[.+-](?=[.0-9]))(?:[A-Za-z0-9 ._/+-]*[A-Za-z0-9._/+-])?")
_KEY = re.compile(r"[A-Za-z_][A-Za-z0-9_-]*|[0-9]+")


def scalar(text: str) -> str:
    """A text as a YAML scalar: bare where it reads back as that text or as a number so written, else in quotes."""
    return text if _PLAIN.fullmatch(text) and _meaning(text) is not None else _quoted(text)


def key(text: str) -> str:
    """A key of a mapping, quoted where it has to be."""
    return text if _KEY.fullmatch(text) and _meaning(text) is not None else _quoted(text)


def flow(document: Document, *path: str | int) -> str:
    """What stands at a path of a document, on one line."""
    given = _at(document, path)
    if isinstance(given, Mapping):
        return "{" + ", ".join(f"{key(name)}: {flow(document, *path, name)}" for name in given) + "}"
    if isinstance(given, list):
        return "[" + ", ".join(flow(document, *path, number) for number in range(len(given))) + "]"
    written = document.written(*path)
    if isinstance(given, str):
        return written if _PLAIN.fullmatch(written) and _meaning(written) == written else _quoted(written)
    return written or "null"


def one_line(value: object) -> str:
    """Plain data that is in no document as YAML on one line."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key(str(name))}: {one_line(inner)}" for name, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(one_line, value)) + "]"
    return scalar(value) if isinstance(value, str) else json.dumps(value)


def _meaning(text: str) -> str | float | None:
    """What a bare text reads back as; nothing for what is neither text nor a number."""
    try:
        value = plain_value(text)
    except ScalarError:
        return None
    return None if isinstance(value, bool) else value


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _at(document: Document, path: tuple[str | int, ...]) -> object:
    value = document.data
    for step in path:
        value = value[step]
    return value
