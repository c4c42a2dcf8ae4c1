"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from itertools import groupby

from checker.finding import Finding, listed
from checker.judge import Verdict
from checker.report import Report

WIDTH = 100
Paint = Callable[[str, Verdict | None], str]
_SHOWN = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.NOT_COVERED)
_INDENT = " " * 14


def plain(text: str, verdict: Verdict | None) -> str:
    """No colour at all."""
    return text


def write_text(report: Report, paint: Paint = plain) -> str:
    """The whole report; `paint` may colour a piece of text by the verdict it speaks of."""
    lines = [*_head(report), "", *_answer(report, paint), ""]
    for system, findings in report.by_system():
        lines += [*_system(system, findings, paint), ""]
    lines += [*_flags(report), *_foot(report)]
    return "\n".join(lines).rstrip() + "\n"


def answer(report: Report) -> str:
    """The headline: may the build go on?"""
    counts = report.counts
    broken = sum(finding.breaks_must for finding in report.outside)
    accepted = counts[Verdict.OUTSIDE] - broken
    open_musts = sum(int(judged.must_open.sum()) for judged in report.judged)
    parts = [
        f"{broken} must{'s' if broken > 1 else ''} broken" if broken else "",
        f"{open_musts} must{'s' if open_musts > 1 else ''} not judged" if open_musts else "",
        f"{counts[Verdict.ADVISORY]} advisory" if counts[Verdict.ADVISORY] else "",
        f"{accepted} accepted by concession" if accepted else "",
        f"{counts[Verdict.WITHIN]} within",
    ]
    told = ", ".join(part for part in parts if part)
    aim = f" before {report.before}" if report.before else ""
    if report.status == 1:
        return f"STOP{aim}: {told}."
    return f"NOT YET{aim}: {told}." if report.status == 3 else f"EVERY MUST HOLDS{aim}: {told}."


def _head(report: Report) -> Iterator[str]:
    record = report.record
    title = report.context.application_title
    yield f"{record.assembly}: judged for {report.application} ({title})"
    yield f"record {record.source}, SHA-256 {record.digest[:12]}"
    for pack in report.packs:
        yield f"rule pack {pack}, SHA-256 {pack.digest[:12]}"
    yield f"decision: {report.context.decision}"


def _answer(report: Report, paint: Paint) -> Iterator[str]:
    verdict = {0: Verdict.WITHIN, 1: Verdict.OUTSIDE}.get(report.status, Verdict.NOT_MEASURED)
    yield paint(answer(report), verdict)


def _system(system: str, findings: tuple[Finding, ...], paint: Paint) -> Iterator[str]:
    yield system
    for finding in findings:
        if finding.verdict in _SHOWN and finding.verdict is not Verdict.NOT_MEASURED:
            yield from _detail(finding, paint)
    missing = [finding for finding in findings if finding.verdict is Verdict.NOT_MEASURED]
    for _, group in groupby(missing, key=lambda finding: finding.name):
        yield from _not_measured(list(group), paint)
    remarked = [finding for finding in findings if finding.verdict is Verdict.WITHIN]
    for line in dict.fromkeys(f"{finding.title}: {remark}" for finding in remarked for remark in finding.remarks):
        yield from _wrapped("", f"note: {line}")
    yield from _quiet(findings, paint)


def _detail(finding: Finding, paint: Paint) -> Iterator[str]:
    where = f", {finding.where}" if finding.where else ""
    value = f": {finding.shown_value}" if finding.shown_value else ""
    yield from _wrapped(paint(_label(finding), finding.verdict), f"{finding.title}{where}{value}", len(_label(finding)))
    for line in detail_lines(finding):
        yield from _wrapped("", line)


def detail_lines(finding: Finding) -> Iterator[str]:
    """What there is to say about one finding, a line each."""
    bands = [f"{band} {text}" for band in ("must", "should") if (text := finding.band(band))]
    if bands:
        yield "; ".join([*bands, finding.missed_by] if finding.missed_by else bands)
    yield from finding.remarks
    if finding.remedy:
        yield f"do: {finding.remedy}"
    if finding.concession:
        yield finding.concession
    if finding.verdict in (Verdict.OUTSIDE, Verdict.UNDECIDED) and finding.rule.rule.caution:
        yield f"caution: {finding.rule.rule.caution}"
    yield f"before {finding.rule.rule.before}; {finding.source}"


def _not_measured(findings: list[Finding], paint: Paint) -> Iterator[str]:
    first = findings[0]
    label = _label(first)
    yield from _wrapped(paint(label, first.verdict), _with_count(first.title, len(findings)), len(label))
    missing = listed(gap for finding in findings for gap in finding.missing)
    if missing:
        yield from _wrapped("", f"still to measure: {'; '.join(missing)} (before {first.rule.rule.before})")


def _quiet(findings: tuple[Finding, ...], paint: Paint) -> Iterator[str]:
    """What needs no attention, one line a verdict."""
    for verdict in (Verdict.WITHIN, Verdict.NOT_APPLICABLE):
        titles = [finding.title for finding in findings if finding.verdict is verdict]
        if titles:
            counted = [_with_count(title, titles.count(title)) for title in dict.fromkeys(titles)]
            yield from _wrapped(paint(str(verdict), verdict), ", ".join(counted), len(str(verdict)))


def _with_count(title: str, count: int) -> str:
    return f"{title} ({count})" if count > 1 else title


def _label(finding: Finding) -> str:
    if finding.verdict is Verdict.OUTSIDE:
        return "accepted" if finding.concession else "OUTSIDE"
    return str(finding.verdict)


def _wrapped(label: str, text: str, label_length: int = 0) -> Iterator[str]:
    lines = textwrap.wrap(text, WIDTH - len(_INDENT) - 2, break_on_hyphens=False) or [""]
    yield f"  {label}{' ' * max(1, len(_INDENT) - 2 - label_length)}{lines[0]}"
    for line in lines[1:]:
        yield _INDENT + line


def _flags(report: Report) -> Iterator[str]:
    if report.flags:
        yield "Readings in doubt"
        for flag in report.flags:
            yield from _wrapped("refused" if flag.is_refused else "look again", str(flag), 7 if flag.is_refused else 10)
        yield ""


def _foot(report: Report) -> Iterator[str]:
    if report.later:
        yield f"{len(report.later)} rules for later milestones were not judged."
    yield "Cautions"
    for text in report.cautions:
        yield from (line for line in textwrap.wrap(f"- {text}", WIDTH, initial_indent="  ", subsequent_indent="    "))
