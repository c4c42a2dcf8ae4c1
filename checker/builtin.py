"""The record readers and report forms that come with the checker, through the same hooks as any plugin's."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from pathlib import Path

from checker.errors import needing
from checker.plugin_hooks import ReportWriter, hook
from checker.records.record import Record, RecordReader, read_record
from checker.reports.report import Report

_WRITERS = {
    "text": ("checker.reports.text", "write_text"),
    "html": ("checker.html.report_page", "write_html"),
    "json": ("checker.reports.json_report", "write_json"),
    "csv": ("checker.reports.csv_table", "write_csv"),
    "markdown": ("checker.reports.markdown", "write_markdown"),
    "junit": ("checker.reports.junit", "write_junit"),
}


@hook
def report_writers() -> Mapping[str, ReportWriter]:
    """Every form of the report."""
    return {name: _writer(*home) for name, home in _WRITERS.items()}


def _writer(module: str, name: str) -> ReportWriter:
    """A form whose module is imported when it is asked for: no run needs them all."""

    def write(report: Report) -> str:
        written: str = getattr(import_module(module), name)(report)
        return written

    return write


@hook
def record_readers() -> Mapping[str, RecordReader]:
    """YAML, JSON, and sheets that were filled in as CSV or as workbooks."""
    plain = dict.fromkeys((".yaml", ".yml", ".json"), read_record)
    return {**plain, ".csv": _read_csv, ".xlsx": _read_xlsx}


def _read_csv(path: Path) -> Record:
    from checker.sheets.read_csv import read_csv  # sheets are not read in every run

    return read_csv(path)


def _read_xlsx(path: Path) -> Record:
    with needing("sheets", "workbooks cannot be read"):
        from checker.sheets.read_xlsx import read_xlsx  # slow to import
    return read_xlsx(path)
