"""Which uses does one build suit? The same record judged for every application."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from checker.findings.finding import Finding
from checker.judging.judge import Verdict
from checker.packs.pack import Pack, foundations
from checker.packs.reader import read_pack
from checker.plugins import Plugins
from checker.records.record import Record
from checker.reports.report import Report
from checker.rulebook import packs_with_use, rulebook_for

_COUNTED = sorted(set(Verdict) - {Verdict.NOT_APPLICABLE, Verdict.NOT_ASKED}, reverse=True)


@dataclass(frozen=True, slots=True)
class Use:
    """One application and the report for it."""

    application: str
    title: str
    report: Report

    @property
    def answer(self) -> str:
        """Suits, does not, or not known."""
        return {0: "suits", 1: "does not suit"}.get(self.report.status, "not known")

    @property
    def counts(self) -> str:
        """How many findings came out in each way, worst first; and what the plan asks."""
        counts = self.report.counts
        told = ", ".join(f"{counts[verdict]} {verdict}" for verdict in _COUNTED if counts[verdict])
        return "; ".join(filter(None, (told, self.report.extent)))

    @property
    def reasons(self) -> tuple[Finding, ...]:
        """What is broken; where nothing is, what is not known."""
        broken = tuple(finding for finding in self.report.outside if finding.breaks_must)
        if broken:
            return broken
        waiting = self.report.with_verdict(Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.NOT_COVERED)
        return tuple(finding for finding in waiting if finding.must_open)


def uses_of(record: Record, plugins: Plugins, *more: str) -> Iterator[Use]:
    """Judge a record for every application of its packs and of the installed packs that build on them."""
    seen: set[str] = set()
    for names in _pack_sets(record, plugins, more):
        rulebook = rulebook_for(record, *names, plugins=plugins)
        for name, application in rulebook.layered.applications.items():
            if name not in seen:
                seen.add(name)
                yield Use(name, application.title, rulebook.check(record, application=name))


def _pack_sets(record: Record, plugins: Plugins, more: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """The record's own packs first; then, one at a time, each installed pack that builds on them."""
    yield more
    installed = {pack.name: pack for pack in map(read_pack, plugins.rule_packs.values())}
    own = {*record.rule_packs, *more} or set(packs_with_use(record.application, installed))
    for pack in installed.values():
        if pack.name not in own and pack.applications and _stands_on(pack, own, installed):
            yield (*more, pack.name)


def _stands_on(pack: Pack, own: set[str], installed: dict[str, Pack]) -> bool:
    return bool(foundations(pack, installed) & own)
