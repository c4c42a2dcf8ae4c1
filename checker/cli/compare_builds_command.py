"""`checker compare-builds`: what has changed between two builds of one assembly, or since it was first measured."""

from __future__ import annotations

from argparse import Namespace

from checker.builds import builds_data, compare_builds, write_builds
from checker.cli.look import look_for, say
from checker.cli.output import write_json
from checker.cli.record_file import record_given
from checker.cli.shared_options import STANDARD_INPUT
from checker.errors import Problem, UsageError
from checker.plugins import gather
from checker.rulebook import rulebook_for


def run(options: Namespace) -> int:
    """Show every value known of both; with one record, its earlier readings against those that count now."""
    plugins = gather(without=options.without)
    paths = [path for path in (options.record, options.later_record) if path]
    if paths.count(STANDARD_INPUT) > 1:
        raise UsageError(Problem("the standard input holds one record", hint="name the file of the other"))
    records = [record_given(path, plugins, options.pack) for path in paths]
    if len(records) == 1 and not records[0].earlier:
        hint = "give a second record, or list what was measured before under earlier"
        raise UsageError(Problem(f"{records[0].source} holds no earlier readings", hint=hint))
    before, after = records if len(records) == 2 else (records[0].as_it_was(), records[0])
    rulebook = rulebook_for(after, *options.pack, plugins=plugins)
    builds = compare_builds(rulebook, before, after, options.characteristic, options.on)
    if options.format == "json":
        write_json(builds_data(builds), options.output)
    else:
        say(write_builds(builds, bool(options.characteristic), look_for(options.output)), options.output)
    return 0
