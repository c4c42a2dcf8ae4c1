"""A command line understood; nothing heavy is imported for it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Container, Iterable, Mapping, Sequence
from importlib.metadata import entry_points, version
from typing import TYPE_CHECKING, Any

from checker.cli.fleet_commands import FLEET_COMMANDS
from checker.cli.pack_commands import PACK_COMMANDS
from checker.cli.parser import Parser, mistake, nearest_of, one_of
from checker.cli.record_commands import RECORD_COMMANDS
from checker.cli.terminal import kept_for_results

if TYPE_CHECKING:
    from checker.plugin_hooks import Command

PROGRAM = "checker"
_COMMANDS = {**RECORD_COMMANDS, **FLEET_COMMANDS, **PACK_COMMANDS}
_START = """\
checker judges bench measurements against rule packs.
  checker demo               judges the example
  checker new-record FILE    writes a record to fill in
  checker check FILE         judges it
  checker --help             lists every command"""


def parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Understand a command line; answers --help, --version and mistakes itself.

    Nothing at all is answered with how to start, and with the status of a usage error: a script that lost its command
    must not read it as a build that passes.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    if not given:
        mistake(_START)
    name = "" if given[0].startswith("-") else given[0]
    # A command that is named first needs no parsers for all the others, and no plugins.
    own = {name: _COMMANDS[name]} if name in _COMMANDS else _COMMANDS
    added = () if own is not _COMMANDS or "--version" in given else _of_plugins()
    parser, parsers = _parsers(own, added, {name})
    if name and name not in parsers:
        near = nearest_of(name, parsers, f"{PROGRAM} --help")
        mistake(f"`{PROGRAM} {name}`: no such command; {near}")
    reading = parsers.get(name, parser)
    if unknown := reading.unknown_options(given[1:] if name else given[:1]):
        mistake(*unknown)
    options, left = parser.parse_known_args(given)
    if left:
        mistake(*(f"`{reading.prog} {text}`: {_not_understood(text)}; see {reading.prog} --help" for text in left))
    if getattr(options, "output", None) == "-":
        options.output = None
    return options


def whole_parser() -> Parser:
    """The parser of every command, those of plugins too."""
    added = dict(_of_plugins())
    return _parsers(_COMMANDS, added.items(), added)[0]


def _not_understood(text: str) -> str:
    return "no such option" if text.startswith("-") else "one argument too many"


def _parsers(
    own: Mapping[str, Any], added: Iterable[tuple[str, Command]], asked: Container[str]
) -> tuple[Parser, dict[str, Parser]]:
    """The parser of the whole line, and those of the commands by name.

    A command of a plugin that is not `asked` for need not say what it takes: that may be heavy.
    """
    parser = Parser(
        prog=PROGRAM,
        description="Judge a record of bench measurements against rule packs.",
        epilog=f"{PROGRAM} COMMAND --help shows its options, examples and exit statuses.",
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="show the version and the plugins, and stop")
    parser.add_argument(
        "--completion",
        action=_Completion,
        **one_of("bash", "zsh", "fish"),
        help="write the script by which it completes commands, options and names, and stop",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    parsers: dict[str, Parser] = {}
    for name, command in own.items():
        parsers[name] = _command_parser(commands, name, command.summary, command.ending)
        command.arguments(parsers[name])
        parsers[name].set_defaults(failed=command.failed)
    for name, extra in added:
        parsers[name] = _command_parser(commands, name, extra.summary, None)
        if name in asked:
            extra.arguments(parsers[name])
        parsers[name].set_defaults(run=extra.run)
    for name, of_command in parsers.items():
        if name != "plugins":
            of_command.add_argument(
                "--without",
                action="append",
                default=[],
                metavar="PLUGIN",
                help="leave this plugin out; may be repeated",
            )
    return parser, parsers


def _command_parser(commands: Any, name: str, summary: str, ending: str | None) -> Parser:
    sentence = f"{summary[0].upper()}{summary[1:]}."
    command: Parser = commands.add_parser(name, help=summary, description=sentence, epilog=ending)
    return command


def _of_plugins() -> Iterable[tuple[str, Command]]:
    """The commands that plugins add, as far as those can be used."""
    own = "assembly-checker"
    if all(point.dist is not None and point.dist.name == own for point in entry_points(group="checker")):
        return ()
    from checker.plugins import installed, survey  # commands of the checker's own do not wait for it

    others = [point for point in installed() if point.dist is None or point.dist.name != own]
    with kept_for_results():
        return survey(others, hooks=("commands",)).commands.items()


class _Version(argparse.Action):
    """The version line names the plugins too."""

    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        plugins = sorted({point.dist.name for point in entry_points(group="checker") if point.dist})
        print(f"assembly-checker {version('assembly-checker')} ({', '.join(plugins)})")
        parser.exit()


class _Completion(argparse.Action):
    """The script by which a command line is completed as it is typed."""

    def __call__(self, parser: argparse.ArgumentParser, _: Any, interpreter: Any, *__: Any) -> None:
        from checker.cli.completion import completion_for  # its library is an extra

        print(completion_for(interpreter, whole_parser()))
        parser.exit()
