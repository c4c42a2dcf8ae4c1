"""What to state or measure next: the few things that would let most be judged."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from checker.expressions.truth import FALSE, TRUE
from checker.findings.finding import Finding
from checker.judging.judge import Judged, Verdict
from checker.packs.titles import lowered
from checker.reports.report import Report
from checker.reports.summary import OPEN, is_judged, rule_lines

_MOST_TOGETHER = 3
"""How many things are asked for at once, where nothing less judges anything."""
_MOST_STEPS = 4
_MOST_NEXT = 3
_MANY = 10
"""With no more open checks than these, the milestones alone say what is missing."""
_NUMBERS = ("", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")


class Unlock(NamedTuple):
    """Things that are missing, by title, and how many more checks could be judged with them."""

    titles: tuple[str, ...]
    checks: int


class Unlocks(NamedTuple):
    """What would let most be judged, in sentences.

    `answers` are facts that readings wait for, `depending` what they decide under each choice, and `readings` what to
    measure next; each is empty where there is nothing to say.
    """

    answers: str
    depending: tuple[str, ...]
    readings: str

    @property
    def sentences(self) -> tuple[str, ...]:
        """All there is to say."""
        return tuple(filter(None, (self.answers, *self.depending, self.readings)))


def unlocks_of(report: Report) -> Unlocks:
    """What to state and what to measure next, by how much it lets be judged."""
    return Unlocks(_what_to_state(report), tuple(_depending(report)), _what_to_measure(report))


def answers(report: Report) -> tuple[Unlock, ...]:
    """What readings that were taken wait for: facts, mostly."""
    return _ranked(report, (finding for finding in report.not_measured if finding.shown_value))


def readings(report: Report) -> tuple[Unlock, ...]:
    """What to measure next where nothing was measured yet."""
    return _ranked(report, (finding for finding in report.not_measured if not finding.shown_value))


def _what_to_state(report: Report) -> str:
    steps = answers(report)
    titles = [title for step in steps for title in step.titles]
    if not titles:
        return ""
    number = _NUMBERS[len(titles)] if len(titles) < len(_NUMBERS) else str(len(titles))
    checks = sum(step.checks for step in steps)
    asked = "answer" if len(titles) == 1 else "answers"
    return f"{number} {asked} would judge {checks} more of what was measured: {', '.join(titles)}."


def _depending(report: Report) -> Iterator[str]:
    """What an answer decides: the verdicts under each choice."""
    judged = {(it.rule.rule.system, it.rule.judges.text) for it in report.judged if is_judged(it)}
    for system, findings in report.by_system(Verdict.NOT_MEASURED):
        unjudged = [finding for finding in findings if (system, finding.rule.judges.text) not in judged]
        for line in rule_lines(unjudged, whole=False):
            if line.verdict == OPEN and not line.is_plain:
                yield f"{line.title} {line.remarks[0]}"


def _what_to_measure(report: Report) -> str:
    if report.counts[Verdict.NOT_MEASURED] <= _MANY:
        return ""
    steps = readings(report)
    list_of_steps = "; ".join(f"{' and '.join(step.titles)} ({step.checks})" for step in steps[:_MOST_NEXT])
    return f"To measure next, and how many checks it opens: {list_of_steps}." if list_of_steps else ""


def _ranked(report: Report, findings: Iterable[Finding]) -> tuple[Unlock, ...]:
    """The most useful first; each counts on those before it."""
    judged = {judged.rule.name: judged for judged in report.judged}
    waiting: dict[frozenset[str], int] = {}
    places: dict[str, set[int | None]] = {}
    for finding in findings:
        names = _lacking(report, finding, judged[finding.name])
        waiting[names] = waiting.get(names, 0) + 1
        for gap in finding.missing:
            places.setdefault(gap.characteristic, set()).add(gap.station)
    waiting.pop(frozenset(), None)
    known: frozenset[str] = frozenset()

    def titled(name: str) -> str:
        return lowered(report.context.characteristics[name].characteristic.title)

    unlocks: list[Unlock] = []
    while len(unlocks) < _MOST_STEPS:
        asked = {names - known for names in waiting if 0 < len(names - known) <= _MOST_TOGETHER}
        if not asked:
            break
        best = min(
            asked,
            key=lambda new: (-_gain(waiting, known, new) / sum(len(places.get(n, (None,))) for n in new), sorted(new)),
        )
        unlocks.append(Unlock(tuple(sorted(map(titled, best))), _gain(waiting, known, best)))
        known |= best
    return tuple(unlocks)


def _gain(waiting: Mapping[frozenset[str], int], known: frozenset[str], new: frozenset[str]) -> int:
    """How many checks could be judged with something more."""
    return sum(count for names, count in waiting.items() if not names <= known and names <= known | new)


def _lacking(report: Report, finding: Finding, judged: Judged) -> frozenset[str]:
    """What is enough to judge it; empty where that cannot be told, as before a condition is known."""
    under, station = judged.choices, finding.station
    if under is not None and (under.codes[:, station] != Verdict.NOT_MEASURED).all():
        waits = [name for name, bears in zip(under.facts, under.bears[:, station], strict=True) if bears]
        return frozenset(name for fact in waits for name in _telling(report, finding, fact))
    if judged.measures.applies[0, station] not in (TRUE, FALSE):
        return frozenset()
    return frozenset(gap.characteristic for gap in finding.missing)


def _telling(report: Report, finding: Finding, fact: str) -> Iterable[str]:
    """What to state so that a fact is known: what is missing of that from which it follows, else the fact itself."""
    behind = report.context.characteristics[fact].inputs.names
    return [gap.characteristic for gap in finding.missing if gap.characteristic in behind] or [fact]
