"""Text from files as one can look at it: signs that would steer a terminal or turn the line round are spelled out."""

from __future__ import annotations


def printable(text: str, keep: str = "") -> str:
    """The text with every control and format sign spelled out, except those to keep."""
    return "".join(
        sign if sign.isprintable() or sign in keep else sign.encode("unicode_escape").decode() for sign in text
    )
