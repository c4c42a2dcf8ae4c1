"""The report as JSON, for programs: what every key means is declared once (report_keys.py), and stays so."""

from __future__ import annotations

import json
import math
from typing import Any

from checker.documents.document import Origin
from checker.documents.structure import unstructured
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
from checker.reports.finding_keys import FindingKeys, GapKeys, LimitKeys, OriginKeys
from checker.reports.report import Report
from checker.reports.report_keys import (
    FORM,
    ConcessionKeys,
    DecisionKeys,
    FlagKeys,
    InspectionKeys,
    LeftOutKeys,
    PackKeys,
    PluginKeys,
    ReadingKeys,
    RecordKeys,
    ReportKeys,
    RetiredKeys,
    SeenKeys,
)


def write_json(report: Report) -> str:
    """The whole report; numbers in SI, texts as the text report shows them."""
    require(report, "give what rulebook.check(record) returned", Report)
    return json.dumps(report_data(report), indent=2, allow_nan=False) + "\n"


def report_data(report: Report) -> dict[str, Any]:
    """The report as plain dictionaries and lists."""
    said = ReportKeys(
        report=FORM,
        assembly=report.record.assembly,
        record=RecordKeys(report.record.source, report.record.digest),
        packs=tuple(_pack(pack) for pack in report.packs),
        pack_choice=report.pack_choice or None,
        plugins=tuple(_plugin(plugin) for plugin in report.plugins),
        application=report.application,
        before=report.before,
        inspection=_inspection(report),
        on=report.on.isoformat(),
        decision=DecisionKeys(report.context.decision.rule, str(report.context.decision)),
        status=report.status,
        answer=answer(report),
        counts={str(verdict): count for verdict, count in report.counts.items()},
        at_face_value=len(report.at_face_value),
        findings=tuple(_finding(finding) for finding in report.findings),
        readings_in_doubt=tuple(_flag(flag) for flag in report.flags),
        notes=tuple(_flag(flag) for flag in report.notes),
        readings=tuple(_reading(reading) for reading in report.readings),
        concessions=tuple(_concession(concession, standing) for concession, standing in report.concessions),
        seen=tuple(_seen(found) for found in report.context.seen),
        later_rules=tuple(report.later),
        retired_rules=tuple(_retired(retired) for retired in report.retired),
        cautions=tuple(report.cautions),
    )
    written: dict[str, Any] = unstructured(said)
    return written


def _pack(pack: Pack) -> PackKeys:
    return PackKeys(pack=pack.name, version=pack.version, sha256=pack.digest, standing=str(pack.standing))


def _plugin(plugin: Plugin) -> PluginKeys:
    used = {hook: tuple(names) for hook, names in plugin.adds.items()}
    return PluginKeys(plugin=plugin.name, version=plugin.version, distribution=plugin.distribution, used=used)


def _retired(retired: Retired) -> RetiredKeys:
    return RetiredKeys(
        rule=retired.rule.name,
        title=retired.rule.title,
        system=retired.rule.system,
        because=retired.retirement.because,
        stated_at=_origin(retired.retirement.origin),
    )


def _inspection(report: Report) -> InspectionKeys:
    plan = report.context.plan
    return InspectionKeys(
        level=plan.level or None,
        title=plan.title or None,
        words=report.extent or None,
        left_out=tuple(LeftOutKeys(rule.name, rule.rule.title, why.pack, why.because) for rule, why in report.left_out),
    )


def _seen(found: EyeInspection) -> SeenKeys:
    return SeenKeys(
        rule=found.rule.name,
        station=None if found.station is None else found.station + 1,
        by=found.by,
        dated=found.dated.isoformat(),
        clear=found.is_clear,
    )


def _finding(finding: Finding) -> FindingKeys:
    rule = finding.rule.rule
    return FindingKeys(
        rule=finding.name,
        title=finding.title,
        system=finding.system,
        before=rule.before,
        stations=finding.stations,
        station=None if finding.stations is None else finding.station + 1,
        verdict=str(finding.verdict),
        side=finding.side or None,
        must_open=finding.must_open,
        at_face_value=finding.at_face_value,
        value=_number(finding.value),
        shown=finding.shown_value or None,
        unit=finding.unit.name if finding.unit else None,
        limits=tuple(_edge(edge, finding) for edge in finding.edges),
        margin=_number(finding.margin),
        written=finding.as_written or None,
        expanded_uncertainty=_number(finding.uncertainty),
        needed_uncertainty=_number(finding.needed_uncertainty),
        remedy=finding.remedy or None,
        missing=tuple(_gap(gap) for gap in finding.missing),
        remarks=tuple(finding.remarks),
        concession=finding.concession or None,
        basis=str(rule.basis) if rule.basis else None,
        caution=rule.caution or None,
        stated_at=_origin(rule.origin),
    )


def _edge(edge: Edge, finding: Finding) -> LimitKeys:
    limit = edge.limit
    basis = (limit.basis if limit else None) or finding.rule.rule.basis
    return LimitKeys(
        band=edge.band,
        side=edge.side,
        value=edge.value,
        shown=finding.written(edge.value),
        part_sheet=edge.from_part_sheet or None,
        basis=str(basis) if basis and not edge.from_part_sheet else None,
        stated_at=None if limit is None else _origin(limit.origin),
    )


def _gap(gap: Gap) -> GapKeys:
    return GapKeys(characteristic=gap.characteristic, station=gap.station, words=str(gap))


def _flag(flag: Flag) -> FlagKeys:
    return FlagKeys(
        characteristic=flag.characteristic,
        where=flag.where or None,
        written=flag.written,
        message=flag.message,
        refused=flag.is_refused,
        file=flag.place.file,
        line=flag.place.line,
    )


def _reading(reading: Reading) -> ReadingKeys:
    return ReadingKeys(
        characteristic=reading.characteristic,
        station=reading.station + 1,
        written=reading.written,
        low=_number(reading.low),
        high=_number(reading.high),
        with_=reading.instrument,
        taken=reading.taken.isoformat() if reading.taken else None,
        temperature=reading.temperature,
        correction=reading.correction,
        set_aside=reading.set_aside or None,
        file=reading.place.file,
        line=reading.place.line,
    )


def _concession(concession: Concession, standing: str) -> ConcessionKeys:
    return ConcessionKeys(
        rule=concession.rule.name,
        station=None if concession.station is None else concession.station + 1,
        by=concession.by,
        dated=concession.dated.isoformat(),
        until=concession.until.isoformat() if concession.until else None,
        because=concession.because,
        standing=standing,
    )


def _origin(origin: Origin) -> OriginKeys:
    place = origin.place
    return OriginKeys(origin.pack, origin.version, place.file, place.line)


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
