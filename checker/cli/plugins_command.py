"""`checker plugins`: list the plugins that are installed, what each adds, and what is wrong with it."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from checker.cli.look import say
from checker.cli.output import write_json
from checker.plugin import SHIPPED, Plugin
from checker.plugins import survey

FAILED = 1


def run(options: Namespace) -> int:
    """List every installed plugin; the status is 1 when something is wrong with one."""
    plugins = survey().each
    if options.format == "json":
        write_json([_row(plugin) for plugin in plugins])
    else:
        say("\n\n".join("\n".join(_lines(plugin)) for plugin in plugins) + "\n")
    return FAILED if any(plugin.problems for plugin in plugins) else 0


def _row(plugin: Plugin) -> dict[str, object]:
    return {
        "plugin": plugin.name,
        "version": plugin.version,
        "distribution": plugin.distribution,
        "made_for": plugin.made_for,
        "adds": {hook: list(names) for hook, names in plugin.adds.items()},
        "problems": [problem.message for problem in plugin.problems],
    }


def _lines(plugin: Plugin) -> Iterator[str]:
    shipped = ", comes with the checker" if plugin.is_shipped else ""
    yield f"{plugin}{f' ({plugin.distribution}{shipped})' if plugin.distribution else ''}"
    if plugin.made_for:
        yield f"  made for {SHIPPED} {plugin.made_for}"
    nothing = "nothing" if plugin.problems else "nothing: no function of its module marked @hook returns any"
    for addition in plugin.each_added or (nothing,):
        yield f"  adds {addition}"
    for problem in plugin.problems:
        yield f"  wrong: {problem}"
