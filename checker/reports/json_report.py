"""The report as JSON, for programs: what every key means is declared once (report_keys.py), and stays so."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from checker.documents.document import Origin
from checker.documents.structure import unstructured
from checker.errors import Problem, UsageError, nearest, require
from checker.findings.finding import Edge, Finding
from checker.judging.judge import AMISS, Judged, Verdict
from checker.packs.layers import Retired
from checker.packs.limits import Basis
from checker.plugin import SHIPPED, Plugin, own_version
from checker.records.by_eye import EyeInspection
from checker.records.concessions import Concession
from checker.records.entry import Reading
from checker.records.flag import Flag
from checker.reports import report_keys as keys
from checker.reports.finding_keys import BandKeys, FindingKeys, GapKeys, LimitKeys, LimitsKeys, StatementKeys
from checker.reports.overview import answer
from checker.reports.report import Report
from checker.reports.report_keys import FORM, PARTS

_OF_PART: Mapping[str, tuple[Verdict, ...]] = {
    "within": (Verdict.WITHIN,),
    "open": (Verdict.NOT_MEASURED, Verdict.NOT_COVERED, Verdict.SEEN),
    "idle": (Verdict.NOT_ASKED, Verdict.NOT_APPLICABLE),
    "readings": (),
}
_WITH_A_VALUE = frozenset((Verdict.WITHIN, Verdict.ADVISORY, Verdict.UNDECIDED, Verdict.OUTSIDE))


def write_json(report: Report, parts: Iterable[str] = (), indent: int | None = None) -> str:
    """The report for programs; numbers in SI, texts as the text report shows them.

    Told are every verdict and every value judged, and in full the findings that are missed or undecided. `parts` ask
    for more: the findings "within", those "open" (not measured, not covered, seen) and "idle" (not asked, not
    applicable), and all "readings". Raises UsageError for an unknown part.
    """
    require(report, "give what rulebook.check(record) returned", Report)
    separators = (",", ":") if indent is None else None
    return json.dumps(report_data(report, parts), indent=indent, separators=separators, allow_nan=False) + "\n"


def report_data(report: Report, parts: Iterable[str] = ()) -> dict[str, Any]:
    """The same as plain dictionaries and lists."""
    asked = _asked(parts)
    wanted = [verdict for part in asked for verdict in _OF_PART[part]]
    stated = _Stated()
    findings = report.with_verdict(*AMISS, *wanted)
    named = {finding.name for finding in findings}
    codes = {judged.rule.name: judged.codes[0].tolist() for judged in report.judged}
    judged = [
        judged_rule
        for judged_rule in report.judged
        if judged_rule.rule.name in named or not _WITH_A_VALUE.isdisjoint(codes[judged_rule.rule.name])
    ]
    plan = report.context.plan
    said = keys.ReportKeys(
        report=FORM,
        program=keys.ProgramKeys(SHIPPED, own_version()),
        assembly=report.record.assembly,
        record=keys.RecordKeys(report.record.source, report.record.digest),
        packs=tuple(
            keys.PackKeys(pack=pack.name, version=pack.version, sha256=pack.digest, standing=str(pack.standing))
            for pack in report.packs
        ),
        pack_choice=report.pack_choice or None,
        plugins=tuple(_plugin(plugin) for plugin in report.plugins),
        application=report.application,
        derived_facts=report.context.derived_facts,
        before=report.before,
        milestones=tuple(keys.MilestoneKeys(name, report.context.milestones[name]) for name in report.milestones),
        inspection=keys.InspectionKeys(
            level=plan.level or None,
            title=plan.title or None,
            scope=plan.scope,
            words=report.extent or None,
            left_out=tuple(
                keys.LeftOutKeys(rule.name, rule.rule.title, why.pack, why.because) for rule, why in report.left_out
            ),
        ),
        on=report.on.isoformat(),
        decision=keys.DecisionKeys(report.context.decision.rule, str(report.context.decision)),
        status=report.status,
        answer=answer(report),
        counts={str(verdict): count for verdict, count in report.counts.items()},
        at_face_value=report.face_value_count,
        parts=asked,
        findings=tuple(_finding(finding, stated) for finding in findings),
        suspect_sheets=tuple(_flag(flag) for flag in report.suspect_sheets),
        verdicts={name: _verdicts(own) for name, own in codes.items()},
        rules={judged_rule.rule.name: _rule(judged_rule, stated) for judged_rule in judged},
        readings_in_doubt=tuple(_flag(flag) for flag in report.flags),
        notes=tuple(_flag(flag) for flag in report.notes),
        readings=tuple(_reading(reading) for reading in report.readings) if "readings" in asked else (),
        concessions=tuple(_concession(concession, standing) for concession, standing in report.concessions),
        seen=tuple(_seen(inspection) for inspection in report.context.seen),
        later_rules=tuple(report.later),
        retired_rules=tuple(_retired(retired, stated) for retired in report.retired),
        cautions=tuple(report.cautions),
        statements=tuple(stated.statements),
        bases=tuple(stated.bases),
        units={
            unit.name: keys.UnitKeys(unit.kind, unit.factor, unit.offset)
            for unit in dict.fromkeys(finding.unit for finding in findings)
            if unit is not None
        },
    )
    written: dict[str, Any] = unstructured(said)
    return written


def _asked(parts: Iterable[str]) -> tuple[str, ...]:
    given = [parts] if isinstance(parts, str) else list(parts)
    known = f"known: {', '.join(PARTS)}"
    strange = [
        Problem(f"no part {part!r} of a report", hint=nearest(part, PARTS) or known)
        for part in given
        if part not in PARTS
    ]
    if strange:
        raise UsageError(strange)
    return tuple(part for part in PARTS if part in given)


class _Stated:
    """What packs state, told once each and named by its place."""

    def __init__(self) -> None:
        self.statements: dict[StatementKeys, int] = {}
        self.bases: dict[str, int] = {}

    def by(self, origin: Origin, basis: Basis | None = None) -> int:
        """The place of a statement."""
        at = None if basis is None else self.bases.setdefault(str(basis), len(self.bases))
        place = origin.place
        statement = StatementKeys(origin.pack, place.file, place.line, at)
        return self.statements.setdefault(statement, len(self.statements))


def _verdicts(codes: Sequence[int]) -> tuple[str, ...]:
    """What a rule says of each station, or the one word that it says of all."""
    return tuple(_WORDS[code] for code in (codes[:1] if len(set(codes)) == 1 else codes))


_WORDS = {int(verdict): str(verdict) for verdict in Verdict}


def _rule(judged: Judged, stated: _Stated) -> keys.RuleKeys:
    rule = judged.rule.rule
    values = () if judged.rule.is_demand else tuple(map(_number, judged.measures.value[0].tolist()))
    return keys.RuleKeys(
        title=rule.title,
        system=rule.system,
        before=rule.before,
        stations=judged.rule.stations,
        stated=stated.by(rule.origin, rule.basis),
        caution=rule.caution or None,
        values=values,
    )


def _plugin(plugin: Plugin) -> keys.PluginKeys:
    used = {hook: tuple(names) for hook, names in plugin.adds.items()}
    return keys.PluginKeys(plugin=plugin.name, version=plugin.version, distribution=plugin.distribution, used=used)


def _retired(retired: Retired, stated: _Stated) -> keys.RetiredKeys:
    return keys.RetiredKeys(
        rule=retired.rule.name,
        title=retired.rule.title,
        system=retired.rule.system,
        because=retired.retirement.because,
        stated=stated.by(retired.retirement.origin),
    )


def _seen(inspection: EyeInspection) -> keys.SeenKeys:
    return keys.SeenKeys(
        rule=inspection.rule.name,
        station=None if inspection.station is None else inspection.station + 1,
        by=inspection.by,
        dated=inspection.dated.isoformat(),
        clear=inspection.is_clear,
    )


def _finding(finding: Finding, stated: _Stated) -> FindingKeys:
    is_demand = finding.rule.is_demand
    return FindingKeys(
        rule=finding.name,
        station=None if finding.stations is None else finding.station + 1,
        verdict=str(finding.verdict),
        side=finding.side or None,
        must_open=finding.must_open,
        at_face_value=finding.at_face_value,
        value=_number(finding.value),
        shown=finding.shown_value or None,
        unit=finding.unit.name if finding.unit else None,
        limits=None if is_demand else LimitsKeys(_band("must", finding, stated), _band("should", finding, stated)),
        margin=None if is_demand else _number(finding.margin),
        written=finding.as_written or None,
        expanded_uncertainty=_number(finding.uncertainty),
        needed_uncertainty=_number(finding.needed_uncertainty),
        remedy=finding.remedy or None,
        missing=tuple(GapKeys(gap.characteristic, gap.station, str(gap)) for gap in finding.missing),
        remarks=tuple(finding.remarks),
        concession=finding.concession or None,
    )


def _band(band: str, finding: Finding, stated: _Stated) -> BandKeys:
    edges = {edge.side: _edge(edge, finding, stated) for edge in finding.edges if edge.band == band}
    return BandKeys(edges.get("low"), edges.get("high"))


def _edge(edge: Edge, finding: Finding, stated: _Stated) -> LimitKeys:
    limit = edge.limit
    return LimitKeys(
        value=edge.value,
        shown=finding.written(edge.value),
        counts_as=edge.counted,
        part_sheet=edge.from_part_sheet or None,
        stated=None if limit is None else stated.by(limit.origin, limit.basis or finding.rule.rule.basis),
    )


def _flag(flag: Flag) -> keys.FlagKeys:
    return keys.FlagKeys(
        characteristic=flag.characteristic,
        where=flag.where or None,
        written=flag.written,
        message=flag.message,
        refused=flag.is_refused,
        file=flag.place.file,
        line=flag.place.line,
    )


def _reading(reading: Reading) -> keys.ReadingKeys:
    return keys.ReadingKeys(
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


def _concession(concession: Concession, standing: str) -> keys.ConcessionKeys:
    return keys.ConcessionKeys(
        rule=concession.rule.name,
        station=None if concession.station is None else concession.station + 1,
        by=concession.by,
        dated=concession.dated.isoformat(),
        until=concession.until.isoformat() if concession.until else None,
        because=concession.because,
        standing=standing,
    )


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
