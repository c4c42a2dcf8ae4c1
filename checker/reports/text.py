"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Set
from itertools import groupby
from operator import itemgetter

import numpy as np

from checker.errors import Problem, UsageError, nearest
from checker.findings.finding import Finding
from checker.findings.permission import place_of
from checker.findings.text import WIDTH, Paint, finding_lines, labelled, plain, with_count, wrapped
from checker.judging.judge import Verdict
from checker.records.flag import Flag
from checker.reports.report import BROKEN, HELD, NOT_JUDGED, Report
from checker.reports.summary import JUDGED, SEEN, RuleLine, rule_lines, system_lines
from checker.reports.unlocks import answers, readings
from checker.reports.work import work_of

_SHOWN = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.NOT_COVERED)
_ALWAYS_SHOWN = (Verdict.OUTSIDE, Verdict.UNDECIDED)
_FEW_RULES = 25
"""While no more rules than these were judged, each has a line; of more, each system."""
_NEAR_SYSTEMS = 8
_MOST_NAMED = 4
_LABEL, _TITLE, _VALUES = 14, 42, 20
_MOST_NEXT = 3
_MANY = 10
"""With no more open checks than these, the milestones alone say what is missing."""
_NUMBERS = ("", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")


def write_text(report: Report, paint: Paint = plain, whole: bool = False, system: str = "") -> str:
    """The report in short, the whole of it, or in short with one system opened.

    `paint` may colour a piece of text by the verdict it speaks of. Raises UsageError for a system that there is not.
    """
    opened = frozenset(report.systems) if whole else _called(report, system) if system else frozenset()
    lines = [*_head(report), *_answer(report, paint), ""]
    for name, findings in _worst_first(report, opened):
        lines += [name, *finding_lines(findings, paint, name in opened), ""]
    for section in (
        _judged(report, paint, opened),
        _waiting(report),
        _milestones(report, paint),
        _flags(report),
        _notes(report) if whole else (),
        _concessions(report),
        _other_sources(report) if whole else (),
        *((_cautions(report), _quiet(report), _grounds(report)) if whole else ()),
        () if whole else (*_cautions(report), *_short_grounds(report)),
    ):
        written = list(section)
        lines += [*written, ""] if written else []
    return "\n".join(lines).rstrip() + "\n"


def _called(report: Report, asked: str) -> frozenset[str]:
    """The systems whose titles have the words that were asked for, as whole words where there are such."""
    as_words = re.compile(rf"\b{re.escape(asked)}\b", re.IGNORECASE)
    found = [name for name in report.systems if as_words.search(name)]
    found = found or [name for name in report.systems if asked.lower() in name.lower()]
    if not found:
        hint = nearest(asked, report.systems) or f"known: {', '.join(report.systems)}"
        raise UsageError(Problem(f"no system is called {asked!r}", hint=hint))
    return frozenset(found)


def answer(report: Report) -> str:
    """The headline: may the build go on?"""
    counts = report.counts
    broken = sum(finding.breaks_must for finding in report.outside)
    accepted = counts[Verdict.OUTSIDE] - broken
    open_musts = sum(int(judged.must_open.sum()) for judged in report.judged)
    undecided, not_covered = (_besides_musts(report, it) for it in (Verdict.UNDECIDED, Verdict.NOT_COVERED))
    uncounted = len(report.uncounted)
    parts = [
        f"{broken} out of limits" if broken else "",
        f"{open_musts} required check{'s' if open_musts > 1 else ''} still open" if open_musts else "",
        f"{uncounted} kind{'s' if uncounted > 1 else ''} of station not counted" if uncounted else "",
        f"{counts[Verdict.ADVISORY]} advisory" if counts[Verdict.ADVISORY] else "",
        f"{undecided} undecided advice" if undecided else "",
        f"{not_covered} not covered" if not_covered else "",
        f"{accepted} accepted by concession" if accepted else "",
        f"{counts[Verdict.WITHIN]} within",
    ]
    told = ", ".join(part for part in parts if part)
    aim = f" {report.context.milestones[report.before]}" if report.before else ""
    if report.status == BROKEN:
        return f"STOP{aim}: {told}."
    return f"NOT YET{aim}: {told}." if report.status == NOT_JUDGED else f"ALL REQUIRED CHECKS HOLD{aim}: {told}."


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


def _worst_first(report: Report, opened: Set[str]) -> list[tuple[str, tuple[Finding, ...]]]:
    """The systems with something to see to; those that are alike bad in the order of the build."""
    found = report.by_system(*(_SHOWN if opened else _ALWAYS_SHOWN))
    shown = [
        (system, tuple(it for it in findings if system in opened or it.verdict in _ALWAYS_SHOWN))
        for system, findings in found
    ]
    return sorted(filter(itemgetter(1), shown), key=lambda pair: -max(finding.verdict for finding in pair[1]))


def _judged(report: Report, paint: Paint, opened: Set[str]) -> Iterator[str]:
    """What was judged: a line a rule, and where there are too many for that, a line a system."""
    judged = sum(1 for one in report.judged if np.isin(one.codes, JUDGED).any())
    is_short = judged > _FEW_RULES
    shown = opened if is_short else frozenset(report.systems)
    found = [
        (system, list(rule_lines(found, system in opened)))
        for system, found in report.by_system(*SEEN)
        if system in shown
    ]
    if any(lines for _, lines in found):
        yield f"{'What was judged':<{_LABEL + _TITLE}} {'measured':<{_VALUES}} limits"
    for system, lines in found:
        if lines and opened:
            yield f"  {system}"
        for line in lines:
            yield from _rule_line(line, paint)
    if is_short:
        yield from ["", *_systems(report, paint)] if found else _systems(report, paint)


def _rule_line(line: RuleLine, paint: Paint) -> Iterator[str]:
    label = "OUTSIDE" if line.verdict == str(Verdict.OUTSIDE) else line.verdict
    verdict = next((it for it in JUDGED if str(it) == line.verdict), Verdict.NOT_MEASURED)
    where = f", {line.where}" if line.where else f" ({line.stations})" if line.stations > 1 else ""
    values = f"{line.values:<{_VALUES}} {line.limits}".rstrip()
    told = f"{line.title}{where}"
    text = f"{told:<{_TITLE}} {values}"
    if len(text) > WIDTH - _LABEL:
        text = f"{told} {line.values}; {line.limits}".rstrip("; ")
    if line.remarks and line.limits:
        text = "; ".join((text, *line.remarks))
    yield from _beside(paint(label, verdict), label, text)
    for remark in () if line.limits else line.remarks:
        yield from _beside("", "", f"  {remark}")


def _beside(shown: str, label: str, text: str) -> Iterator[str]:
    """Text folded beside a narrow label."""
    lines = textwrap.wrap(text, WIDTH - _LABEL, drop_whitespace=True, break_on_hyphens=False, subsequent_indent="  ")
    yield f"    {shown}{' ' * (_LABEL - 4 - len(label))}{lines[0]}"
    yield from (" " * _LABEL + line for line in lines[1:])


def _systems(report: Report, paint: Paint) -> Iterator[str]:
    yield "Within, and what is nearest to a limit and by how much"
    lines = system_lines(report)
    near = [line for line in lines if line.nearest][:_NEAR_SYSTEMS]
    for line in near:
        count = f"{line.within:>4}"
        told = textwrap.wrap(f"{line.system}: {line.nearest}", WIDTH - 7, break_on_hyphens=False)
        yield f"  {paint(count, Verdict.WITHIN)} {told[0]}"
        yield from (" " * 9 + more for more in told[1:])
    if others := [f"{line.system} {line.within}" for line in lines if line not in near]:
        yield from textwrap.wrap(", ".join(others), WIDTH, initial_indent=" " * 7, subsequent_indent=" " * 7)


def _waiting(report: Report) -> Iterator[str]:
    """What to state or to measure next, by how much it lets be judged."""
    if asked := answers(report):
        things = [title for step in asked for title in step.titles]
        checks = sum(step.checks for step in asked)
        number = _NUMBERS[len(things)] if len(things) < len(_NUMBERS) else str(len(things))
        answer = "answer" if len(things) == 1 else "answers"
        yield from wrapped(f"{number} {answer} would judge {checks} more of what was measured: {', '.join(things)}.")
    if report.counts[Verdict.NOT_MEASURED] > _MANY and (asked := readings(report)):
        told = "; ".join(f"{' and '.join(step.titles)} ({step.checks})" for step in asked[:_MOST_NEXT])
        yield from wrapped(f"To measure next, by how many checks it lets be judged: {told}.")


def _milestones(report: Report, paint: Paint) -> Iterator[str]:
    """What is still open before each milestone, in a line."""
    works = [work for work in work_of(report) if work.stands_in_the_way]
    if works:
        yield "Still to do; checker next names all of it"
    for work in works:
        parts = [
            f"{len(work.mend)} out of limits" if work.mend else "",
            f"{work.open} required check{'s' if work.open > 1 else ''} still open" if work.open else "",
        ]
        named = "; ".join(work.measure[: _MOST_NAMED - 2])
        yield from _cut(f"  {work.title}: {', '.join(filter(None, parts))}", named)


def _cut(text: str, named: str) -> Iterator[str]:
    """One line, with as much of an example as it has room for."""
    room = WIDTH - len(text) - 2
    example = textwrap.shorten(named, room, placeholder=" ...") if named and room > 20 else ""
    yield f"{text}: {example}" if example and example != "..." else text


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
        yield from labelled(("not accepted" if is_refused else "check this") if label is None else label, told)


def _reading(flag: Flag) -> str:
    where = f", {flag.where}" if flag.where else ""
    return f"{flag.title}{where} ({flag.written})"


def _concessions(report: Report) -> Iterator[str]:
    if report.concessions:
        yield "Concessions"
    for concession, standing in report.concessions:
        what = ", ".join(filter(None, (concession.rule.rule.title, place_of(concession, report.context))))
        yield from labelled("", f"{what}, {concession} ({standing})")


def _other_sources(report: Report) -> Iterator[str]:
    """Where something is within by this rulebook, but not by others."""
    for number, (_, group) in enumerate(groupby(report.disputed, key=lambda finding: finding.name)):
        if number == 0:
            yield "Within here, but other sources disagree"
        found = list(group)
        first, *others = dict.fromkeys(remark for finding in found for remark in finding.remarks)
        more = f" (and {len(others)} more like it)" if others else ""
        yield from labelled("", f"{with_count(found[0].title, len(found))}: {first}{more}")


def _quiet(report: Report) -> Iterator[str]:
    """What is not judged here at all, counted."""
    if idle := sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)):
        yield from labelled("not applicable", f"{idle} rules; --format json says of each why")
    if report.later:
        yield from labelled("not yet due", f"{len(report.later)} rules of later milestones")


