"""The report as JSON, for programs: schema/report.schema.json says what every key means and stays so."""

from __future__ import annotations

import json
import math
from typing import Any

from checker.errors import require
from checker.findings.finding import Edge, Finding, Gap
from checker.packs.layers import Retired
from checker.packs.pack import Pack
from checker.plugin import Plugin
from checker.records.by_eye import EyeInspection
from checker.records.concessions import Concession
from checker.records.entry import Reading
from checker.records.flag import Flag
from checker.reports.answer import answer
from checker.reports.report import Report

FORM = 1


def write_json(report: Report) -> str:
    """The whole report; numbers in SI, texts as the text report shows them."""
    require(report, "give what rulebook.check(record) returned", Report)
    return json.dumps(report_data(report), indent=2, allow_nan=False) + "\n"


def report_data(report: Report) -> dict[str, Any]:
    """The report as plain dictionaries and lists."""
    return {
        "report": FORM,
        "assembly": report.record.assembly,
        "record": {"source": report.record.source, "sha256": report.record.digest},
        "packs": [_pack(pack) for pack in report.packs],
        "pack_choice": report.pack_choice or None,
        "plugins": [_plugin(plugin) for plugin in report.plugins],
        "application": report.application,
        "before": report.before,
        "inspection": _inspection(report),
        "on": report.on.isoformat(),
        "decision": {"rule": report.context.decision.rule, "words": str(report.context.decision)},
        "status": report.status,
        "answer": answer(report),
        "counts": {str(verdict): count for verdict, count in report.counts.items()},
        "at_face_value": len(report.at_face_value),
        "findings": [_finding(finding) for finding in report.findings],
        "readings_in_doubt": [_flag(flag) for flag in report.flags],
        "notes": [_flag(flag) for flag in report.notes],
        "readings": [_reading(reading) for reading in report.readings],
        "concessions": [_concession(concession, standing) for concession, standing in report.concessions],
        "seen": [_seen(found) for found in report.context.seen],
        "later_rules": list(report.later),
        "retired_rules": [_retired(retired) for retired in report.retired],
        "cautions": list(report.cautions),
    }


def _pack(pack: Pack) -> dict[str, str]:
    return {"pack": pack.name, "version": pack.version, "sha256": pack.digest, "standing": str(pack.standing)}


def _plugin(plugin: Plugin) -> dict[str, Any]:
    used = {hook: list(names) for hook, names in plugin.adds.items()}
    return {"plugin": plugin.name, "version": plugin.version, "distribution": plugin.distribution, "used": used}


def _retired(retired: Retired) -> dict[str, Any]:
    origin = retired.retirement.origin
    return {
        "rule": retired.rule.name,
        "title": retired.rule.title,
        "system": retired.rule.system,
        "because": retired.retirement.because,
        "stated_at": {"pack": origin.pack, "version": origin.version, **_place(origin.place)},
    }


def _inspection(report: Report) -> dict[str, Any]:
    plan = report.context.plan
    return {
        "level": plan.level or None,
        "title": plan.title or None,
        "words": report.extent or None,
        "left_out": [
            {"rule": rule.name, "title": rule.rule.title, "pack": why.pack, "because": why.because}
            for rule, why in report.left_out
        ],
    }


def _seen(found: EyeInspection) -> dict[str, Any]:
    return {
        "rule": found.rule.name,
        "station": None if found.station is None else found.station + 1,
        "by": found.by,
        "dated": found.dated.isoformat(),
        "clear": found.is_clear,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    rule = finding.rule.rule
    return {
        "rule": finding.name,
        "title": finding.title,
        "system": finding.system,
        "before": rule.before,
        "stations": finding.stations,
        "station": None if finding.stations is None else finding.station + 1,
        "verdict": str(finding.verdict),
        "side": finding.side or None,
        "must_open": finding.must_open,
        "at_face_value": finding.at_face_value,
        "value": _number(finding.value),
        "shown": finding.shown_value or None,
        "unit": finding.unit.name if finding.unit else None,
        "limits": [_edge(edge, finding) for edge in finding.edges],
        "margin": _number(finding.margin),
        "written": finding.as_written or None,
        "expanded_uncertainty": _number(finding.uncertainty),
        "needed_uncertainty": _number(finding.needed_uncertainty),
        "remedy": finding.remedy or None,
        "missing": [_gap(gap) for gap in finding.missing],
        "remarks": list(finding.remarks),
        "concession": finding.concession or None,
        "basis": str(rule.basis) if rule.basis else None,
        "caution": rule.caution or None,
        "stated_at": {"pack": rule.origin.pack, "version": rule.origin.version, **_place(rule.origin.place)},
    }


def _edge(edge: Edge, finding: Finding) -> dict[str, Any]:
    limit = edge.limit
    basis = (limit.basis if limit else None) or finding.rule.rule.basis
    return {
        "band": edge.band,
        "side": edge.side,
        "value": edge.value,
        "shown": finding.written(edge.value),
        "part_sheet": edge.from_part_sheet or None,
        "basis": str(basis) if basis and not edge.from_part_sheet else None,
        "stated_at": None
        if limit is None
        else {"pack": limit.origin.pack, "version": limit.origin.version, **_place(limit.origin.place)},
    }


def _gap(gap: Gap) -> dict[str, Any]:
    return {"characteristic": gap.characteristic, "station": gap.station, "words": str(gap)}


def _flag(flag: Flag) -> dict[str, Any]:
    return {
        "characteristic": flag.characteristic,
        "where": flag.where or None,
        "written": flag.written,
        "message": flag.message,
        "refused": flag.is_refused,
        **_place(flag.place),
    }


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "characteristic": reading.characteristic,
        "station": reading.station + 1,
        "written": reading.written,
        "low": _number(reading.low),
        "high": _number(reading.high),
        "with": reading.instrument,
        "taken": reading.taken.isoformat() if reading.taken else None,
        "temperature": reading.temperature,
        "correction": reading.correction,
        "set_aside": reading.set_aside or None,
        **_place(reading.place),
    }


def _concession(concession: Concession, standing: str) -> dict[str, Any]:
    return {
        "rule": concession.rule.name,
        "station": None if concession.station is None else concession.station + 1,
        "by": concession.by,
        "dated": concession.dated.isoformat(),
        "until": concession.until.isoformat() if concession.until else None,
        "because": concession.because,
        "standing": standing,
    }


def _place(place: Any) -> dict[str, Any]:
    return {"file": place.file, "line": place.line}


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
