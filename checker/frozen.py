"""Plain data that nobody can write into: what rulebooks and reports hand out is shared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NoReturn, TypeVar

_Key = TypeVar("_Key")
_Value = TypeVar("_Value")


def _refuse(self: Any, *_: object, **__: object) -> NoReturn:
    """Stands for all that would change a mapping or list."""
    kind = "dict" if isinstance(self, dict) else "list"
    raise TypeError(f"this is shared and read-only; make your own with {kind}(...) first")


class FrozenMapping(dict[_Key, _Value]):
    """A mapping that stays as it is; as fast to read as a dict."""

    __slots__ = ()
    __setitem__ = __delitem__ = __ior__ = clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[Any, ...]:
        return FrozenMapping, (dict(self),)


class FrozenList(list[_Value]):
    """A list that stays as it is."""

    __slots__ = ()
    __setitem__ = __delitem__ = __iadd__ = __imul__ = _refuse
    append = clear = extend = insert = pop = remove = reverse = sort = _refuse

    def __reduce__(self) -> tuple[Any, ...]:
        return FrozenList, (list(self),)


_HOLDING = (dict, list)


def frozen(data: Any) -> Any:
    """Plain data with all the mappings and lists in it made read-only."""
    if type(data) is dict:
        return FrozenMapping({key: frozen(it) if type(it) in _HOLDING else it for key, it in data.items()})
    if type(data) is list:
        return FrozenList([frozen(it) if type(it) in _HOLDING else it for it in data])
    return data


@dataclass(frozen=True, slots=True)
class Applied:
    """A function with its first arguments given."""

    function: Callable[..., Any]
    first: tuple[Any, ...]

    def __call__(self, *more: Any) -> Any:
        return self.function(*self.first, *more)
