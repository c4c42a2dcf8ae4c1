"""What is left to do before each milestone: fix, decide, find out, measure, and what is only advised."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from checker.findings.finding import Finding, Gap, listed, places
from checker.grouping import grouped
from checker.judging.judge import Verdict
from checker.reports.report import Report

_ADVICE = (Verdict.ADVISORY, Verdict.UNDECIDED)


class Unknown(NamedTuple):
    """What is to be found out, and where, and what it may be where that is one of a few words."""

    what: str
    choices: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.what} ({', '.join(self.choices)})" if self.choices else self.what


class Work(NamedTuple):
    """The work before one milestone.

    A broken must is fixed, one too near its limit decided. For one that was not judged there are facts to find out and
    readings to take, in words. The rest is advice. `open` counts the required checks that are not judged; `title` is
    the milestone in words; `cautions` says what can hurt in all but the advice.
    """

    before: str
    title: str
    fix: tuple[Finding, ...]
    decide: tuple[Finding, ...]
    find_out: tuple[Unknown, ...]
    measure: tuple[str, ...]
    advice: tuple[Finding, ...]
    open: int
    cautions: tuple[str, ...]

    @property
    def amount(self) -> str:
        """How much there is to do, such as "1 out of limits, 90 open"; empty where nothing stands in the way."""
        parts = (f"{len(self.fix)} out of limits" if self.fix else "", f"{self.open} open" if self.open else "")
        return ", ".join(filter(None, parts))

    @property
    def stands_in_the_way(self) -> bool:
        """Whether the milestone must not be passed yet."""
        return bool(self.fix or self.decide or self.find_out or self.measure)


class Task(NamedTuple):
    """The same thing to do at one station of a rule or several."""

    rule: str
    title: str
    where: str
    value: str
    what: str

    def __str__(self) -> str:
        return f"{self.title}{self.details}"

    @property
    def details(self) -> str:
        """What comes after the title: where, the value where there is one, and what to do."""
        where = f", {self.where}" if self.where else ""
        value = f" ({self.value})" if self.value else ""
        return f"{where}{value}: {self.what}"


def tasks(findings: Iterable[Finding]) -> Iterator[Task]:
    """What to do about findings; one task where the same is to be done at several stations."""

    def to_do(finding: Finding) -> tuple[str, str, str]:
        what = finding.remedy or "; ".join(finding.remarks) or f"required {finding.band('must')}"
        return finding.name, finding.shown_value, what

    for (rule, value, what), sharing in grouped(findings, to_do).items():
        yield Task(rule, sharing[0].title, places(sharing), value, what)


def work_of(report: Report) -> tuple[Work, ...]:
    """The work before every milestone that was judged, in the order of the build."""
    due = report.milestones[: report.milestones.index(report.before) + 1] if report.before else report.milestones
    return tuple(_work(milestone, report) for milestone in due)


def _work(milestone: str, report: Report) -> Work:
    findings = [finding for finding in report.unsettled if finding.rule.rule.before == milestone]
    unmeasured = [finding for finding in findings if finding.must_open and finding.verdict is Verdict.NOT_MEASURED]
    fix = tuple(finding for finding in findings if finding.breaks_must)
    judged = [finding for finding in findings if finding.verdict not in (Verdict.NOT_MEASURED, Verdict.OUTSIDE)]
    decide = tuple(finding for finding in judged if finding.must_open)
    # How many stations there are is asked at the first milestone.
    uncounted = report.uncounted if milestone == report.milestones[0] else ()
    gaps = [gap for finding in unmeasured for gap in finding.missing]
    return Work(
        before=milestone,
        title=report.context.milestones[milestone],
        open=sum(finding.must_open for finding in findings if not finding.breaks_must),
        fix=fix,
        decide=decide,
        find_out=(
            *(Unknown(f"how many there are of: {title}") for title in uncounted),
            *_unknown(gaps, report),
        ),
        measure=tuple(listed(gap for gap in gaps if not _is_of_fact(gap, report))),
        advice=tuple(finding for finding in judged if finding.verdict in _ADVICE and not finding.must_open),
        cautions=tuple(_cautions((*fix, *decide, *unmeasured))),
    )


def _unknown(gaps: Iterable[Gap], report: Report) -> Iterator[Unknown]:
    """The facts among what is lacking."""
    facts = [gap for gap in gaps if _is_of_fact(gap, report)]
    for name, alike in grouped(facts, lambda gap: gap.characteristic).items():
        choices = report.context.characteristics[name].characteristic.choices
        yield from (Unknown(text, tuple(choices)) for text in listed(alike))


def _is_of_fact(gap: Gap, report: Report) -> bool:
    """Whether what is lacking is told by words, or read with nothing: it is looked at, or up in a card or catalogue."""
    item = report.context.characteristics[gap.characteristic]
    return item.unit is None or not (item.characteristic.with_ or item.derived)


def _cautions(findings: Iterable[Finding]) -> Iterator[str]:
    """What can hurt, with the titles of the rules that say so."""
    cautious = [finding for finding in findings if finding.rule.rule.caution]
    for caution, alike in grouped(cautious, lambda finding: finding.rule.rule.caution).items():
        yield f"{', '.join(dict.fromkeys(finding.title for finding in alike))}: {caution}"
