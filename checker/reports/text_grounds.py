"""The end of a text report: what else was said and done, what it rests on, and what is not told."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, groupby

from checker.findings.asking import seen_words
from checker.findings.finding import places
from checker.findings.permission import place_of
from checker.findings.text import Look, with_count
from checker.judging.judge import Verdict
from checker.reports.doubts import doubts
from checker.reports.overview import NOT_ASKED_BY_POLICY, Overview
from checker.reports.report import Report


def ending(report: Report, contents: Overview, whole: bool, look: Look) -> Iterator[Iterator[str]]:
    """The sections after the answers; in short, what is left out is counted."""
    if whole:
        yield _notes(report, look)
    yield _concessions(report, look)
    yield _by_eye(report, look)
    yield _left_out(report, look)
    yield _dropped(report, look)
    if whole:
        yield _other_sources(report, look)
        yield _at_face_value(report, look)
        yield chain(cautions(report, look), _quiet(report, contents, look), _grounds(report))
    else:
        yield chain(cautions(report, look), _short_grounds(report, look))


def _notes(report: Report, look: Look) -> Iterator[str]:
    if report.notes:
        yield "How readings were understood"
    for note in doubts(report.notes):
        yield from look.labelled("", str(note))


def _concessions(report: Report, look: Look) -> Iterator[str]:
    if report.concessions:
        yield "Concessions"
    for concession, standing in report.concessions:
        what = ", ".join(filter(None, (concession.rule.rule.title, place_of(concession, report.context))))
        yield from look.labelled("", f"{what}, {concession} ({standing})")


def _dropped(report: Report, look: Look) -> Iterator[str]:
    """The rules that a pack has dropped, and why."""
    for reason in report.not_asked:
        yield from look.wrapped(reason)


def _by_eye(report: Report, look: Look) -> Iterator[str]:
    if report.context.seen:
        yield "Inspections by eye"
    for inspection in report.context.seen:
        yield from look.labelled("", seen_words(inspection, report.context))


def _left_out(report: Report, look: Look) -> Iterator[str]:
    """The musts that a shop does not ask for by its own policy; those left out for one reason together."""
    together: dict[str, list[str]] = {}
    for rule, why in report.left_out:
        together.setdefault(str(why), []).append(rule.rule.title)
    if together:
        yield NOT_ASKED_BY_POLICY
    for reason, titles in together.items():
        yield from look.labelled("", f"{reason}: {'; '.join(titles)}")


def _other_sources(report: Report, look: Look) -> Iterator[str]:
    """Where something is within by this rulebook, but not by others."""
    for number, (_, group) in enumerate(groupby(report.disputed, key=lambda finding: finding.name)):
        if number == 0:
            yield "Within here, but other sources disagree"
        findings = list(group)
        first, *others = dict.fromkeys(remark for finding in findings for remark in finding.remarks)
        more = f" (and {len(others)} more like it)" if others else ""
        yield from look.labelled("", f"{with_count(findings[0].title, len(findings))}: {first}{more}")


def _at_face_value(report: Report, look: Look) -> Iterator[str]:
    """What is within, but only as far as its readings can be believed to the last digit."""
    for number, (_, group) in enumerate(groupby(report.at_face_value, key=lambda finding: finding.name)):
        if number == 0:
            yield "Within at face value: nearer to a limit than the usual uncertainty, and no instrument is named"
        findings = list(group)
        where = places(findings)
        shown = ", ".join(dict.fromkeys(finding.shown_value for finding in findings))
        yield from look.labelled("", f"{findings[0].title}{f', {where}' if where else ''}: {shown}")


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
