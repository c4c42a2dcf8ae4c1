"""Markup and the page around it: the one place where text becomes HTML, so that nothing gets in unescaped."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from functools import cache
from html import escape
from importlib.resources import files
from typing import TypeAlias

from checker.documents.printable import printable

_EMPTY = frozenset({"br", "col", "hr", "input", "meta"})


class Markup(str):
    """Text that is markup already; only this module makes it."""

    __slots__ = ()


Content: TypeAlias = "str | Iterable[Content] | None"
Attribute: TypeAlias = "str | float | bool | None"


def text(content: Content) -> Markup:
    """Content as markup: plain text is escaped, lists are joined."""
    if content is None:
        return Markup("")
    if isinstance(content, Markup):
        return content
    if isinstance(content, str):
        return Markup(escape(printable(content, keep="\n"), quote=True))
    return Markup("".join(map(text, content)))


def element(tag: str, *content: Content, **attributes: Attribute) -> Markup:
    """An element; `class_` is written class, `stroke_width` stroke-width, and what is None or False left out.

    Links lead only to places in the page itself, and no attribute can hold a script.
    """
    inside = "".join(_attribute(name, value) for name, value in attributes.items())
    return Markup(f"<{tag}{inside}>" if tag in _EMPTY else f"<{tag}{inside}>{text(content)}</{tag}>")


def _attribute(name: str, value: Attribute) -> str:
    if value is None or value is False:
        return ""
    name = name.rstrip("_").replace("_", "-")
    if name.startswith("on") or name == "style" or (name == "href" and not str(value).startswith("#")):
        raise ValueError(f"{name}={value!r} has no place in a page")
    if value is True:
        return f" {name}"
    written = f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else text(str(value))
    return f' {name}="{written}"'


def page(title: str, *body: Content, sheets: tuple[str, ...]) -> str:
    """A whole document that has no script and may fetch nothing; `sheets` names its style sheets in order."""
    style = "\n".join(map(_sheet, sheets))
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=policy),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("title", title),
        element("style", Markup(style)),
    )
    return f"<!doctype html>\n{element('html', head, element('body', text(body)), lang='en')}\n"


@cache  # what is shipped does not change while the program runs
def _sheet(name: str) -> str:
    return files("checker.html").joinpath(f"{name}.css").read_text(encoding="utf-8")
