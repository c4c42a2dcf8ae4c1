"""`checker hand-over`: what the customer gets with the assembly."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.check_command import judged
from checker.cli.output import put
from checker.html.hand_over_page import write_hand_over
from checker.plugins import gather
from checker.reports.pdf import pdf_of


def run(options: Namespace) -> int:
    """Write the hand-over as a page or as PDF; the status is the report's."""
    report = judged(options, gather(without=options.without))
    written = write_hand_over(report)
    put(pdf_of(written) if options.format == "pdf" else written, options.output)
    return report.status
