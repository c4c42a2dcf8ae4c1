"""The commands on a build and its record: their arguments, examples and exit statuses."""

from __future__ import annotations

from collections.abc import Mapping

from checker.cli.parser import FAULTY, OwnCommand, Parser, one_of
from checker.cli.shared_options import (
    JUDGED,
    add_format,
    add_judging,
    add_musts,
    add_output,
    add_packs,
    add_record,
    add_report,
    add_scope,
    add_several,
    day,
)

_KNOWN_BEFORE = "only what must be known before this milestone"


def _check(parser: Parser) -> None:
    add_judging(parser)
    parser.add_argument(
        "--packs-from",
        metavar="REPORT",
        help="refuse unless the rule packs and plugins are those that made this JSON report",
    )
    add_report(parser)


def _uses(parser: Parser) -> None:
    add_record(parser)
    parser.add_argument("--from", dest="from_use", metavar="USE", help="the use to start from; else the record's own")
    parser.add_argument("--to", metavar="USE", help="what this use asks that the other does not, rule by rule")
    add_format(parser, "text", "html", "json", "markdown", what="form of the comparison")
    add_output(parser)


def _sheet(parser: Parser) -> None:
    parser.add_argument(
        "record",
        metavar="RECORD",
        nargs="?",
        help="record to lay the sheet out from, or - for standard input; what it holds is printed",
    )
    add_packs(parser, "rule pack, by name or folder")
    add_scope(parser, _KNOWN_BEFORE, "the use it is measured for")
    add_musts(parser)
    parser.add_argument(
        "--layout",
        metavar="NAME",
        help="a layout of the rule packs that says how many there are, as in 'V8 with pushrods'",
    )
    parser.add_argument("--stations", default="", metavar="KIND=N,...", help="how many there are, as in shaft=2,gear=4")
    add_several(parser, "--rows", "NAME=ROW/ROW", "how they lie, from the front, as in gear=1-3-5-7/2-4-6-8")
    parser.add_argument("--units", default="", metavar="KIND=UNIT,...", help="for bare numbers, as in length=mm")
    add_format(parser, "html", "xlsx", "csv", "yaml", what="form of the sheet")
    add_output(parser)


def _measure(parser: Parser) -> None:
    parser.add_argument("record", metavar="RECORD", help="record to measure for, in YAML; every reading is saved in it")
    add_packs(parser)
    add_scope(parser, _KNOWN_BEFORE)
    add_musts(parser)


def _hand_over(parser: Parser) -> None:
    add_judging(parser)
    add_format(parser, "html", "pdf", what="a page (usual), or paper")
    add_output(parser)


def _room(parser: Parser) -> None:
    add_judging(parser)
    parser.add_argument(
        "value", metavar="NAME@STATION", nargs="+", help="what was measured, and where, as in shaft_diameter@2"
    )
    parser.add_argument("--musts", action="store_true", help="only what must be held, not what is advised")


def _compare_builds(parser: Parser) -> None:
    parser.add_argument("record", metavar="BEFORE", help="record of the earlier build, or of one that holds both")
    parser.add_argument("later_record", metavar="AFTER", nargs="?", help="record of the later build")
    add_packs(parser)
    add_several(parser, "--characteristic", "NAME", "only this one, in full; may be repeated")
    parser.add_argument("--on", type=day, metavar="DATE", help="compare as on this day, not today")
    add_format(parser, "text", "json")
    add_output(parser)


def _new_record(parser: Parser) -> None:
    parser.add_argument("file", metavar="FILE", help="YAML file to write; one that exists is left as it is")
    parser.add_argument("--for", dest="use", metavar="USE", help="what it will be used for; asked for when absent")
    parser.add_argument("--name", metavar="NAME", help="what the assembly is called")
    parser.add_argument("--layout", metavar="NAME", help="a layout of the rule packs, as in 'V8 with pushrods'")
    parser.add_argument("--units", **one_of("in", "mm"), help="of bare numbers: inches and pounds, or metric")
    parser.add_argument(
        "--stations", nargs="+", default=[], metavar="KIND=N", help="how many there are, as in shaft=2 gear=4"
    )
    parser.add_argument(
        "--scope",
        nargs="+",
        default=[],
        metavar="SYSTEM",
        help="of a job on a part of it, as in --scope heads: what it is about",
    )
    add_packs(parser, "rule pack; else the installed one with that use")


RECORD_COMMANDS: Mapping[str, OwnCommand] = {
    "new-record": OwnCommand(
        "write a record to fill in, with what the rules ask for as comments",
        _new_record,
        (
            "checker new-record v8.yaml",
            "checker new-record heads.yaml --for street --scope heads",
            "checker new-record lathe.yaml --pack our_lathes",
        ),
        failed="nothing was written",
    ),
    "check": OwnCommand(
        "judge a record",
        _check,
        (
            "checker check v8.yaml",
            "checker check v8.yaml --before heads-on",
            "checker check v8.yaml --output v8.html",
        ),
        JUDGED,
    ),
    "next": OwnCommand(
        "say what stands between the build and its next milestone",
        add_judging,
        ("checker next v8.yaml", "checker next v8.yaml --before heads-on"),
        JUDGED,
    ),
    "uses": OwnCommand(
        "judge a record for every use side by side",
        _uses,
        ("checker uses v8.yaml", "checker uses v8.yaml --to marine"),
        f"that of the record's own use, or of the one after --to: {JUDGED}",
    ),
    "sheet": OwnCommand(
        "lay out what is to be measured, to be filled in at the bench",
        _sheet,
        (
            "checker sheet v8.yaml --output sheet.html",
            "checker sheet v8.yaml --format xlsx --output sheet.xlsx",
            "checker sheet v8.yaml --before heads-on --format csv",
        ),
        failed="nothing was written",
    ),
    "measure": OwnCommand(
        "ask for the missing readings one after another, judging each as it is typed",
        _measure,
        ("checker measure v8.yaml", "checker measure v8.yaml --musts"),
        JUDGED,
    ),
    "room": OwnCommand(
        "say how far a value may move each way before a rule says worse of it",
        _room,
        (
            "checker room v8.yaml shaft_diameter@1",
            "checker room v8.yaml end_float@1 end_float@2 --musts",
        ),
        failed="nothing was worked out",
    ),
    "hand-over": OwnCommand(
        "write what the customer gets with the assembly",
        _hand_over,
        (
            "checker hand-over v8.yaml --output v8.html",
            "checker hand-over v8.yaml --output v8.pdf",
        ),
        JUDGED,
    ),
    "compare-builds": OwnCommand(
        "show what has changed between two builds, or since it was first measured",
        _compare_builds,
        ("checker compare-builds spring.yaml autumn.yaml", "checker compare-builds v8.yaml"),
        failed="nothing was compared",
    ),
    "demo": OwnCommand(
        "judge the record that comes with the checker",
        add_report,
        ("checker demo", "checker demo --all", "checker demo --output demo.html"),
        f"0 the report is out, whatever it says; {FAULTY}",
    ),
}
