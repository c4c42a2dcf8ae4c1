"""What an answer at the bench changed: which verdicts are new, and which readings look suspicious."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from checker.findings.finding import Finding
from checker.findings.findings import findings_of
from checker.judging.judge import Judged, Verdict
from checker.records.flag import Flag
from checker.reports.report import Report
from checker.rulebook import Rulebook

_TELLING = frozenset({Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.WITHIN})


@dataclass(frozen=True, slots=True)
class Reply:
    """What came of a typed text: why it was refused, or what it decided and what is suspicious about it.

    `judged` is how many checks have a verdict now that had none before.
    """

    refused: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    flags: tuple[Flag, ...] = ()
    judged: int = 0


def reply_to(name: str, old: Report, new: Report, rulebook: Rulebook) -> Reply:
    """What a value for a characteristic changed; refused where the value cannot be."""
    flags = tuple(_new_flags(old, new))
    if refused := tuple(flag.message for flag in flags if flag.is_refused and flag.characteristic == name):
        return Reply(refused)
    return Reply((), tuple(_changes(name, old, new, rulebook)), flags, max(0, _judged(new) - _judged(old)))


def _judged(report: Report) -> int:
    return sum(report.counts[verdict] for verdict in _TELLING)


def _changes(name: str, old: Report, new: Report, rulebook: Rulebook) -> Iterator[Finding]:
    """What the rules that rest on a characteristic say now and did not say before, worst first."""
    before = {judged.rule.name: judged for judged in old.judged}
    found = []
    for judged in new.judged:
        if name in new.context.inputs(judged.rule.name, new.context.chain).names:
            changed = _changed(before[judged.rule.name], judged)
            found += [item for item in findings_of(judged, new.context, _TELLING) if changed[item.station]]
    yield from sorted(found, key=lambda finding: -finding.verdict)


def _changed(old: Judged, new: Judged) -> Mapping[int, bool]:
    """For each station, whether its verdict or its value is another one."""
    if old.codes.shape != new.codes.shape:
        return dict.fromkeys(range(new.codes.shape[1]), True)
    same = (old.codes == new.codes) & np.isclose(old.measures.value, new.measures.value, rtol=0, atol=0, equal_nan=True)
    return dict(enumerate(~same[0]))


def _new_flags(old: Report, new: Report) -> Iterator[Flag]:
    known = {(flag.characteristic, flag.where, flag.written, flag.message) for flag in old.flags}
    return (flag for flag in new.flags if (flag.characteristic, flag.where, flag.written, flag.message) not in known)
