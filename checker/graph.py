"""What lies above: the stations that stations belong to, the uses that uses are like."""

from __future__ import annotations

from collections.abc import Mapping


def lineage(name: str | None, above: Mapping[str, str | None]) -> tuple[str, ...]:
    """A name, what is above it, what is above that and so on; it ends where it would come round. Nothing for none."""
    names: list[str] = []
    while name is not None and name not in names:
        names.append(name)
        name = above.get(name)
    return tuple(names)


def comes_round(name: str, above: Mapping[str, str | None]) -> bool:
    """Whether what is above a name never ends."""
    return above.get(lineage(name, above)[-1]) is not None
