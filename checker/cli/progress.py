"""A line on standard error that says how far long work has come; only a terminal sees it, and it does not stay."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TypeVar

_T = TypeVar("_T")
PATIENCE = 0.5
"""Seconds of work that need no word."""
_ERASE = "\r\x1b[K"


@contextmanager
def progress(doing: str, patience: float = PATIENCE) -> Iterator[Callable[[str], None]]:
    """What it gives is told how far the work has come: "testing: 12 of 40 rules"."""
    stream = sys.stderr
    if stream is None or not stream.isatty():
        yield lambda told: None
        return
    start = time.monotonic()
    shown: list[str] = []

    def step(told: str) -> None:
        if time.monotonic() - start >= patience:
            shown.append(told)
            stream.write(f"{_ERASE}{doing}{f': {told}' if told else ''}")
            stream.flush()

    try:
        yield step
    finally:
        if shown:
            stream.write(_ERASE)
            stream.flush()


def counted(items: Iterable[_T], doing: str) -> Iterator[_T]:
    """The same items; while they are made one after another, it is told how many there are by now."""
    with progress(doing) as step:
        for number, item in enumerate(items, 1):
            step(f"{number} done")
            yield item
