"""The end of a text report: what else was said and done, what it rests on, and what is not told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

from checker.findings.finding import places
from checker.findings.text import Look, with_count
from checker.grouping import grouped
from checker.judging.judge import Verdict
from checker.reports.overview import NOT_ASKED_BY_POLICY, Overview, doubts
from checker.reports.report import Report

_AT_FACE_VALUE = "Within at face value: nearer to a limit than the usual uncertainty, and no instrument is named"


def section(title: str, entries: Iterable[object], look: Look, label: str = "") -> Iterator[str]:
    """Entries below a title, each behind a label; nothing where there are none."""
    for number, entry in enumerate(entries):
        if number == 0:
            yield title
        yield from look.labelled(label, str(entry))


def ending(report: Report, contents: Overview, whole: bool, look: Look) -> Iterator[Iterator[str]]:
    """The sections after the answers; in short, what is left out is counted."""
    if whole:
        yield section("How readings were understood", doubts(report.notes), look)
    yield section("Concessions", contents.concessions, look)
    yield section("Inspections by eye", contents.seen, look)
    left_out = grouped(report.left_out, lambda pair: str(pair[1]))
    policies = (f"{why}: {'; '.join(rule.rule.title for rule, _ in rules)}" for why, rules in left_out.items())
    yield section(NOT_ASKED_BY_POLICY, policies, look)
    yield chain.from_iterable(map(look.wrapped, report.not_asked))
    if whole:
        yield section("Within here, but other sources disagree", _other_sources(report), look)
        yield section(_AT_FACE_VALUE, _at_face_value(report), look)
        yield chain(cautions(report, look), _quiet(report, contents, look), _grounds(report))
    else:
        yield chain(cautions(report, look), _short_grounds(report, look))


def _other_sources(report: Report) -> Iterator[str]:
    """Where something is within by this rulebook, but not by others."""
    for findings in grouped(report.disputed, lambda finding: finding.name).values():
        first, *others = dict.fromkeys(remark for finding in findings for remark in finding.remarks)
        more = f" (and {len(others)} more like it)" if others else ""
        yield f"{with_count(findings[0].title, len(findings))}: {first}{more}"


def _at_face_value(report: Report) -> Iterator[str]:
    """What is within, but only as far as its readings can be believed to the last digit."""
    for findings in grouped(report.at_face_value, lambda finding: finding.name).values():
        where = places(findings)
        shown = ", ".join(dict.fromkeys(finding.shown_value for finding in findings))
        yield f"{findings[0].title}{f', {where}' if where else ''}: {shown}"


def _quiet(report: Report, contents: Overview, look: Look) -> Iterator[str]:
    """What is not judged here at all."""
    for system, titles in contents.not_asked:
        yield from look.labelled("not asked", f"{system}: {'; '.join(titles)}")
    if idle := sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)):
        yield from look.labelled(
            "not applicable", f"{idle} rule{'s' if idle > 1 else ''}; --format json says of each why"
        )
    if later := len(report.later):
        yield from look.labelled("not yet due", f"{later} rule{'s' if later > 1 else ''} of later milestones")


def _besides(report: Report) -> Iterator[str]:
    """What the whole report tells besides, counted; the headline has counted what is within at face value."""
    disputed = len({finding.name for finding in report.disputed})
    for count, noun, what in (
        (report.counts[Verdict.NOT_COVERED], "check", "without a limit"),
        (len(report.notes), "note", "on how readings were understood"),
        (disputed, "rule", "other sources dispute"),
        (sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)), "rule", "not for this build"),
        (len(report.later), "rule", "not due yet"),
    ):
        if count:
            yield f"{count} {noun}{'s' if count > 1 else ''} {what}"


def cautions(report: Report, look: Look) -> Iterator[str]:
    """What can hurt, whatever the verdicts."""
    if report.cautions:
        yield from look.wrapped(f"Cautions: {' '.join(report.cautions)}")


def _grounds(report: Report) -> Iterator[str]:
    """What was judged by what, for whoever judges it again."""
    yield from report.grounds
    yield f"decision: {report.context.decision}"
    bare, all_of_them = report.without_uncertainty
    if bare:
        yield f"{bare} of {all_of_them} readings {report.what_is_unstated}"
    yield f"judged on {report.on}"


def _short_grounds(report: Report, look: Look) -> Iterator[str]:
    """The same in a sentence or two."""
    bare, all_of_them = report.without_uncertainty
    sentences = [f"Judged on {report.on} by {', '.join(f'{pack}{pack.remark}' for pack in report.packs)}."]
    if bare:
        count = f"All {bare}" if bare == all_of_them > 1 else f"{bare} of {all_of_them}"
        sentences.append(f"{count} readings {report.what_is_unstated}.")
    if report.context.decision.chosen_by:
        sentences.append(f"Decision: {report.context.decision}.")
    sentences.append(f"More with --all: every basis, {', '.join(_besides(report)) or 'the digests'}.")
    yield from look.wrapped(" ".join(sentences))
    yield from (f"plugin {plugin} ({plugin.added})" for plugin in report.plugins)
