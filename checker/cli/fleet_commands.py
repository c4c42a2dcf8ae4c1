"""The commands on tables of many assemblies: their arguments, examples and exit statuses."""

from __future__ import annotations

from argparse import ArgumentTypeError
from collections.abc import Mapping

from checker.cli.parser import FAULTY, OwnCommand, Parser, one_of
from checker.cli.shared_options import (
    add_format,
    add_output,
    add_packs,
    add_question,
    add_several,
    add_words,
)


def _count(text: str) -> int:
    if not text.isascii() or not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError(f"{text!r} is not a whole number such as 4")
    return int(text)


def _add_reading(parser: Parser) -> None:
    """How tables are read and what is asked of them."""
    parser.add_argument("--record", dest="base", metavar="FILE", help="record of what is alike for all, in YAML")
    parser.add_argument(
        "--layout",
        **one_of("wide", "long"),
        default="wide",
        help="wide (usual): a row an assembly, columns called as characteristics or characteristic@station; "
        "long: a row a value, in columns assembly, characteristic, station, value and perhaps unit",
    )
    parser.add_argument("--assembly", metavar="COLUMN", help="the column that names each assembly")
    add_several(
        parser,
        "--column",
        "COLUMN=NAME",
        "what a column with another name holds, as in size=shaft_diameter@2, and then no others are read; one may "
        "be worked out, as in 'set_to + more/1000=shaft_diameter@1'; may be repeated; in a long table what stands for "
        "assembly, characteristic and so on, as in value=size",
    )
    add_several(
        parser,
        "--instrument",
        "NAME=INSTRUMENT",
        "with which instrument of the record a characteristic was measured; may be repeated",
    )
    add_packs(parser, "rule pack, by name or folder")
    add_question(parser)
    parser.add_argument("--rows", type=_count, metavar="N", help="rows read and judged at once; fewer need less memory")


def _batch(parser: Parser) -> None:
    parser.add_argument("tables", metavar="TABLE", nargs="+", help="Parquet, Arrow or CSV file, by its suffix")
    parser.add_argument("--output", metavar="DIR", required=True, help="folder for the results, new or to go on with")
    _add_reading(parser)
    parser.add_argument(
        "--start-over", action="store_true", help="remove what another run wrote to DIR, and nothing else"
    )
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--workers", type=_count, default=0, metavar="N", help="judge with so many processes")
    where.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="judge on a Dask cluster of a network you trust, which sees the same files, as tcp://host:8786",
    )


def _capability(parser: Parser) -> None:
    parser.add_argument(
        "source", metavar="SOURCE", help="folder that `checker batch` made, or a table as it takes them"
    )
    add_words(parser)
    _add_reading(parser)
    parser.add_argument("--by-station", action="store_true", help="each station by itself too")
    add_format(parser, "text", "html", "json")
    add_output(parser)


FLEET_COMMANDS: Mapping[str, OwnCommand] = {
    "batch": OwnCommand(
        "judge tables of many assemblies, and write what is said of each to a folder",
        _batch,
        (
            "checker batch y.parquet --record shop.yaml --output out",
            "checker batch a.csv b.csv --assembly serial --output out",
            "checker batch y.parquet --output out --workers 4",
        ),
        "0 all that was read was judged and holds; 1 an assembly is out of limits; 3 none is, but a required check is "
        f"open or a row was set aside; {FAULTY}",
        (
            "The record (shop.yaml) holds what is alike for all: application, stations, units, instruments, facts.",
            "Every row is judged or set aside with its reason, and that the numbers add up is checked. The folder gets "
            "Parquet files, one for each part: findings (out of limits, undecided, advisory), counts (a row for each "
            "assembly) and set-aside; and set-aside.csv, summary.txt and summary.json.",
            "The same command again goes on where a run was stopped or killed.",
            "Rows that name an assembly twice are set aside. In a long table of more than --rows rows the rows of an "
            "assembly stand together: such as stand apart are set aside. One that cannot be read is set aside with its "
            "whole assembly, or with those it may tell of if it names none.",
            "Memory: what judging --rows rows takes, for each worker, and 16 bytes for each assembly that has a name.",
            "",
        ),
    ),
    "capability": OwnCommand(
        "say how capable a process is of the limits of a rule, over many assemblies",
        _capability,
        (
            "checker capability out end gap --by-station",
            "checker capability y.parquet end gap --record shop.yaml",
            "checker capability out gap --output g.html",
        ),
        notes=(
            "The tables that a folder was made from are read again for these rules alone, as they were read then; they "
            "must be as they were. Of a table the options say how it is read, as for checker batch.",
            "Number, mean, standard deviation, Cp and Cpk, the fraction outside, and the drift over the order of the "
            "rows, with confidence intervals. Nothing is said of fewer than 25 values, and no Cp or Cpk of values that "
            "are not normally distributed.",
            "",
        ),
        failed="nothing was worked out",
    ),
}
