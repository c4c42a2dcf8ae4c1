"""A mapping that makes each of its values when it is first asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TypeVar

_Key = TypeVar("_Key")
_Value = TypeVar("_Value")


class OnDemand(Mapping[_Key, _Value]):
    """What `make` gives for a key, which raises KeyError where there is nothing; `keys` tells all there are."""

    def __init__(self, keys: Callable[[], Iterable[_Key]], make: Callable[[_Key], _Value]) -> None:
        self._keys = keys
        self._make = make
        self._known: dict[_Key, _Value] = {}

    def __getitem__(self, key: _Key) -> _Value:
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._make(key)
        return found

    def __iter__(self) -> Iterator[_Key]:
        return iter(self._keys())

    def __len__(self) -> int:
        return sum(1 for _ in self)
