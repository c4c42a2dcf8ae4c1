"""The arguments of every command; nothing heavy is imported for them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from importlib.metadata import entry_points, version
from typing import Any

Parser = argparse.ArgumentParser


def parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Understand a command line; answers --help, --version and mistakes itself."""
    parser = Parser(prog="checker", description="Judge a record of bench measurements against rule packs.")
    parser.add_argument("--version", action=_Version, nargs=0, help="show the version and the plugins, and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    given = _by_new_name(list(sys.argv[1:] if arguments is None else arguments))
    # A command that is named first needs no parsers for all the others, and no plugins.
    own = [name for name in given[:1] if name in _COMMANDS]
    for name in own or _COMMANDS:
        summary, add = _COMMANDS[name]
        _add(commands, name, summary, add)
    for name, command in () if own or "--version" in given else _of_plugins():
        _add(commands, name, command.summary, command.arguments).set_defaults(run=command.run)
    return parser.parse_args(given)


def _add(commands: Any, name: str, summary: str, add: Callable[[Parser], None]) -> Parser:
    command: Parser = commands.add_parser(name, help=summary, description=f"{summary[0].upper()}{summary[1:]}.")
    add(command)
    if name != "plugins":
        command.add_argument(
            "--without",
            action="append",
            default=[],
            metavar="PLUGIN",
            help="leave this plugin out; may be repeated",
        )
    return command


def _of_plugins() -> Iterable[tuple[str, Any]]:
    """The commands that plugins add, as far as those can be used."""
    if all(point.dist is not None and point.dist.name == "assembly-checker" for point in entry_points(group="checker")):
        return ()
    from checker.plugins import survey  # commands of the checker's own do not wait for it

    return survey().commands.items()


def _by_new_name(given: list[str]) -> list[str]:
    """A command that was renamed still answers to its old name, and says what it is called now."""
    new = _RENAMED.get(given[0]) if given else None
    if new is None:
        return given
    print(
        f"`checker {given[0]}` is called `checker {new}` now; the old name goes with the next version", file=sys.stderr
    )
    return [new, *given[1:]]


class _Version(argparse.Action):
    """The version line names the plugins too."""

    def __call__(self, parser: Parser, *_: Any) -> None:
        plugins = sorted({point.dist.name for point in entry_points(group="checker") if point.dist})
        print(f"assembly-checker {version('assembly-checker')} ({', '.join(plugins)})")
        parser.exit()


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date such as 2026-05-02") from None


def _record(parser: Parser) -> None:
    parser.add_argument("record", metavar="RECORD", help="file with what was measured (YAML, JSON, CSV or XLSX)")
    parser.add_argument(
        "--pack", action="append", default=[], metavar="PACK", help="one more rule pack, by name or folder"
    )


def _inspection(parser: Parser) -> None:
    parser.add_argument("--inspection", metavar="LEVEL", help="how much is asked for, instead of what the use asks")


def _judging(parser: Parser) -> None:
    _record(parser)
    parser.add_argument("--application", metavar="USE", help="judge for this use instead of the record's own")
    parser.add_argument("--before", metavar="MILESTONE", help="judge only what must hold before this milestone")
    _inspection(parser)
    parser.add_argument(
        "--decision",
        choices=("simple", "where-known", "guarded", "probability"),
        help="how readings near a limit are decided",
    )
    parser.add_argument("--probability", type=float, metavar="P", help="least probability of conformity, 0.95 is usual")
    parser.add_argument("--on", type=_day, metavar="DATE", help="judge as on this day, not today")


def _output(parser: Parser) -> None:
    parser.add_argument("--all", action="store_true", help="everything: each open check, every basis, other sources")
    parser.add_argument("--system", default="", metavar="SYSTEM", help='one system opened, as in "--system gears"')
    parser.add_argument(
        "--format",
        default="text",
        metavar="FORM",
        help="text (usual), html, json, csv, markdown, junit, or a form added by a plugin",
    )
    parser.add_argument(
        "--parts",
        default="",
        metavar="PART,...",
        help="of json: what to tell in full besides what is missed: within, open, idle, readings",
    )
    parser.add_argument("--output", metavar="FILE", help="write to a file instead of the terminal")


def _check(parser: Parser) -> None:
    _judging(parser)
    parser.add_argument(
        "--packs-from",
        metavar="REPORT",
        help="refuse unless the rule packs and plugins are those that made this JSON report",
    )
    _output(parser)


def _uses(parser: Parser) -> None:
    _record(parser)
    parser.add_argument("--from", dest="from_use", metavar="USE", help="the use to start from; else the record's own")
    parser.add_argument("--to", metavar="USE", help="what this use asks that the other does not, rule by rule")
    parser.add_argument(
        "--format", choices=("text", "html", "json", "markdown"), default="text", help="form of the comparison"
    )
    parser.add_argument("--output", metavar="FILE", help="write to a file instead of the terminal")


def _hand_over(parser: Parser) -> None:
    _judging(parser)
    parser.add_argument("--format", choices=("html", "pdf"), default="html", help="a page (usual), or paper")
    parser.add_argument("--output", metavar="FILE", help="write to a file instead of the terminal")


def _demo(parser: Parser) -> None:
    _output(parser)


def _limits(parser: Parser) -> None:
    parser.add_argument("words", metavar="WORD", nargs="+", help="words of the rule's title, name or characteristic")
    parser.add_argument("--for", dest="use", metavar="USE", help="limits for this use; for every use when absent")
    parser.add_argument(
        "--at",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="size or fact to compute limits with, as in shaft_diameter=50mm; a bare number has the usual unit",
    )
    parser.add_argument(
        "--pack",
        action="append",
        default=[],
        metavar="PACK",
        help="rule packs to look in; else the one with that use, or all installed ones",
    )
    parser.add_argument("--format", choices=("text", "json"), default="text", help="form of the result")


def _room(parser: Parser) -> None:
    _judging(parser)
    parser.add_argument(
        "value", metavar="NAME@STATION", nargs="+", help="what was measured, and where, as in shaft_diameter@2"
    )
    parser.add_argument("--musts", action="store_true", help="only what must be held, not what is advised")


def _measure(parser: Parser) -> None:
    parser.add_argument("record", metavar="RECORD", help="record to measure for, in YAML; every reading is saved in it")
    parser.add_argument(
        "--pack", action="append", default=[], metavar="PACK", help="one more rule pack, by name or folder"
    )
    parser.add_argument("--application", metavar="USE", help="judge for this use instead of the record's own")
    parser.add_argument("--before", metavar="MILESTONE", help="only what must be known before this milestone")
    _inspection(parser)
    parser.add_argument("--musts", action="store_true", help="only what required checks need, nothing for advice")


def _sheet(parser: Parser) -> None:
    parser.add_argument(
        "record", metavar="RECORD", nargs="?", help="record to lay the sheet out from; what it holds is printed"
    )
    parser.add_argument("--pack", action="append", default=[], metavar="PACK", help="rule pack, by name or folder")
    parser.add_argument("--application", metavar="USE", help="the use it is measured for")
    parser.add_argument("--before", metavar="MILESTONE", help="only what must be known before this milestone")
    _inspection(parser)
    parser.add_argument("--musts", action="store_true", help="only what required checks need, nothing for advice")
    parser.add_argument(
        "--layout",
        metavar="NAME",
        help="a layout of the rule packs that says how many there are, as in 'V8 with pushrods'",
    )
    parser.add_argument(
        "--stations", default="", metavar="NAME=COUNT,...", help="how many there are, as in shaft=2,gear=4"
    )
    parser.add_argument(
        "--rows",
        action="append",
        default=[],
        metavar="NAME=ROW/ROW",
        help="how they lie, from the front, as in gear=1-3-5-7/2-4-6-8",
    )
    parser.add_argument("--units", default="", metavar="KIND=UNIT,...", help="for bare numbers, as in length=mm")
    parser.add_argument("--format", choices=("html", "xlsx", "csv", "yaml"), default="html", help="form of the sheet")
    parser.add_argument("--output", metavar="FILE", help="write to a file instead of the terminal")


def _compare_builds(parser: Parser) -> None:
    parser.add_argument("record", metavar="BEFORE", help="record of the earlier build, or of one that holds both")
    parser.add_argument("later_record", metavar="AFTER", nargs="?", help="record of the later build")
    parser.add_argument(
        "--pack", action="append", default=[], metavar="PACK", help="one more rule pack, by name or folder"
    )
    parser.add_argument(
        "--characteristic", action="append", default=[], metavar="NAME", help="only this one, in full; may be repeated"
    )
    parser.add_argument("--on", type=_day, metavar="DATE", help="compare as on this day, not today")
    parser.add_argument("--format", choices=("text", "json"), default="text", help="form of the result")
    parser.add_argument("--output", metavar="FILE", help="write to a file instead of the terminal")


def _compare_packs(parser: Parser) -> None:
    parser.add_argument("old", metavar="OLD", help="rule pack, by name or folder")
    parser.add_argument("new", metavar="NEW", help="the pack to compare it with")
    parser.add_argument("record", metavar="RECORD", nargs="*", help="records to judge by both")
    parser.add_argument(
        "--application",
        metavar="USE",
        help="judge the records for this use; else for their own, and for each use that only the new pack has",
    )
    parser.add_argument("--format", choices=("text", "json"), default="text", help="form of the result")


def _new_pack(parser: Parser) -> None:
    parser.add_argument("folder", metavar="DIR", help="folder to make; its name becomes the pack's")
    base = parser.add_mutually_exclusive_group()
    base.add_argument("--builds-on", metavar="PACK", help="pack it builds on, by name or folder")
    base.add_argument("--alone", action="store_true", help="builds on none: the first pack for something new")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--amends", metavar="RULE", help="rule whose upper should limit it makes stricter")
    kind.add_argument(
        "--from-sheet",
        metavar="FILE.csv",
        help="a maker's table of limits, in columns: what, new least, new most, wear limit, unit, page",
    )


def _new_plugin(parser: Parser) -> None:
    parser.add_argument("folder", metavar="DIR", help="folder to make; its name becomes the plugin's")


def _schema(parser: Parser) -> None:
    parser.add_argument(
        "--for",
        dest="pack",
        action="append",
        default=[],
        metavar="PACK",
        help="with every name that this pack may use, by name or folder; again for a pack it builds on that is not "
        "installed",
    )
    parser.add_argument("--output", metavar="FILE", help="write to a file instead of the terminal")


def _new_record(parser: Parser) -> None:
    parser.add_argument("file", metavar="FILE", help="YAML file to write; one that exists is left as it is")
    parser.add_argument("--for", dest="use", metavar="USE", help="what it will be used for; asked for when absent")
    parser.add_argument("--name", metavar="NAME", help="what the assembly is called")
    parser.add_argument("--layout", metavar="NAME", help="a layout of the rule packs, as in 'V8 with pushrods'")
    parser.add_argument("--units", choices=("in", "mm"), help="of bare numbers: inches and pounds, or metric")
    parser.add_argument(
        "--stations", nargs="+", default=[], metavar="NAME=COUNT", help="how many there are, as in shaft=2 gear=4"
    )
    parser.add_argument(
        "--pack", action="append", default=[], metavar="PACK", help="rule pack; else the installed one with that use"
    )


def _packs(parser: Parser) -> None:
    parser.add_argument(
        "pack", metavar="PACK", nargs="*", help="only these, by name or folder; else all installed ones"
    )
    parser.add_argument(
        "--release", action="store_true", help="record the packs that come with the checker as released (maintainers)"
    )
    parser.add_argument(
        "--format",
        choices=("text", "json", "markdown"),
        default="text",
        help="form of the list; markdown lists every rule",
    )


def _plugins(parser: Parser) -> None:
    parser.add_argument("--format", choices=("text", "json"), default="text", help="form of the list")


def _test_pack(parser: Parser) -> None:
    parser.add_argument("pack", metavar="PACK", nargs="+", help="rule pack, by name or folder")
    parser.add_argument("--format", choices=("text", "json"), default="text", help="form of the result")
    parser.add_argument(
        "--draft-cases",
        action="store_true",
        help="write drafts of the cases that are missing instead, for a person to read, correct and accept",
    )
    parser.add_argument("--output", metavar="FILE", help="write to a file instead of the terminal")


_COMMANDS: dict[str, tuple[str, Callable[[Parser], None]]] = {
    "check": ("judge a record", _check),
    "next": ("say what stands between the build and its next milestone", _judging),
    "uses": ("judge a record for every use side by side", _uses),
    "sheet": ("lay out what is to be measured, to be filled in at the bench", _sheet),
    "measure": ("ask for the missing readings one after another, judging each as it is typed", _measure),
    "hand-over": ("write what the customer gets with the assembly", _hand_over),
    "limits": ("show what the limits of a rule are, in numbers for the sizes given, and where they come from", _limits),
    "room": ("say how far a value may move each way before a rule says worse of it", _room),
    "packs": ("list the rule packs that are installed", _packs),
    "plugins": ("list the plugins that are installed, and what each adds", _plugins),
    "compare-builds": ("show what has changed between two builds, or since it was first measured", _compare_builds),
    "compare-packs": ("show what changes between two rule packs, and for which records", _compare_packs),
    "new-record": ("write a record to fill in, with what the rules ask for as comments", _new_record),
    "new-pack": ("write a small rule pack to start from", _new_pack),
    "new-plugin": ("write a small plugin to start from: a function, a rule pack that calls it, and tests", _new_plugin),
    "schema": ("write the JSON Schema by which an editor completes and checks the files of a rule pack", _schema),
    "test-pack": ("load rule packs and run their cases", _test_pack),
    "demo": ("judge the record that comes with the checker", _demo),
}

_RENAMED = {"compare": "compare-packs", "explain": "limits", "vet": "test-pack"}
"""Old names of commands that still answer for one version."""
