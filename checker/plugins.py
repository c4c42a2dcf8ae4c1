"""Plugins: what they may add, and how they are found.

A plugin is a distribution with an entry point in the group "checker". Its module implements hooks, functions without
arguments that return a mapping of name to thing:

    from checker.plugins import hook

    @hook
    def rule_packs():
        return {"two-stroke": Path(__file__).parent / "two_stroke"}

The packs shipped with the checker come through the same hooks. Nothing is global: gathering builds a fresh set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple, Protocol

import pluggy

from checker.errors import PluginError, Problem
from checker.expressions.functions import Function
from checker.records.record import RecordReader
from checker.reports.report import Report

GROUP = "checker"

ReportWriter = Callable[[Report], str]

hook = pluggy.HookimplMarker(GROUP)
_specification = pluggy.HookspecMarker(GROUP)


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


class Plugins(NamedTuple):
    """What the plugins add; every name belongs to one of them."""

    names: tuple[str, ...]
    rule_packs: Mapping[str, Path]
    functions: Mapping[str, Function]
    report_writers: Mapping[str, ReportWriter]
    record_readers: Mapping[str, RecordReader] = MappingProxyType({})


def installed() -> list[EntryPoint]:
    """The entry points of all plugins that are installed, except those of the folder one stands in."""
    try:
        here = Path.cwd().resolve()
    except FileNotFoundError:  # the folder one stands in may be gone
        return list(entry_points(group=GROUP))
    return [point for point in entry_points(group=GROUP) if not _lies_in(point, here)]


def gather(points: Iterable[EntryPoint] | None = None) -> Plugins:
    """Load plugins, by default all that are installed.

    Raises PluginError naming each plugin that fails to load, implements an unknown hook or claims a taken name.
    """
    manager = pluggy.PluginManager(GROUP)
    manager.add_hookspecs(Hooks)
    problems: list[Problem] = []
    names = []
    for point in sorted(installed() if points is None else points, key=lambda point: point.name):
        title = _title(point)
        if title in names:
            problems.append(Problem(f"two plugins are named {point.name!r}"))
            continue
        names.append(title)
        _load(manager, point, title, problems)
    packs = _collect(manager, "rule_packs", Path, problems)
    functions = _collect(manager, "functions", Function, problems)
    readers = _collect(manager, "record_readers", Callable, problems)  # type: ignore[arg-type]
    writers = _collect(manager, "report_writers", Callable, problems)  # type: ignore[arg-type]
    if problems:
        raise PluginError(problems)
    return Plugins(tuple(names), packs, functions, writers, readers)


def _load(manager: pluggy.PluginManager, point: EntryPoint, title: str, problems: list[Problem]) -> None:
    try:
        manager.register(point.load(), title)
        manager.check_pending()
    except BaseException as error:
        if isinstance(error, KeyboardInterrupt):
            raise
        # Even an exit at import must not end the checker, least of all with a status of success.
        problems.append(Problem(f"plugin {title!r} cannot be loaded: {type(error).__name__}: {error}"))
        if manager.has_plugin(title):
            manager.unregister(name=title)


def _collect(manager: pluggy.PluginManager, name: str, kind: type, problems: list[Problem]) -> dict[str, Any]:
    """The things of one hook by name; each plugin is called alone, so that a failure names it."""
    found: dict[str, Any] = {}
    owners: dict[str, str] = {}
    for implementation in getattr(manager.hook, name).get_hookimpls():
        owner = str(implementation.plugin_name)
        for key, thing in _called(implementation.function, owner, name, problems).items():
            if key in owners:
                problems.append(Problem(f"plugins {owners[key]!r} and {owner!r} both add {key!r} ({name})"))
            elif not isinstance(thing, kind):
                problems.append(Problem(f"plugin {owner!r}: {key!r} is no {kind.__name__} ({name})"))
            else:
                owners[key], found[key] = owner, thing
    return dict(sorted(found.items()))


def _called(call: Callable[[], Any], owner: str, name: str, problems: list[Problem]) -> Mapping[str, Any]:
    try:
        result = call()
    except Exception as error:
        problems.append(Problem(f"plugin {owner!r} fails in {name}: {type(error).__name__}: {error}"))
        return {}
    if not isinstance(result, Mapping):
        problems.append(Problem(f"plugin {owner!r}: {name} must return a mapping of name to thing"))
        return {}
    return result


def _title(point: EntryPoint) -> str:
    if point.dist is None:
        return point.name
    stated = point.dist.metadata  # parsed anew each time it is asked for
    return f"{point.name} ({stated['Name']} {stated['Version']})"


def _lies_in(point: EntryPoint, folder: Path) -> bool:
    """A folder of downloaded packs must not become a plugin because one stands in it."""
    if point.dist is None:
        return False
    metadata = Path(str(point.dist.locate_file(""))).resolve()
    return metadata == folder and not (folder / "pyproject.toml").is_file()
