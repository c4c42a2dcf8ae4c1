"""Plugins: how they are found, and what they add together.

The packs shipped with the checker come through the same hooks as any other. Nothing is global: gathering builds a
fresh set. Nothing heavy is imported before a plugin's hook asks for it: help is to answer at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from importlib.metadata import EntryPoint, entry_points
from keyword import iskeyword
from pathlib import Path
from types import FunctionType, SimpleNamespace
from typing import TYPE_CHECKING, Any, NamedTuple

from checker.errors import PluginError, Problem, UsageError, nearest
from checker.failure import told
from checker.frozen import Applied, FrozenMapping
from checker.packs.versions import range_required, satisfies
from checker.plugin import SHIPPED, Plugin, own_version
from checker.plugin_hooks import GROUP, NOTED, OWN_COMMANDS, Command, ReportWriter, manager
from checker.plugin_parts import UNFIT, fault_of, watched

if TYPE_CHECKING:
    from checker.expressions.functions import Function
    from checker.notation.vocabulary import WrittenForm
    from checker.records.record import RecordReader


class Plugins(NamedTuple):
    """What the plugins add; every name belongs to one of them."""

    each: tuple[Plugin, ...]
    rule_packs: Mapping[str, Path]
    functions: Mapping[str, Function]
    report_writers: Mapping[str, ReportWriter]
    record_readers: Mapping[str, RecordReader] = FrozenMapping({})
    written_forms: Mapping[str, WrittenForm] = FrozenMapping({})
    commands: Mapping[str, Command] = FrozenMapping({})

    def __reduce__(self) -> tuple[Any, ...]:
        return (_plugins_again, (tuple(map(str, self.each)),)) if self.each else (Plugins, tuple(self))


def installed() -> list[EntryPoint]:
    """The entry points of all plugins that are installed, except those of the folder one stands in."""
    try:
        here = Path.cwd().resolve()
    except FileNotFoundError:  # the folder one stands in may be gone
        return list(entry_points(group=GROUP))
    return [point for point in entry_points(group=GROUP) if not _lies_in(point, here)]


def gather(points: Iterable[EntryPoint] | None = None, without: Collection[str] = ()) -> Plugins:
    """Load plugins, by default all that are installed, but for those left out by name.

    Raises PluginError naming each plugin that fails to load, implements an unknown hook or claims a taken name, and
    UsageError for a name that no plugin has.
    """
    entry_points = list(installed() if points is None else points)
    known = [point.name for point in entry_points if without and not _plugin(point).is_shipped]
    strange = [
        Problem(
            f"no plugin {name!r} to leave out", hint=nearest(name, known) or f"installed: {', '.join(known) or 'none'}"
        )
        for name in without
        if name not in known
    ]
    if strange:
        raise UsageError(strange)
    plugins = survey(point for point in entry_points if point.name not in without)
    problems = [problem for plugin in plugins.each for problem in plugin.problems]
    if problems:
        raise PluginError(problems)
    return plugins


def _plugins_again(named: tuple[str, ...]) -> Plugins:
    """The same plugins in another program; raises PluginError for one that is not installed there."""
    points = {str(_plugin(point)): point for point in installed()}
    missing = [Problem(f"plugin {name} was used, and is not installed here") for name in named if name not in points]
    if missing:
        raise PluginError(missing)
    return gather(points[name] for name in named)


def _thing_again(hook_name: str, plugin: str, name: str) -> Any:
    return getattr(_plugins_again((plugin,)), hook_name)[name]


def survey(points: Iterable[EntryPoint] | None = None, hooks: Collection[str] = tuple(UNFIT)) -> Plugins:
    """Load plugins as far as they can be; what is wrong stands with each, and what is wrong is left out.

    Of other hooks than those named nothing is asked.
    """
    gathered = Plugins((), {}, {}, {}, {}, {}, {})
    given = [(_plugin(point), point) for point in (installed() if points is None else points)]
    # What comes with the checker claims its names first: whoever claims one again is wrong.
    for plugin, point in sorted(given, key=lambda pair: (not pair[0].is_shipped, pair[0].name)):
        gathered = _with(gathered, plugin, point, hooks)
    in_order: dict[str, Any] = {hook: FrozenMapping(sorted(getattr(gathered, hook).items())) for hook in UNFIT}
    return gathered._replace(**in_order)


def _plugin(point: EntryPoint) -> Plugin:
    if point.dist is None:
        return Plugin(point.name)
    stated = point.dist.metadata  # parsed anew each time it is asked for
    plugin = Plugin(point.name, str(stated["Version"]), str(stated["Name"]))
    if plugin.is_shipped:
        return plugin
    return plugin._replace(made_for=range_required(stated.get_all("Requires-Dist") or (), SHIPPED))


def _with(plugins: Plugins, plugin: Plugin, point: EntryPoint, hooks: Collection[str]) -> Plugins:
    """The plugins with one more, as far as it can be used."""
    problems: list[Problem] = []
    if any(plugin.name == other.name for other in plugins.each):
        problems.append(fault_of(plugin, "two plugins have this name"))
    if plugin.made_for and not satisfies(own_version(), plugin.made_for):
        words = f"it is made for {SHIPPED} {plugin.made_for}, and this is {own_version()}"
        problems.append(fault_of(plugin, words))
    module = None if problems else _loaded(plugin, point, problems)
    changes: dict[str, Any] = {}
    for hook_name, call in _hooks(plugin, module, problems) if module is not None else ():
        if hook_name not in hooks:
            continue
        things = dict(_added(plugin, hook_name, call, plugins, problems))
        changes[hook_name] = {**getattr(plugins, hook_name), **things}
        plugin = plugin._replace(adds=FrozenMapping({**plugin.adds, hook_name: tuple(sorted(things))}))
    return plugins._replace(each=(*plugins.each, plugin._replace(problems=tuple(problems))), **changes)


def _loaded(plugin: Plugin, point: EntryPoint, problems: list[Problem]) -> Any:
    try:
        return point.load()
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        # Even an exit at import must not end the checker, least of all with a status of success.
        problems.append(fault_of(plugin, f"it cannot be loaded: {told(error)}"))
        return None


def _hooks(plugin: Plugin, module: Any, problems: list[Problem]) -> Iterator[tuple[str, Callable[[], Any]]]:
    """The hooks a plugin implements; each plugin is looked at alone, so that a failure names it."""
    asking = manager()
    stated = getattr(module, "__dict__", {})
    own = SimpleNamespace(**{**stated, **stated.get(NOTED, {})})
    try:
        asking.register(own, str(plugin))
    except Exception as error:  # a hook with arguments, or of another kind, than there is here
        problems.append(fault_of(plugin, f"its interface is not that of this checker: {error}"))
        return
    same = {name: stated[name] for name in UNFIT if isinstance(stated.get(name), FunctionType)}
    unmarked = [name for name, function in same.items() if not hasattr(function, f"{GROUP}_impl")]
    if unmarked:
        problems.append(fault_of(plugin, f"{' and '.join(unmarked)} stands there without @hook above it"))
    for caller in asking.get_hookcallers(own) or ():
        if not caller.has_spec():
            hint = nearest(caller.name, UNFIT) or f"known: {', '.join(UNFIT)}"
            words = f"this checker has no hook {caller.name!r}; it may be made for a newer one, or {hint}"
            problems.append(fault_of(plugin, words))
        else:
            yield caller.name, caller.get_hookimpls()[0].function


def _added(
    plugin: Plugin, hook_name: str, call: Callable[[], Any], others: Plugins, problems: list[Problem]
) -> Iterator[tuple[str, Any]]:
    """What a plugin adds through one hook, as far as it is fit for use and its names are free."""
    for name, thing in _called(plugin, hook_name, call, problems).items():
        if not isinstance(name, str):
            problems.append(fault_of(plugin, f"{name!r} ({hook_name}) is no name but {type(name).__name__}"))
        elif taken := _taken_by(name, hook_name, others):
            problems.append(fault_of(plugin, f"the name {name!r} ({hook_name}) is taken: {taken}"))
        elif unfit := UNFIT[hook_name](name, thing):
            problems.append(fault_of(plugin, f"{name!r} ({hook_name}) {unfit}"))
        else:
            yield name, watched(plugin, hook_name, name, thing, Applied(_thing_again, (hook_name,)))


def _called(plugin: Plugin, hook_name: str, call: Callable[[], Any], problems: list[Problem]) -> Mapping[Any, Any]:
    try:
        result = call()
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        problems.append(fault_of(plugin, f"{hook_name} fails: {told(error)}"))
        return {}
    if not isinstance(result, Mapping):
        problems.append(fault_of(plugin, f"{hook_name} must return a mapping of name to thing"))
        return {}
    return result


def _taken_by(name: str, hook_name: str, others: Plugins) -> str:
    """Who has a name already, in words; empty where nobody has."""
    if hook_name == "commands" and name in OWN_COMMANDS:
        return "it comes with the checker"
    if hook_name == "functions":
        from checker.expressions.functions import FUNCTIONS
        from checker.expressions.names import WORDS_OF_THE_LANGUAGE
        from checker.packs.scope import OWN_OF_REMEDIES

        if name in FUNCTIONS:
            return "it is a function of every expression"
        if iskeyword(name) or name in OWN_OF_REMEDIES or name in WORDS_OF_THE_LANGUAGE:
            return "it is a word of the expression language"
    for other in others.each:
        if name in other.adds.get(hook_name, ()):
            return "it comes with the checker" if other.is_shipped else f"plugin {other} adds it"
    return ""


def _lies_in(point: EntryPoint, folder: Path) -> bool:
    """A folder of downloaded packs must not become a plugin because one stands in it."""
    if point.dist is None:
        return False
    metadata = Path(str(point.dist.locate_file(""))).resolve()
    return metadata == folder and not (folder / "pyproject.toml").is_file()
