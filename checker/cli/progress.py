"""A line on standard error that says how far long work has come; only a terminal sees it, and it does not stay."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TypeVar

from checker.cli.terminal import is_terminal

_T = TypeVar("_T")
PATIENCE = 0.5
"""Seconds of work that need no word."""
_ERASE = "\r\x1b[K"


@contextmanager
def progress(doing: str, patience: float | None = None) -> Iterator[Callable[[str], None]]:
    """What it gives is told how far the work has come: "testing: 12 of 40 rules"; until then it says what is done."""
    stream = sys.stderr
    if not is_terminal(stream) or os.environ.get("TERM") == "dumb":
        yield lambda state: None
        return
    patience = PATIENCE if patience is None else patience
    start = time.monotonic()
    shown: list[str] = []

    def show(state: str) -> None:
        shown.append(state)
        stream.write(f"{_ERASE}{doing}{f': {state}' if state else ''}")
        stream.flush()

    def step(state: str) -> None:
        if time.monotonic() - start >= patience:
            first.cancel()
            show(state)

    first = threading.Timer(patience, show, ("",))
    first.daemon = True
    first.start()
    if not patience:
        first.join()
    try:
        yield step
    finally:
        first.cancel()
        first.join()
        if shown:
            stream.write(_ERASE)
            stream.flush()


def counted(items: Iterable[_T], doing: str) -> Iterator[_T]:
    """The same items; while they are made one after another, it is told how many there are by now."""
    with progress(doing) as step:
        for number, item in enumerate(items, 1):
            step(f"{number} done")
            yield item
