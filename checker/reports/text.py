"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence, Set

from checker.errors import Problem, UsageError, nearest, require
from checker.findings.finding import Finding
from checker.findings.text import WIDTH, Paint, finding_lines, labelled, plain, wrapped
from checker.judging.judge import Verdict
from checker.reports.doubts import Doubt
from checker.reports.overview import is_told_in_full, overview
from checker.reports.report import BROKEN, HELD, Report
from checker.reports.text_grounds import ending
from checker.reports.text_judged import judged_lines
from checker.reports.unlocks import Unlocks
from checker.reports.work import Work

_IN_FULL = (Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.NOT_COVERED)
_NAMED = 2


def write_text(report: Report, paint: Paint = plain, whole: bool = False, system: str = "") -> str:
    """The report in short, the whole of it, or in short with one system opened.

    `paint` may colour a piece of text by the verdict it speaks of. Raises UsageError for a system that there is not.
    """
    require(report, "give what rulebook.check(record) returned", Report)
    opened = frozenset(report.systems) if whole else _called(report, system) if system else frozenset()
    told = overview(report, opened)
    sections = (
        _head(report, told.answer, paint),
        _suspect_sheets(report),
        *(_system(name, findings, name in opened, paint) for name, findings in told.broken),
        judged_lines(told, bool(opened), paint),
        _unlocks(told.unlocks),
        _milestones(told.milestones),
        *(_system(name, findings, True, paint) for name, findings in _the_rest(report, opened)),
        _doubts(told.doubts),
        *ending(report, told, whole),
    )
    return "\n\n".join(text for lines in sections if (text := "\n".join(lines))) + "\n"


def _called(report: Report, asked: str) -> frozenset[str]:
    """The systems whose titles have the words that were asked for, as whole words where there are such."""
    as_words = re.compile(rf"\b{re.escape(asked)}\b", re.IGNORECASE)
    found = [name for name in report.systems if as_words.search(name)]
    found = found or [name for name in report.systems if asked.lower() in name.lower()]
    if not found:
        hint = nearest(asked, report.systems) or f"known: {', '.join(report.systems)}"
        raise UsageError(Problem(f"no system is called {asked!r}", hint=hint))
    return frozenset(found)


def _head(report: Report, answer: str, paint: Paint) -> Iterator[str]:
    doubt = "; some readings are in doubt" if report.flags else ""
    yield from wrapped(f"{report.record.assembly}, judged for {report.context.application_title}{doubt}")
    verdict = {HELD: Verdict.WITHIN, BROKEN: Verdict.OUTSIDE}.get(report.status, Verdict.NOT_MEASURED)
    yield paint(answer, verdict)


def _suspect_sheets(report: Report) -> Iterator[str]:
    """Sheets that can hardly be meant as they stand: said before anything is judged."""
    if report.suspect_sheets:
        yield "Suspect part sheets"
    for flag in report.suspect_sheets:
        yield from labelled("suspect", str(flag))


def _system(name: str, findings: Sequence[Finding], is_open: bool, paint: Paint) -> Iterator[str]:
    yield name
    yield from finding_lines(findings, paint, is_open)


def _the_rest(report: Report, opened: Set[str]) -> Iterator[tuple[str, Sequence[Finding]]]:
    """Of systems that are opened, what is not out of limits and not within either."""
    for name, findings in report.by_system(*_IN_FULL) if opened else ():
        found = [finding for finding in findings if not is_told_in_full(finding)]
        if name in opened and found:
            yield name, found


def _unlocks(unlocks: Unlocks) -> Iterator[str]:
    """What to state or to measure next, by how much it lets be judged."""
    yield from wrapped(unlocks.answers)
    for told in unlocks.depending:
        yield from textwrap.wrap(told, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
    yield from wrapped(unlocks.readings)


def _milestones(works: Sequence[Work]) -> Iterator[str]:
    """What is still open before each milestone, in a line."""
    busy = [work for work in works if work.stands_in_the_way]
    if busy:
        yield "Required checks still to do; checker next names all of them"
    yield from (_cut(f"  {work.title}: {work.told}", "; ".join(work.measure[:_NAMED])) for work in busy)


def _cut(text: str, named: str) -> str:
    """One line, with as much of an example as it has room for."""
    room = WIDTH - len(text) - 2
    example = textwrap.shorten(named, room, placeholder=" ...") if named and room > 20 else ""
    return f"{text}: {example}" if example and example != "..." else text


def _doubts(doubts: Sequence[Doubt]) -> Iterator[str]:
    if doubts:
        yield "Readings in doubt"
    for doubt in doubts:
        yield from labelled("not accepted" if doubt.is_refused else "check this", str(doubt))
