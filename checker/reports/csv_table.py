"""The findings as a table of comma-separated values (RFC 4180), safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping
from typing import TypeAlias

from checker.documents.cells import inert
from checker.findings.finding import Finding, listed
from checker.reports.report import Report

Cell: TypeAlias = str | float


def write_csv(report: Report) -> str:
    """One line for each finding; numbers in the unit of their line."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow([*_COLUMNS, "grounds"])
    grounds = _written("; ".join((*report.grounds, *report.not_asked)))
    for finding in report.findings:
        writer.writerow([*(_written(cell(finding)) for cell in _COLUMNS.values()), grounds])
    return out.getvalue()


def _written(cell: Cell) -> str:
    """A number as a number, text so that no spreadsheet takes it for a formula."""
    if isinstance(cell, float):
        return f"{cell:.10g}" if math.isfinite(cell) else ""
    return inert(cell)


def _in_unit(value: float, finding: Finding) -> float:
    return finding.unit.from_si(value) if finding.unit and math.isfinite(value) else math.nan


def _edge(finding: Finding, band: str, side: str) -> float:
    values = (edge.value for edge in finding.edges if (edge.band, edge.side) == (band, side))
    return _in_unit(next(values, math.nan), finding)


_COLUMNS: Mapping[str, Callable[[Finding], Cell]] = {
    "system": lambda finding: finding.system,
    "rule": lambda finding: finding.name,
    "title": lambda finding: finding.title,
    "where": lambda finding: finding.where,
    "verdict": lambda finding: str(finding.verdict),
    "side": lambda finding: finding.side,
    "value": lambda finding: _in_unit(finding.value, finding),
    "unit": lambda finding: finding.unit.name if finding.unit else "",
    "must at least": lambda finding: _edge(finding, "must", "low"),
    "should at least": lambda finding: _edge(finding, "should", "low"),
    "should at most": lambda finding: _edge(finding, "should", "high"),
    "must at most": lambda finding: _edge(finding, "must", "high"),
    "stated by": lambda finding: finding.counted_by,
    "expanded uncertainty": lambda finding: (
        finding.uncertainty / finding.unit.factor if finding.unit and finding.shown_value else math.nan
    ),
    "remedy": lambda finding: finding.remedy,
    "still to measure": lambda finding: "; ".join(listed(finding.missing)),
    "remarks": lambda finding: "; ".join(finding.remarks),
    "concession": lambda finding: finding.concession,
    "before": lambda finding: finding.rule.rule.before,
    "source": lambda finding: finding.source,
}
