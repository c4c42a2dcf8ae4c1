"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import groupby

from checker.errors import require
from checker.findings.asking import seen_words
from checker.findings.finding import Finding, places
from checker.findings.permission import place_of
from checker.findings.text import WIDTH, Paint, finding_lines, labelled, plain, with_count
from checker.judging.judge import Verdict
from checker.records.flag import Flag
from checker.reports.report import BROKEN, HELD, NOT_JUDGED, Report

_SHOWN = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.NOT_COVERED)


def write_text(report: Report, paint: Paint = plain) -> str:
    """The whole report; `paint` may colour a piece of text by the verdict it speaks of."""
    require(report, "give what rulebook.check(record) returned", Report)
    lines = [*_head(report), "", *_answer(report, paint), ""]
    for system, findings in _worst_first(report):
        lines += [system, *finding_lines(findings, paint), ""]
    for section in (
        _flags(report),
        _notes(report),
        _concessions(report),
        _by_eye(report),
        _left_out(report),
        _other_sources(report),
        _not_asked(report),
        _at_face_value(report),
        _quiet(report, paint),
        _cautions(report),
        _grounds(report),
    ):
        written = list(section)
        lines += [*written, ""] if written else []
    return "\n".join(lines).rstrip() + "\n"


def answer(report: Report) -> str:
    """The headline: may the build go on?"""
    counts = report.counts
    broken = sum(finding.breaks_must for finding in report.outside)
    accepted = counts[Verdict.OUTSIDE] - broken
    open_musts = sum(int(judged.must_open.sum()) for judged in report.judged)
    undecided, not_covered = (_besides_musts(report, it) for it in (Verdict.UNDECIDED, Verdict.NOT_COVERED))
    uncounted = len(report.uncounted)
    parts = [
        f"{broken} must{'s' if broken > 1 else ''} broken" if broken else "",
        f"{open_musts} must{'s' if open_musts > 1 else ''} not judged" if open_musts else "",
        f"{uncounted} kind{'s' if uncounted > 1 else ''} of station not counted" if uncounted else "",
        f"{counts[Verdict.ADVISORY]} advisory" if counts[Verdict.ADVISORY] else "",
        f"{undecided} undecided advice" if undecided else "",
        f"{not_covered} not covered" if not_covered else "",
        f"{accepted} accepted by concession" if accepted else "",
        f"{counts[Verdict.SEEN]} seen clear" if counts[Verdict.SEEN] else "",
        f"{counts[Verdict.WITHIN]} within",
        f"{len(report.at_face_value)} of them at face value" if report.at_face_value else "",
    ]
    told = "; ".join(filter(None, (", ".join(part for part in parts if part), report.extent)))
    aim = f" before {report.before}" if report.before else ""
    if report.status == BROKEN:
        return f"STOP{aim}: {told}."
    return f"NOT YET{aim}: {told}." if report.status == NOT_JUDGED else f"EVERY MUST HOLDS{aim}: {told}."


def _besides_musts(report: Report, verdict: Verdict) -> int:
    """At how many stations a rule says this, those left out where a must is not judged."""
    return sum(int(((judged.codes == verdict) & ~judged.must_open).sum()) for judged in report.judged)


def _head(report: Report) -> Iterator[str]:
    yield report.record.assembly
    yield f"judged for {report.application} ({report.context.application_title})"


def _answer(report: Report, paint: Paint) -> Iterator[str]:
    verdict = {HELD: Verdict.WITHIN, BROKEN: Verdict.OUTSIDE}.get(report.status, Verdict.NOT_MEASURED)
    yield paint(answer(report), verdict)
    if report.flags:
        yield "Some readings are in doubt; they are named below."


def _worst_first(report: Report) -> list[tuple[str, tuple[Finding, ...]]]:
    """The systems with something to see to; those that are alike bad in the order of the build."""
    return sorted(report.by_system(*_SHOWN), key=lambda pair: -max(finding.verdict for finding in pair[1]))


def _flags(report: Report) -> Iterator[str]:
    if report.flags:
        yield "Readings in doubt"
    yield from _together(report.flags)


def _notes(report: Report) -> Iterator[str]:
    if report.notes:
        yield "How readings were understood"
    yield from _together(report.notes, "")


