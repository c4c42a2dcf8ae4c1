"""Texts in the cells of spreadsheets: nothing in them may act as a formula."""

from __future__ import annotations

_ACTIVE = ("=", "+", "-", "@", "|", "%", "\t", "\r", "\n")
_QUOTE = "'"


def inert(text: str) -> str:
    """The text so that no spreadsheet program takes it for a formula; `restored` undoes it."""
    return _QUOTE + text if text.lstrip(f" \ufeff{_QUOTE}").startswith(_ACTIVE) else text


def restored(text: str) -> str:
    """The text as it was before it was made inert."""
    return text[1:] if text.startswith(_QUOTE) and inert(text[1:]) == text else text
