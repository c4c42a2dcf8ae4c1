"""The report forms that come with the checker, through the same hook as any plugin's."""

from __future__ import annotations

from collections.abc import Mapping

from checker.plugins import ReportWriter, hook
from checker.report_json import write_json
from checker.report_text import write_text


@hook
def report_writers() -> Mapping[str, ReportWriter]:
    """Text and JSON."""
    return {"text": write_text, "json": write_json}