def _left_out(report: Report) -> Iterator[str]:
    """What the whole report tells besides, counted."""
    disputed = len({finding.name for finding in report.disputed})
    for count, what in (
        (report.counts[Verdict.NOT_COVERED], "checks without a limit for these facts"),
        (len(report.notes), "notes on how readings were understood"),
        (disputed, "rules of which other sources say something else"),
        (sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)), "rules that do not apply"),
        (len(report.later), "rules not due yet"),
    ):
        if count:
            yield f"{count} {what}"


def _cautions(report: Report) -> Iterator[str]:
    if report.cautions:
        yield from wrapped(f"Cautions: {' '.join(report.cautions)}")


def _grounds(report: Report) -> Iterator[str]:
    """What was judged by what, for whoever judges it again."""
    yield from report.grounds
    yield f"decision: {report.context.decision}"
    bare, all_of_them = report.without_uncertainty
    if bare:
        yield f"{bare} of {all_of_them} readings {report.what_is_unstated}"
    yield f"judged on {report.on}"


def _short_grounds(report: Report) -> Iterator[str]:
    """The same in a sentence or two."""
    bare, all_of_them = report.without_uncertainty
    told = [f"Judged on {report.on} by {', '.join(f'{pack}{pack.remark}' for pack in report.packs)}."]
    if bare:
        told.append(f"{bare} of {all_of_them} readings {report.what_is_unstated}.")
    if report.context.decision.chosen_by:
        told.append(f"Decision: {report.context.decision}.")
    told.append(f"More with --all: every basis, {', '.join(_left_out(report)) or 'the digests'}.")
    yield from wrapped(" ".join(told))
