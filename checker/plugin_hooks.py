"""What a plugin may add, and how its module says so; nothing heavy is imported for it.

A plugin is a distribution with an entry point in the group "checker". Its module implements hooks, functions without
arguments that return a mapping of name to thing:

    from checker import hook

    @hook
    def rule_packs():
        return {"gear-train": Path(__file__).parent / "gear_train"}

plugins/README.md has an example of each.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol, TypeAlias, TypeVar

import pluggy

if TYPE_CHECKING:
    from checker.expressions.functions import Function
    from checker.notation.vocabulary import WrittenForm
    from checker.records.record import RecordReader
    from checker.reports.report import Report

GROUP = "checker"

_implementation = pluggy.HookimplMarker(GROUP)
_specification = pluggy.HookspecMarker(GROUP)
NOTED = "__checker_hooks__"
"""The name under which a module keeps its hooks."""
_Hook = TypeVar("_Hook", bound=Callable[..., Any])


def hook(function: _Hook) -> _Hook:
    """Mark a function of a plugin's module as the hook of that name.

    It is noted beside the module's names: a module functions.py, once imported, takes the name of a hook functions.
    """
    function.__globals__.setdefault(NOTED, {})[function.__name__] = function
    marked: _Hook = _implementation(function)
    return marked


OWN_COMMANDS = (
    *("check", "next", "uses", "sheet", "measure", "hand-over", "limits", "room", "packs", "plugins", "compare-builds"),
    *("compare-packs", "new-record", "new-pack", "new-plugin", "schema", "test-pack", "demo"),
    *("batch", "capability"),
)
"""The commands that come with the checker: their names are taken."""


class Command(NamedTuple):
    """A command of a plugin: `checker NAME`.

    `summary` says in a few words what it does, `arguments` adds its arguments to a parser, and `run` does the work and
    returns the exit status. It raises CheckerError for what is wrong with its input; the status is then 2.
    """

    summary: str
    arguments: Callable[[ArgumentParser], None]
    run: Callable[[Namespace], int]


ReportWriter: TypeAlias = "Callable[[Report], str]"


class Hooks(Protocol):
    """What a plugin may add, each a mapping of name to thing."""

    @_specification
    def rule_packs(self) -> Mapping[str, Path]:
        """Folders of rule packs, by the name of the pack."""

    @_specification
    def functions(self) -> Mapping[str, Function]:
        """Functions for expressions, by the name they are called with."""

    @_specification
    def record_readers(self) -> Mapping[str, RecordReader]:
        """Readers of record files, by the suffix of the file's name, such as ".yaml"."""

    @_specification
    def report_writers(self) -> Mapping[str, ReportWriter]:
        """Forms of the report, by the name they are asked for with."""

    @_specification
    def written_forms(self) -> Mapping[str, WrittenForm]:
        """Forms that a trade writes quantities in, by the name that packs ask for them with."""

    @_specification
    def commands(self) -> Mapping[str, Command]:
        """Commands of the checker, by the name they are given with."""


def manager() -> pluggy.PluginManager:
    """One that knows these hooks, for one plugin."""
    knowing = pluggy.PluginManager(GROUP)
    knowing.add_hookspecs(Hooks)
    return knowing
