"""Items with the same key together."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar

_Key = TypeVar("_Key", bound=Hashable)
_Item = TypeVar("_Item")


def grouped(items: Iterable[_Item], key: Callable[[_Item], _Key]) -> dict[_Key, list[_Item]]:
    """The items of each key in their order, keys in the order of their first item."""
    groups: dict[_Key, list[_Item]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return groups
