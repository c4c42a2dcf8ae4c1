"""The order in which every form tells a report: answers first, then what would give more of them, then the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from checker.findings.asking import seen_words
from checker.findings.finding import Finding
from checker.findings.permission import place_of
from checker.findings.text import number_of, with_count
from checker.grouping import grouped
from checker.judging.judge import Verdict
from checker.records.flag import Flag
from checker.reports.report import BROKEN, NOT_JUDGED, Report
from checker.reports.summary import TOLD, RuleLine, SystemLine, is_judged, rule_lines, system_lines
from checker.reports.unlocks import Unlocks, unlocks_of
from checker.reports.work import Work, work_of

NOT_ASKED_BY_POLICY = "Required checks not asked for, by policy"
_FEW_RULES = 25
"""While no more rules than these were judged, each has a line; of more, each system."""
_ATTENTION = (Verdict.ADVISORY, Verdict.UNDECIDED)


class Doubt(NamedTuple):
    """What there is to say of one reading or several, and whether they were refused for it."""

    message: str
    is_refused: bool
    flags: tuple[Flag, ...]

    def __str__(self) -> str:
        if len(self.flags) == 1:
            return str(self.flags[0])
        return f"{self.message}: {'; '.join(self.readings)}"

    @property
    def readings(self) -> tuple[str, ...]:
        """The readings, each with where it was taken and how it was written down."""
        return tuple(f"{flag.title}{f', {flag.where}' if flag.where else ''} ({flag.written})" for flag in self.flags)


class Overview(NamedTuple):
    """A report in the order of its fields; what is told by system names it first.

    `broken` is out of limits, or required and too near to one; the worst system comes first. `judged` has a line for
    each rule; where those are too many it has advice alone, and `systems` counts what is within (else it is empty).
    `milestones` are those that were judged, `seen` the inspections by eye, `not_asked` the titles of rules that nobody
    asked for.
    """

    answer: str
    broken: tuple[tuple[str, tuple[Finding, ...]], ...]
    judged: tuple[tuple[str, tuple[RuleLine, ...]], ...]
    systems: tuple[SystemLine, ...]
    unlocks: Unlocks
    milestones: tuple[Work, ...]
    doubts: tuple[Doubt, ...]
    concessions: tuple[str, ...]
    seen: tuple[str, ...]
    not_asked: tuple[tuple[str, tuple[str, ...]], ...]


def overview(report: Report, opened: frozenset[str]) -> Overview:
    """A report in short; of the systems that are opened, every rule that was judged."""
    is_short = sum(map(is_judged, report.judged)) > _FEW_RULES
    return Overview(
        answer=answer(report),
        broken=_broken(report),
        judged=tuple(_judged(report, opened, is_short)),
        systems=tuple(system_lines(report)) if is_short and not opened.issuperset(report.systems) else (),
        unlocks=unlocks_of(report),
        milestones=work_of(report),
        doubts=doubts(report.flags),
        concessions=tuple(_concessions(report)),
        seen=tuple(seen_words(inspection, report.context) for inspection in report.context.seen),
        not_asked=_not_asked(report),
    )


def answer(report: Report) -> str:
    """The headline: may the build go on?"""
    counts = report.counts
    broken = sum(finding.breaks_must for finding in report.outside)
    accepted = counts[Verdict.OUTSIDE] - broken
    open_musts = report.open_musts
    undecided, not_covered = (report.besides_musts(it) for it in (Verdict.UNDECIDED, Verdict.NOT_COVERED))
    uncounted = len(report.uncounted)
    parts = [
        f"{broken} out of limits" if broken else "",
        f"{number_of(open_musts, 'required check')} still open" if open_musts else "",
        f"{number_of(uncounted, 'kind')} of station not counted" if uncounted else "",
        f"{counts[Verdict.ADVISORY]} advisory" if counts[Verdict.ADVISORY] else "",
        f"{undecided} undecided advice" if undecided else "",
        f"{not_covered} not covered" if not_covered else "",
        f"{accepted} accepted by concession" if accepted else "",
        f"{counts[Verdict.SEEN]} seen clear" if counts[Verdict.SEEN] else "",
        f"{counts[Verdict.WITHIN]} within",
        f"{report.face_value_count} of them at face value" if report.face_value_count else "",
    ]
    sentence = "; ".join(filter(None, (", ".join(part for part in parts if part), report.extent)))
    aim = f" {report.context.milestones[report.before]}" if report.before else ""
    if report.status == BROKEN:
        return f"STOP{aim}: {sentence}."
    of_job = " OF THE JOB" if report.context.plan.scope else " OF THESE RULES" if report.only else ""
    held = f"ALL REQUIRED CHECKS{of_job} HOLD{aim}: {sentence}."
    return f"NOT YET{aim}: {sentence}." if report.status == NOT_JUDGED else held


def _broken(report: Report) -> tuple[tuple[str, tuple[Finding, ...]], ...]:
    """Systems that are alike bad in the order of the build."""
    broken = [
        (system, tuple(filter(is_told_in_full, findings)))
        for system, findings in report.by_system(Verdict.OUTSIDE, Verdict.UNDECIDED)
    ]
    in_full = [(system, findings) for system, findings in broken if findings]
    return tuple(sorted(in_full, key=lambda pair: -max(finding.verdict for finding in pair[1])))


def _concessions(report: Report) -> Iterator[str]:
    for concession, standing in report.concessions:
        what = ", ".join(filter(None, (concession.rule.rule.title, place_of(concession, report.context))))
        yield f"{what}, {concession} ({standing})"


def doubts(flags: Iterable[Flag]) -> tuple[Doubt, ...]:
    """Flags that say the same as one."""
    alike = grouped(flags, lambda flag: (flag.message, flag.is_refused))
    return tuple(Doubt(*said, tuple(own)) for said, own in alike.items())


def is_told_in_full(finding: Finding) -> bool:
    """Whether it stands among what is out of limits; advice has a line or two among what was judged."""
    return finding.verdict is Verdict.OUTSIDE or (finding.verdict is Verdict.UNDECIDED and finding.must_open)


def _judged(report: Report, opened: frozenset[str], is_short: bool) -> Iterator[tuple[str, tuple[RuleLine, ...]]]:
    for system, findings in report.by_system(*(TOLD if opened or not is_short else _ATTENTION)):
        is_open = system in opened
        shown = [it for it in findings if is_open or not is_short or it.verdict in _ATTENTION]
        if lines := tuple(rule_lines(shown, whole=is_open)):
            yield system, lines


def _not_asked(report: Report) -> tuple[tuple[str, tuple[str, ...]], ...]:
    by_system: dict[str, list[str]] = {}
    for rule, count in report.rules_with(Verdict.NOT_ASKED):
        by_system.setdefault(rule.rule.system, []).append(with_count(rule.rule.title, count))
    return tuple((system, tuple(titles)) for system, titles in by_system.items())
