"""Functions of plugins that fail while something is evaluated: they are noted, and all else goes on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_noted: ContextVar[dict[str, str] | None] = ContextVar("noted", default=None)


@contextmanager
def noting() -> Iterator[dict[str, str]]:
    """What fails within: in words, by the name of the function; each thread has notes of its own."""
    faults: dict[str, str] = {}
    token = _noted.set(faults)
    try:
        yield faults
    finally:
        _noted.reset(token)


def note(function: str, words: str) -> None:
    """Note a failure; the first of each function is kept."""
    faults = _noted.get()
    if faults is not None:
        faults.setdefault(function, words)
