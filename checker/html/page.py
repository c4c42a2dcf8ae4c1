"""The page around everything: one file without a script that may fetch nothing."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files

from checker.html.markup import Content, Markup, element, text


def page(title: str, *body: Content, sheets: tuple[str, ...]) -> str:
    """A whole document; `sheets` names the style sheets it carries, in order."""
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
