"""Which uses does one build suit, and what does another use ask? The same record judged for every application."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from checker.errors import Problem, UsageError, nearest
from checker.findings.finding import Finding, listed, places
from checker.findings.findings import findings_of
from checker.findings.text import number_of
from checker.grouping import grouped
from checker.judging.judge import Verdict
from checker.packs.pack import foundations
from checker.packs_asked import KnownPacks, installed_packs, packs_for, packs_with_use
from checker.plugins import Plugins
from checker.records.record import Record
from checker.reports.report import BROKEN, HELD, Report
from checker.reports.summary import RuleLine, to_decide
from checker.rulebook import Rulebook

_COUNTED = sorted(set(Verdict) - {Verdict.NOT_APPLICABLE, Verdict.NOT_ASKED}, reverse=True)

SILENT = (Verdict.NOT_ASKED, Verdict.NOT_APPLICABLE, Verdict.NOT_COVERED)
"""The verdicts of rules that judge nothing here."""
_WAITING = (Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.NOT_COVERED)
"""The verdicts by which a must may be left open."""
_ORDER = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.NOT_MEASURED)


@dataclass(frozen=True)
class Use:
    """One application and the report for it."""

    application: str
    title: str
    report: Report

    @property
    def answer(self) -> str:
        """Suits, does not, or not known; of a job on a part of the build that part alone, and what is due so far."""
        suits = "the job suits" if self.report.context.plan.scope else "suits"
        suits += " so far" if self.report.later else ""
        return {HELD: suits, BROKEN: "does not suit"}.get(self.report.status, "not known")

    @cached_property
    def deciding(self) -> str:
        """The rule that decides, in a line, and how many more there are; empty where the build suits."""
        broken = grouped(self._broken, lambda finding: finding.name).values()
        if broken:
            first, others = max(broken, key=_weight), len(broken) - 1
        elif waiting := self.report.leaving_open(*_WAITING):
            # Of many rules that wait, the findings of only one are told.
            judged, _ = max(waiting, key=lambda pair: pair[1])
            own = findings_of(judged, self.report.context, frozenset(_WAITING))
            first, others = [finding for finding in own if finding.must_open], len(waiting) - 1
        else:
            return ""
        more = f"; and {number_of(others, 'more rule')}" if others else ""
        return f"{reason(first)}{more}"

    @property
    def counts(self) -> str:
        """How many findings came out in each way, worst first; and what the plan asks, up to which milestone."""
        counts = self.report.counts
        listed = ", ".join(f"{counts[verdict]} {verdict}" for verdict in _COUNTED if counts[verdict])
        later = number_of(len(self.report.later), "rule") if self.report.later else ""
        due = (
            f"{later} not due {self.report.context.milestones[self.report.before]}"
            if later and self.report.before
            else ""
        )
        return "; ".join(filter(None, (listed, due, self.report.extent)))

    @cached_property
    def reasons(self) -> tuple[Finding, ...]:
        """What is broken; where nothing is, what is not known."""
        waiting = () if self._broken else self.report.with_verdict(*_WAITING)
        return self._broken or tuple(finding for finding in waiting if finding.must_open)

    @cached_property
    def _broken(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.report.outside if finding.breaks_must)


def cautions_of(uses: Iterable[Use]) -> tuple[str, ...]:
    """What can hurt, whatever the use, each said once."""
    return tuple(dict.fromkeys(caution for use in uses for caution in use.report.cautions))


def _weight(findings: Sequence[Finding]) -> tuple[int, float]:
    """What is broken before what is not known, the furthest beyond its limit first."""
    return max((finding.verdict, _miss(finding)) for finding in findings)


def _miss(finding: Finding) -> float:
    """How far a value lies beyond the limit that decides, as a part of that limit; 0 where that cannot be said."""
    limits = [edge.value for edge in finding.edges if (edge.band, edge.side) == ("must", finding.side)]
    if finding.verdict is not Verdict.OUTSIDE or not limits or not limits[0] or not math.isfinite(finding.margin):
        return 0.0
    return abs(finding.margin / limits[0])


def reason(findings: Sequence[Finding]) -> str:
    """One rule and all the stations at which it is broken or not known."""
    worst = min(findings, key=lambda finding: finding.margin if math.isfinite(finding.margin) else math.inf)
    where = places(findings)
    heading = f"{worst.title}, {where}" if where else worst.title
    if worst.verdict is Verdict.OUTSIDE and worst.shown_value:
        at_worst = " at the worst" if len({finding.shown_value for finding in findings}) > 1 else ""
        return f"{heading}: {worst.shown_value}{at_worst}; required {worst.band('must')}"
    why = (*listed(gap for finding in findings for gap in finding.missing), *dict.fromkeys(worst.remarks))
    return ": ".join([heading, str(worst.verdict), *(["; ".join(why)] if why else [])])


def uses_of(record: Record, plugins: Plugins, *more: str, only: Collection[str] = ()) -> Iterator[Use]:
    """Judge a record for every application of its packs and of the installed packs that build on them.

    Where `only` some are wanted, no others are judged; raises UsageError for one that there is not.
    """
    seen: set[str] = set()
    known: KnownPacks = {}
    for names in _pack_sets(record, plugins, more, known):
        if only and seen.issuperset(only):
            return
        packs, choice = packs_for(record, names, plugins, known)
        rulebook = Rulebook(packs, plugins, choice=choice)
        named = rulebook.layered.applications
        wanted = [name for name in named if name not in seen and (not only or name in only)]
        seen.update(named)
        for report in rulebook.check_uses(record, *wanted) if wanted else ():
            yield Use(report.application, named[report.application].title, report)
    for name in sorted(set(only) - seen):
        hint = nearest(name, seen) or f"known: {', '.join(sorted(seen))}"
        if name in plugins.rule_packs:
            hint = f"that is a rule pack: name it with --pack, and with it one of {', '.join(sorted(seen))}"
        raise UsageError(Problem(f"no use is called {name!r}", hint=hint))


def _pack_sets(record: Record, plugins: Plugins, more: tuple[str, ...], known: KnownPacks) -> Iterator[tuple[str, ...]]:
    """The record's own packs first; then, one at a time, each installed pack that builds on them."""
    yield more
    installed = {pack.name: pack for pack in installed_packs(plugins, known).values()}
    own = {*record.rule_packs, *more} or set(packs_with_use(record.application, installed))
    for pack in installed.values():
        if pack.name not in own and pack.applications and foundations(pack, installed) & own:
            yield (*more, pack.name)


