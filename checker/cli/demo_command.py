"""`checker demo`: the main job on the record that comes with the checker."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.check_command import require_form, write_report
from checker.plugins import gather
from checker.records.demo import demo_record
from checker.rulebook import rulebook_for


def run(options: Namespace) -> int:
    """Judge the shipped record; the status is 0 once the report is out, whatever it says."""
    plugins = gather(without=options.without)
    require_form(options.format, plugins)
    record = demo_record()
    write_report(rulebook_for(record, plugins=plugins).check(record), options, plugins)
    return 0
