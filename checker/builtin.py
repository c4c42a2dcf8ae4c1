"""The record readers and report forms that come with the checker, through the same hooks as any plugin's."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from checker.errors import Problem, UsageError
from checker.plugins import ReportWriter, hook
from checker.records.record import Record, RecordReader, read_record
from checker.reports.csv_table import write_csv
from checker.reports.json_report import write_json
from checker.reports.junit import write_junit
from checker.reports.markdown import write_markdown
from checker.reports.report import Report
from checker.reports.text import write_text
from checker.sheets.read_csv import read_csv


@hook
def report_writers() -> Mapping[str, ReportWriter]:
    """Every form of the report."""
    return {
        "text": write_text,
        "html": _write_html,
        "json": write_json,
        "csv": write_csv,
        "markdown": write_markdown,
        "junit": write_junit,
    }


def _write_html(report: Report) -> str:
    from checker.html.report_page import write_html  # two dozen modules that the other forms need not wait for

    return write_html(report)


@hook
def record_readers() -> Mapping[str, RecordReader]:
    """YAML, JSON, and sheets that were filled in as CSV or as workbooks."""
    plain = dict.fromkeys((".yaml", ".yml", ".json"), read_record)
    return {**plain, ".csv": read_csv, ".xlsx": _read_xlsx}


def _read_xlsx(path: Path) -> Record:
    try:
        from checker.sheets.read_xlsx import read_xlsx  # slow to import, and the library is an extra
    except ImportError as error:
        hint = "python -m pip install 'assembly-checker[sheets]'"
        raise UsageError(Problem(f"workbooks cannot be read here: {error.name} is not installed", hint=hint)) from None
    return read_xlsx(path)
