"""`checker hand-over`: what the customer gets with the assembly."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.check_command import judged
from checker.cli.output import write_out
from checker.cli.progress import progress
from checker.html.hand_over_page import write_hand_over
from checker.plugins import gather
from checker.reports.pdf import pdf_of


def run(options: Namespace) -> int:
    """Write the hand-over as a page or as PDF; the status is the report's."""
    report = judged(options, gather(without=options.without))
    written = write_hand_over(report)
    if options.format == "pdf":
        with progress("laying out the pages", patience=0):
            pages = pdf_of(written)
        write_out(pages, options.output)
    else:
        write_out(written, options.output)
    return report.status
