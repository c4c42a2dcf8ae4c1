"""What one reading changed: which verdicts are new, and which readings look suspicious."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple, Protocol

import numpy as np

from checker.findings.finding import Finding
from checker.findings.findings import findings_of
from checker.graph import Inputs
from checker.judging.judge import Judged, Verdict
from checker.records.flag import Flag
from checker.reports.report import Report

_TELLING = frozenset({Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.WITHIN})


class Book(Protocol):
    """What is needed of a rulebook."""

    def inputs(self, rule: str, chain: tuple[str, ...]) -> Inputs: ...


class Reply(NamedTuple):
    """What came of a reading: why it was refused, or what it decided and what is suspicious about it.

    `findings` are those whose verdict or value is new, worst first, `flags` what is to be looked at again and was not
    before. `judged` is how many checks have a verdict now that had none before.
    """

    refused: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    flags: tuple[Flag, ...] = ()
    judged: int = 0


def reply_to(name: str, old: Report, new: Report, rulebook: Book, telling: frozenset[Verdict] = _TELLING) -> Reply:
    """What a value for a characteristic changed; refused where the value cannot be. Told are some verdicts only."""
    flags = tuple(_new_flags(old, new))
    if refused := tuple(flag.message for flag in flags if flag.is_refused and flag.characteristic == name):
        return Reply(refused)
    return Reply((), tuple(_changes(name, old, new, rulebook, telling)), flags, max(0, _judged(new) - _judged(old)))


def _judged(report: Report) -> int:
    return sum(report.counts[verdict] for verdict in _TELLING)


def _changes(name: str, old: Report, new: Report, rulebook: Book, telling: frozenset[Verdict]) -> Iterator[Finding]:
    """What the rules that rest on a characteristic say now and did not say before, worst first."""
    before = {judged.rule.name: judged for judged in old.judged}
    changes = []
    for judged in new.judged:
        if name in new.context.inputs(judged.rule.name, new.context.chain).names:
            changed = _changed(before[judged.rule.name], judged)
            changes += [item for item in findings_of(judged, new.context, telling) if changed[item.station]]
    yield from sorted(changes, key=lambda finding: -finding.verdict)


def _changed(old: Judged, new: Judged) -> Mapping[int, bool]:
    """For each station, whether its verdict or its value is another one."""
    if old.codes.shape != new.codes.shape:
        return dict.fromkeys(range(new.codes.shape[1]), True)
    same = (old.codes == new.codes) & np.isclose(old.measures.value, new.measures.value, rtol=0, atol=0, equal_nan=True)
    return dict(enumerate(~same[0]))


def _new_flags(old: Report, new: Report) -> Iterator[Flag]:
    known = {(flag.characteristic, flag.where, flag.written, flag.message) for flag in old.flags}
    return (flag for flag in new.flags if (flag.characteristic, flag.where, flag.written, flag.message) not in known)