class RuleChange(NamedTuple):
    """The stations of one rule that one use judges alike, and so does the other: as it was, and as it is now."""

    was: RuleLine
    now: RuleLine

    @property
    def is_worse(self) -> bool:
        """Whether there is something to do that was not to be done before."""
        return self.now.nearest.verdict in _ORDER and self.now.verdict != self.was.verdict

    @property
    def do(self) -> str:
        """What to do about it, at the station that needs most; empty where nothing is to be done."""
        nearest = self.now.nearest
        if nearest.verdict is Verdict.NOT_MEASURED:
            return f"measure {'; '.join(self.now.missing)}" if self.now.missing else ""
        return nearest.remedy or to_decide(nearest)


def limits_told(line: RuleLine) -> str:
    """The limits one use holds it to; nothing of a rule that judges nothing."""
    return "" if line.nearest.verdict in SILENT else line.limits


def changes(before: Report, after: Report) -> tuple[RuleChange, ...]:
    """What two reports on one record, each for its use, say differently: first what is broken now."""
    earlier = {(finding.name, finding.station): finding for finding in before.findings}
    pairs = [(earlier.get((now.name, now.station)), now) for now in after.findings]
    different = [(was, now) for was, now in pairs if was is not None and _differ(was, now)]
    alike = grouped(different, lambda pair: (pair[1].name, pair[0].verdict, pair[1].verdict)).values()
    changed = [RuleChange(*(_line(findings) for findings in zip(*same, strict=True))) for same in alike]
    return tuple(sorted(changed, key=_urgency))


def _line(findings: tuple[Finding, ...]) -> RuleLine:
    return RuleLine("accepted" if findings[0].concession else str(findings[0].verdict), "", findings)


def _differ(was: Finding, now: Finding) -> bool:
    """Whether the verdict differs, or what a measured value is held to."""
    if {was.verdict, now.verdict} <= {*SILENT}:
        return False
    if was.verdict is not now.verdict:
        return True
    return bool(now.shown_value) and [(e.band, e.side, e.value) for e in was.edges] != [
        (e.band, e.side, e.value) for e in now.edges
    ]


def _urgency(change: RuleChange) -> tuple[bool, int]:
    verdict = change.now.nearest.verdict
    return not change.is_worse, _ORDER.index(verdict) if verdict in _ORDER else len(_ORDER)
