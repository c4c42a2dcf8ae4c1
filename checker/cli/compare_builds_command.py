"""`checker compare-builds`: what has changed between two builds of one assembly, or since it was first measured."""

from __future__ import annotations

import json
from argparse import Namespace

from checker.builds import compare_builds
from checker.builds_text import builds_data, write_builds
from checker.cli.output import put
from checker.errors import Problem, UsageError
from checker.plugins import gather
from checker.records.record import read_record
from checker.rulebook import rulebook_for


def run(options: Namespace) -> int:
    """Show every value known of both; with one record, its earlier readings against those that count now."""
    plugins = gather(without=options.without)
    records = [read_record(path, plugins.record_readers) for path in (options.record, options.later_record) if path]
    if len(records) == 1 and not records[0].earlier:
        hint = "give a second record, or list what was measured before under earlier"
        raise UsageError(Problem(f"{records[0].source} holds no earlier readings", hint=hint))
    before, after = records if len(records) == 2 else (records[0].as_it_was(), records[0])
    rulebook = rulebook_for(after, *options.pack, plugins=plugins)
    builds = compare_builds(rulebook, before, after, options.characteristic, options.on)
    if options.format == "json":
        put(json.dumps(builds_data(builds), indent=2) + "\n", options.output)
    else:
        put(write_builds(builds, in_full=bool(options.characteristic)), options.output)
    return 0
