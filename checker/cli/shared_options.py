"""The arguments that several commands take, and what their exit statuses say."""

from __future__ import annotations

from argparse import ArgumentTypeError
from datetime import date

from checker.cli.parser import FAULTY, Parser, one_of

STANDARD_INPUT = "-"
FORMS_OF_REPORTS = ("text", "html", "json", "csv", "markdown", "junit")
"""What is written for a record that is piped in."""
JUDGED = (
    f"0 every required check was judged and holds; 1 one is out of limits; 3 none is, but some are still open; {FAULTY}"
)


def day(text: str) -> date:
    """A date of the calendar."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is not a date such as 2026-05-02") from None


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is not a number such as 0.95") from None


def add_several(parser: Parser, option: str, metavar: str, what: str, dest: str | None = None) -> None:
    """An option that may be repeated: a list of what it was given."""
    parser.add_argument(option, dest=dest, action="append", default=[], metavar=metavar, help=what)


def add_packs(parser: Parser, which: str = "one more rule pack, by name or folder") -> None:
    """`--pack`, as often as there are packs."""
    add_several(parser, "--pack", "PACK", which)


def add_words(parser: Parser) -> None:
    """The words by which rules are found."""
    parser.add_argument("words", metavar="WORD", nargs="+", help="words of the rule's title, name or characteristic")


def add_record(parser: Parser) -> None:
    """The record to read, and the packs to judge it by besides its own."""
    parser.add_argument(
        "record",
        metavar="RECORD",
        help="file with what was measured (YAML, JSON, CSV or XLSX), or - for standard input (YAML or JSON)",
    )
    add_packs(parser)


def add_scope(
    parser: Parser,
    before: str = "judge only what must hold before this milestone",
    use: str = "judge for this use instead of the record's own",
) -> None:
    """For which use, up to which milestone and how thoroughly."""
    parser.add_argument("--application", metavar="USE", help=use)
    parser.add_argument("--before", metavar="MILESTONE", help=before)
    parser.add_argument("--inspection", metavar="LEVEL", help="how much is asked for, instead of what the use asks")


def add_judging(parser: Parser) -> None:
    """A record and how to judge it."""
    add_record(parser)
    add_question(parser)


def add_question(parser: Parser) -> None:
    """How to judge what is judged."""
    add_scope(parser)
    parser.add_argument(
        "--decision",
        **one_of("simple", "where-known", "guarded", "probability"),
        metavar="RULE",
        help="how readings near a limit are decided: simple, where-known, guarded or probability",
    )
    parser.add_argument(
        "--probability", type=_number, metavar="P", help="least probability of conformity, 0.95 is usual"
    )
    parser.add_argument("--on", type=day, metavar="DATE", help="judge as on this day, not today")


def add_musts(parser: Parser) -> None:
    """What is merely advised is left out."""
    parser.add_argument("--musts", action="store_true", help="only what required checks need, nothing for advice")


def add_format(parser: Parser, *forms: str, what: str = "form of the result") -> None:
    """`--format`; the first form is the usual one, where the name of the output says no other."""
    parser.add_argument("--format", **one_of(*forms), help=what)
    parser.set_defaults(forms=forms)


def add_output(parser: Parser) -> None:
    """`--output`."""
    parser.add_argument(
        "--output",
        metavar="FILE",
        help="write to a file, in the form that its name ends in unless another is asked for",
    )


def add_report(parser: Parser) -> None:
    """The forms of a report, and how much of it is told."""
    parser.add_argument("--all", action="store_true", help="everything: each open check, every basis, other sources")
    parser.add_argument("--system", default="", metavar="SYSTEM", help='one system opened, as in "--system gears"')
    parser.add_argument(
        "--format",
        metavar="FORM",
        help=f"{FORMS_OF_REPORTS[0]} (usual), {', '.join(FORMS_OF_REPORTS[1:])}, or a form added by a plugin",
    )
    parser.set_defaults(forms=FORMS_OF_REPORTS)
    parser.add_argument(
        "--parts",
        default="",
        metavar="PART,...",
        help="of json: what to tell in full besides what is missed: within, open, idle, readings",
    )
    add_output(parser)
