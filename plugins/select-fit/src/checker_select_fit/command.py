"""`checker select-fit`: choose parts from a shelf for a record."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from checker import Problem, UsageError, gather, read_record, read_text, rulebook_for, write_out

from checker_select_fit.fit import propose
from checker_select_fit.json_report import write_json
from checker_select_fit.kinds import KINDS
from checker_select_fit.shelf import read_shelf
from checker_select_fit.text_report import write_text
from checker_select_fit.written import written_text

FOUND = 0
NONE_FITS = 1


def arguments(parser: ArgumentParser) -> None:
    """What the command is given."""
    parser.epilog = f"Kinds of parts: {', '.join(KINDS)}. Exit status: 0 a choice does, 1 none does, 2 an error."
    parser.add_argument("record", help="the record of measurements")
    parser.add_argument("shelf", help="the parts on the shelf, .yaml or .csv")
    parser.add_argument("--kind", action="append", default=[], help="choose this kind only; may be repeated")
    parser.add_argument("--use", action="append", default=[], help="a part that may be used though it is in doubt")
    parser.add_argument("--nearest-aim", action="store_true", help="nearness to the aims before fewest parts changed")
    parser.add_argument("--pack", action="append", default=[], help="judge by this rule pack too")
    parser.add_argument("--application", help="the use, where it is not the record's")
    parser.add_argument("--before", help="the milestone, where it is not the record's")
    parser.add_argument("--format", choices=("text", "json"), default="text", help="form of the report")
    parser.add_argument("--output", help="write the report here")
    parser.add_argument("--record-to", help="write the record with the chosen parts here, when a choice does")


def run(options: Namespace) -> int:
    """Exit status: 0 a choice is within everything that counts, 1 none is."""
    _keep_inputs(options)
    plugins = gather(without=options.without)
    record = read_record(options.record, plugins.record_readers)
    rulebook = rulebook_for(record, *options.pack, plugins=plugins)
    shelf = read_shelf(options.shelf, rulebook)
    before = rulebook.check(record, options.application, before=options.before)
    proposal = propose(
        rulebook, record, shelf, before=before, kinds=options.kind, use=options.use, aim_first=options.nearest_aim
    )
    write_out(write_json(proposal) if options.format == "json" else write_text(proposal), options.output)
    if options.record_to and proposal.expected is not None:
        text = read_text(Path(options.record))
        write_out(written_text(proposal, rulebook, text), options.record_to)
    return FOUND if proposal.expected is not None else NONE_FITS


def _keep_inputs(options: Namespace) -> None:
    """A slip of the keys must not put the output in the place of a day's measurements."""
    inputs = [Path(options.record).resolve(), Path(options.shelf).resolve()]
    for output in filter(None, (options.output, options.record_to)):
        if Path(output).resolve() in inputs:
            raise UsageError(Problem(f"{output} is an input; the output would take its place", hint="name another"))
