"""What the terminal can show: how wide it is, and whether it takes colours."""

from __future__ import annotations

import os
import re
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from contextvars import ContextVar
from typing import TextIO

USUAL = 100
"""How wide text is where it goes to a file or to another program."""
NARROWEST, WIDEST = 60, 100
_COLOUR = re.compile(r"\x1b\[[0-9;]*m")
_KEPT: ContextVar[TextIO | None] = ContextVar("standard output")


def standard_output() -> TextIO | None:
    """Where results go; None where it is closed."""
    return _KEPT.get(sys.stdout)


@contextmanager
def kept_for_results() -> Iterator[None]:
    """The standard output is for results alone: what a plugin prints meanwhile goes to the standard error.

    On a terminal it is left alone, for there both are the same, and questions are asked there.
    """
    if is_terminal(sys.stdout):
        yield
        return
    before = _KEPT.set(standard_output())
    try:
        with redirect_stdout(sys.stderr):
            yield
    finally:
        _KEPT.reset(before)


def is_terminal(stream: TextIO | None) -> bool:
    """Whether a person reads what is written there; a stream that is closed or taken away is none."""
    try:
        return stream is not None and stream.isatty()
    except ValueError:
        return False


def width_of(stream: TextIO | None) -> int:
    """How many signs a line may have there; a terminal that says nothing of its width has 80."""
    if not is_terminal(stream):
        return USUAL
    return min(max(shutil.get_terminal_size().columns, NARROWEST), WIDEST)


def fitted(text: str, width: int) -> list[str]:
    """The lines of a text; those that are too long go on below, two signs further in."""
    lines: list[str] = []
    for line in text.splitlines():
        following = " " * (len(line) - len(line.lstrip()) + 2)
        if len(_COLOUR.sub("", line)) > width:
            lines += textwrap.wrap(line, width, subsequent_indent=following, break_on_hyphens=False)
        else:
            lines.append(line)
    return lines


def fitting(text: str, stream: TextIO | None) -> str:
    """Text as it is written there: only a terminal gets lines folded, for other programs read whole ones."""
    return "\n".join(fitted(text, width_of(stream))) if is_terminal(stream) else text.rstrip("\n")


def is_coloured() -> bool:
    """Colour is for terminals, unless the user says otherwise.

    The usual variables are NO_COLOR and FORCE_COLOR, each where it is not empty, CLICOLOR=0 and CLICOLOR_FORCE. Who
    wants none has the last word.
    """
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR") or os.environ.get("CLICOLOR_FORCE", "0") not in ("", "0"):
        return True
    return is_terminal(standard_output()) and os.environ.get("CLICOLOR") != "0" and os.environ.get("TERM") != "dumb"