def _together(flags: Iterable[Flag], label: str | None = None) -> Iterator[str]:
    """Flags that say the same as one paragraph."""
    alike: dict[tuple[bool, str], list[Flag]] = {}
    for flag in flags:
        alike.setdefault((flag.is_refused, flag.message), []).append(flag)
    for (is_refused, message), found in alike.items():
        told = str(found[0]) if len(found) == 1 else f"{message}: {'; '.join(map(_reading, found))}"
        yield from labelled(("refused" if is_refused else "look again") if label is None else label, told)


def _reading(flag: Flag) -> str:
    where = f", {flag.where}" if flag.where else ""
    return f"{flag.title}{where} ({flag.written})"


def _concessions(report: Report) -> Iterator[str]:
    if report.concessions:
        yield "Concessions"
    for concession, standing in report.concessions:
        what = ", ".join(filter(None, (concession.rule.rule.title, place_of(concession, report.context))))
        yield from labelled("", f"{what}, {concession} ({standing})")


def _not_asked(report: Report) -> Iterator[str]:
    """The rules that a pack has dropped, and why."""
    for told in report.not_asked:
        yield from textwrap.wrap(told, WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def _by_eye(report: Report) -> Iterator[str]:
    if report.context.seen:
        yield "Inspections by eye"
    for found in report.context.seen:
        yield from labelled("", seen_words(found, report.context))


def _left_out(report: Report) -> Iterator[str]:
    """The musts that a shop does not ask for by its own policy; those left out for one reason together."""
    together: dict[str, list[str]] = {}
    for rule, why in report.left_out:
        together.setdefault(str(why), []).append(rule.rule.title)
    if together:
        yield "Musts that were not asked by policy"
    for reason, titles in together.items():
        yield from labelled("", f"{reason}: {'; '.join(titles)}")


def _other_sources(report: Report) -> Iterator[str]:
    """Where something is within by this rulebook, but not by others."""
    for number, (_, group) in enumerate(groupby(report.disputed, key=lambda finding: finding.name)):
        if number == 0:
            yield "Within here, but other sources disagree"
        found = list(group)
        first, *others = dict.fromkeys(remark for finding in found for remark in finding.remarks)
        more = f" (and {len(others)} more like it)" if others else ""
        yield from labelled("", f"{with_count(found[0].title, len(found))}: {first}{more}")


def _at_face_value(report: Report) -> Iterator[str]:
    """What is within, but only as far as its readings can be believed to the last digit."""
    for number, (_, group) in enumerate(groupby(report.at_face_value, key=lambda finding: finding.name)):
        if number == 0:
            yield "Within at face value: nearer to a limit than such readings are usually sure, and no instrument named"
        found = list(group)
        where = places(found)
        shown = ", ".join(dict.fromkeys(finding.shown_value for finding in found))
        yield from labelled("", f"{found[0].title}{f', {where}' if where else ''}: {shown}")


def _quiet(report: Report, paint: Paint) -> Iterator[str]:
    """What needs no attention, counted by system."""
    held: Counter[str] = Counter(dict.fromkeys(report.systems, 0))
    for rule, count in report.rules_with(Verdict.WITHIN):
        held[rule.rule.system] += count
    if held.total():
        told = ", ".join(f"{system} {count}" for system, count in held.items() if count)
        yield from labelled(paint("within", Verdict.WITHIN), told, len("within"))
    unasked: Counter[str] = Counter()
    for rule, count in report.rules_with(Verdict.NOT_ASKED):
        unasked[rule.rule.system] += count
    if unasked:
        told = ", ".join(f"{system} {count}" for system, count in unasked.items())
        yield from labelled("not asked", f"{told}; --format json says of each why")
    if idle := sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)):
        yield from labelled("not applicable", f"{idle} rules; --format json says of each why")
    if report.later:
        yield from labelled("not yet due", f"{len(report.later)} rules of later milestones")


def _cautions(report: Report) -> Iterator[str]:
    if report.cautions:
        yield "Cautions"
    for text in report.cautions:
        yield from textwrap.wrap(f"- {text}", WIDTH, initial_indent="  ", subsequent_indent="    ")


def _grounds(report: Report) -> Iterator[str]:
    """What was judged by what, for whoever judges it again."""
    yield from report.grounds
    yield f"decision: {report.context.decision}"
    bare, all_of_them = report.without_uncertainty
    if bare:
        yield f"{bare} of {all_of_them} readings {report.what_is_unstated}"
    yield f"judged on {report.on}"
