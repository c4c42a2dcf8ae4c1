"""One plugin: its name and version, what it adds, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from importlib.metadata import version
from typing import NamedTuple

from checker.errors import Problem
from checker.frozen import FrozenMapping

SHIPPED = "assembly-checker"
"""The distribution whose packs and forms come with the checker."""


@cache
def own_version() -> str:
    """The version of the checker itself."""
    return version(SHIPPED)


_TITLES = {
    "rule_packs": ("rule pack", "rule packs"),
    "functions": ("function", "functions"),
    "record_readers": ("reader of", "readers of"),
    "report_writers": ("report form", "report forms"),
    "written_forms": ("written form", "written forms"),
    "commands": ("command", "commands"),
}


class Plugin(NamedTuple):
    """One plugin; `adds` gives the names of what it adds, or of what of it was used, by hook.

    `made_for` are the versions of the checker that its distribution says it needs; empty where it says none.
    """

    name: str
    version: str = ""
    distribution: str = ""
    adds: Mapping[str, tuple[str, ...]] = FrozenMapping({})
    problems: tuple[Problem, ...] = ()
    made_for: str = ""

    @property
    def is_shipped(self) -> bool:
        """Whether it comes with the checker."""
        return self.distribution == SHIPPED

    def with_only(self, used: Mapping[str, Iterable[str]]) -> Plugin:
        """The same plugin, with no more than what was used of it."""
        names_of_hooks = {
            hook: tuple(name for name in names if name in used.get(hook, ())) for hook, names in self.adds.items()
        }
        return self._replace(adds=FrozenMapping({hook: names for hook, names in names_of_hooks.items() if names}))

    @property
    def each_added(self) -> tuple[str, ...]:
        """What it adds, each kind in words, such as "functions taper, twist"."""
        return tuple(
            f"{titles[len(names) > 1]} {', '.join(names)}"
            for hook, titles in _TITLES.items()
            if (names := self.adds.get(hook, ()))
        )

    @property
    def added(self) -> str:
        """The same together."""
        return "; ".join(self.each_added)

    def __str__(self) -> str:
        return f"{self.name} {self.version}".rstrip()


def used_of(plugins: Iterable[Plugin], used: Mapping[str, Iterable[str]]) -> tuple[Plugin, ...]:
    """The plugins of which something was used, those that come with the checker left out."""
    reduced = (plugin.with_only(used) for plugin in plugins if not plugin.is_shipped)
    return tuple(plugin for plugin in reduced if plugin.adds)
