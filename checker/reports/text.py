"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Set
from itertools import groupby
from operator import itemgetter

import numpy as np

from checker.errors import Problem, UsageError, nearest, require
from checker.findings.asking import seen_words
from checker.findings.finding import Finding, places
from checker.findings.permission import place_of
from checker.findings.text import WIDTH, Paint, finding_lines, labelled, plain, with_count, wrapped
from checker.judging.judge import Verdict
from checker.records.flag import Flag
from checker.reports.report import BROKEN, HELD, NOT_JUDGED, Report
from checker.reports.summary import JUDGED, OPEN, TOLD, RuleLine, rule_lines, system_lines
from checker.reports.unlocks import answers, readings
from checker.reports.work import work_of

_SHOWN = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.NOT_COVERED)
_ALWAYS_SHOWN = (Verdict.OUTSIDE, Verdict.UNDECIDED)
_FIRST = ("outside", "accepted", "undecided", "advisory", OPEN, "within")
"""The order of the lines of what was judged."""
_FEW_RULES = 25
"""While no more rules than these were judged, each has a line; of more, each system."""
_NEAR_SYSTEMS = 4
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
    require(report, "give what rulebook.check(record) returned", Report)
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
        _by_eye(report),
        _left_out(report),
        _other_sources(report) if whole else (),
        _not_asked(report),
        _at_face_value(report) if whole else (),
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
        f"{counts[Verdict.SEEN]} seen clear" if counts[Verdict.SEEN] else "",
        f"{counts[Verdict.WITHIN]} within",
        f"{len(report.at_face_value)} of them at face value" if report.at_face_value else "",
    ]
    told = "; ".join(filter(None, (", ".join(part for part in parts if part), report.extent)))
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
        (system, tuple(it for it in findings if system in opened or _is_told_in_full(it))) for system, findings in found
    ]
    return sorted(filter(itemgetter(1), shown), key=lambda pair: -max(finding.verdict for finding in pair[1]))


def _is_told_in_full(finding: Finding) -> bool:
    """Advice has a line or two among what was judged."""
    return finding.verdict is Verdict.OUTSIDE or (finding.verdict is Verdict.UNDECIDED and finding.must_open)


def _judged(report: Report, paint: Paint, opened: Set[str]) -> Iterator[str]:
    """What was judged: a line a rule, and where there are too many for that, a line a system."""
    is_short = sum(1 for one in report.judged if np.isin(one.codes, JUDGED).any()) > _FEW_RULES
    written = list(_lines_by_system(report, paint, opened) if opened else _lines_by_verdict(report, paint, is_short))
    if written:
        title = "What was judged" if opened or not is_short else "Advised"
        yield f"{title:<{_LABEL + _TITLE}} {'measured':<{_VALUES}} limits"
        yield from written
    if is_short:
        yield from ["", *_systems(report, paint)] if written else _systems(report, paint)


def _lines_by_system(report: Report, paint: Paint, opened: Set[str]) -> Iterator[str]:
    for system, findings in report.by_system(*TOLD):
        lines = list(rule_lines(findings)) if system in opened else []
        if lines:
            yield f"  {system}"
        for line in lines:
            yield from _rule_line(line, paint)
            yield from (text for remark in line.remarks for text in _beside("", "", f"  {remark}"))


def _lines_by_verdict(report: Report, paint: Paint, is_short: bool) -> Iterator[str]:
    """What needs attention first, then what is within; where that is much, advice alone."""
    wanted = (Verdict.ADVISORY, Verdict.UNDECIDED) if is_short else TOLD
    lines = [line for _, findings in report.by_system(*wanted) for line in rule_lines(findings, whole=False)]
    for line in sorted(lines, key=lambda line: (_FIRST.index(line.verdict), not line.is_plain)):
        yield from _rule_line(line, paint)
        yield from _beside("", "", f"  do: {line.action}") if line.action else ()


def _rule_line(line: RuleLine, paint: Paint) -> Iterator[str]:
    label = "OUTSIDE" if line.verdict == str(Verdict.OUTSIDE) else line.verdict
    verdict = next((it for it in JUDGED if str(it) == line.verdict), Verdict.NOT_MEASURED)
    where = f", {line.where}" if line.where else f" ({line.stations})" if line.stations > 1 else ""
    limits = line.limits or (f"needs {line.waits_for}" if line.waits_for else "")
    told = f"{line.title}{where}"
    text = f"{told:<{_TITLE}} {line.values:<{_VALUES}} {limits}".rstrip()
    if len(text) > WIDTH - _LABEL:
        text = f"{told} {line.values}; {limits}".rstrip("; ")
    yield from _beside(paint(label, verdict), label, text)


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
    yield from _depending(report)
    if report.counts[Verdict.NOT_MEASURED] > _MANY and (asked := readings(report)):
        told = "; ".join(f"{' and '.join(step.titles)} ({step.checks})" for step in asked[:_MOST_NEXT])
        yield from wrapped(f"To measure next, and how many checks it opens: {told}.")


def _depending(report: Report) -> Iterator[str]:
    """What an answer decides: the verdicts under each choice."""
    for line in (line for _, findings in report.by_system(*TOLD) for line in rule_lines(findings, whole=False)):
        if line.verdict == OPEN and not line.is_plain:
            told = textwrap.wrap(f"{line.title} {line.remarks[0]}", WIDTH - 2, break_on_hyphens=False)
            yield from (f"  {indent}{text}" for indent, text in zip(("", *["  "] * len(told)), told, strict=False))


def _milestones(report: Report, paint: Paint) -> Iterator[str]:
    """What is still open before each milestone, in a line."""
    works = [work for work in work_of(report) if work.stands_in_the_way]
    if works:
        yield "Required checks still to do; checker next names all of them"
    for work in works:
        parts = [
            f"{len(work.mend)} out of limits" if work.mend else "",
            f"{work.open} open" if work.open else "",
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


def _quiet(report: Report) -> Iterator[str]:
    """What is not judged here at all, counted."""
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


def _besides(report: Report) -> Iterator[str]:
    """What the whole report tells besides, counted."""
    disputed = len({finding.name for finding in report.disputed})
    for count, thing, what in (
        (report.counts[Verdict.NOT_COVERED], "check", "without a limit for these facts"),
        (len(report.notes), "note", "on how readings were understood"),
        (len(report.at_face_value), "check", "within at face value"),
        (disputed, "rule", "of which other sources say something else"),
        (sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)), "rule", "not for this build"),
        (len(report.later), "rule", "not due yet"),
    ):
        if count:
            yield f"{count} {thing}{'s' if count > 1 else ''} {what}"


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
    told.append(f"More with --all: every basis, {', '.join(_besides(report)) or 'the digests'}.")
    yield from wrapped(" ".join(told))
    yield from (f"plugin {plugin} ({plugin.added})" for plugin in report.plugins)
