"""The commands on rule packs, limits and plugins: their arguments, examples and exit statuses."""

from __future__ import annotations

from collections.abc import Mapping

from checker.cli.parser import FAULTY, OwnCommand, Parser
from checker.cli.shared_options import add_format, add_output, add_packs, add_several, add_words


def _limits(parser: Parser) -> None:
    add_words(parser)
    parser.add_argument(
        "--for",
        dest="use",
        metavar="USE",
        help="limits for this use, or with this pack on top of the first; for every use when absent",
    )
    add_several(
        parser,
        "--at",
        "NAME=VALUE",
        "size or fact to compute limits with, as in shaft_diameter=50mm; a bare number has the usual unit",
    )
    add_packs(parser, "rule packs to look in; else the one with that use, or all installed ones")
    add_format(parser, "text", "json")


def _packs(parser: Parser) -> None:
    parser.add_argument(
        "pack", metavar="PACK", nargs="*", help="only these, by name or folder; else all installed ones"
    )
    parser.add_argument(
        "--release", action="store_true", help="record the packs that come with the checker as released (maintainers)"
    )
    add_format(parser, "text", "json", "markdown", what="form of the list; markdown lists every rule")


def _plugins(parser: Parser) -> None:
    add_format(parser, "text", "json", what="form of the list")


def _test_pack(parser: Parser) -> None:
    parser.add_argument("pack", metavar="PACK", nargs="+", help="rule pack, by name or folder")
    add_format(parser, "text", "json")
    parser.add_argument(
        "--draft-cases",
        action="store_true",
        help="write drafts of the cases that are missing instead, for a person to read, correct and accept",
    )
    add_output(parser)


def _compare_packs(parser: Parser) -> None:
    parser.add_argument("old", metavar="OLD", help="rule pack, by name or folder")
    parser.add_argument("new", metavar="NEW", help="the pack to compare it with")
    parser.add_argument("record", metavar="RECORD", nargs="*", help="records to judge by both; - for standard input")
    parser.add_argument(
        "--application",
        metavar="USE",
        help="judge the records for this use; else for their own, and for each use that only the new pack has",
    )
    add_format(parser, "text", "json")


def _new_pack(parser: Parser) -> None:
    parser.add_argument("folder", metavar="DIR", help="folder to make; its name becomes the pack's")
    base = parser.add_mutually_exclusive_group()
    base.add_argument("--builds-on", metavar="PACK", help="pack it builds on, by name or folder")
    base.add_argument("--alone", action="store_true", help="builds on none: the first pack for something new")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--amends", metavar="RULE", help="rule whose upper should limit it makes stricter")
    kind.add_argument(
        "--from-sheet",
        metavar="CSV",
        help="a maker's table of limits, CSV with these columns: what, new least, new most, wear limit, unit, page",
    )


def _new_plugin(parser: Parser) -> None:
    parser.add_argument("folder", metavar="DIR", help="folder to make; its name becomes the plugin's")


def _schema(parser: Parser) -> None:
    add_several(
        parser,
        "--for",
        "PACK",
        "with every name that this pack may use, by name or folder; again for a pack it builds on that is not "
        "installed",
        dest="pack",
    )
    add_output(parser)


PACK_COMMANDS: Mapping[str, OwnCommand] = {
    "limits": OwnCommand(
        "show what the limits of a rule are, in numbers for the sizes given, and where they come from",
        _limits,
        (
            "checker limits end gap",
            "checker limits end gap --for marine",
            "checker limits shaft clearance --at shaft_diameter=50mm",
        ),
        failed="nothing was looked up",
    ),
    "packs": OwnCommand(
        "list the rule packs that are installed",
        _packs,
        ("checker packs", "checker packs our_shop --format markdown"),
        f"0 each is as it was released, or was never released; 1 one was altered since; {FAULTY}",
        failed="nothing was listed",
    ),
    "new-pack": OwnCommand(
        "write a small rule pack to start from",
        _new_pack,
        (
            "checker new-pack our_shop",
            "checker new-pack our_v8 --from-sheet limits.csv",
            "checker new-pack our_lathes --alone",
        ),
        failed="nothing was written",
    ),
    "test-pack": OwnCommand(
        "load rule packs and run their cases",
        _test_pack,
        ("checker test-pack our_shop", "checker test-pack our_shop --draft-cases"),
        f"0 every case comes out as stated and guards what it should; 1 not so; {FAULTY}",
        failed="nothing was tested",
    ),
    "compare-packs": OwnCommand(
        "show what changes between two rule packs, and for which records",
        _compare_packs,
        ("checker compare-packs last_year this_year", "checker compare-packs last_year this_year v8.yaml"),
        f"0 both do the same; 1 something changes; {FAULTY}",
        failed="nothing was compared",
    ),
    "schema": OwnCommand(
        "write the JSON Schema by which an editor completes and checks the files of a rule pack",
        _schema,
        ("checker schema --output pack.json", "checker schema --for our_shop --output names.json"),
        failed="nothing was written",
    ),
    "plugins": OwnCommand(
        "list the plugins that are installed, and what each adds",
        _plugins,
        ("checker plugins", "checker plugins --format json"),
        f"0 nothing is wrong with any; 1 something is; {FAULTY}",
        failed="nothing was listed",
    ),
    "new-plugin": OwnCommand(
        "write a small plugin to start from: a function, a rule pack that calls it, and tests",
        _new_plugin,
        ("checker new-plugin our_gauge",),
        failed="nothing was written",
    ),
}
