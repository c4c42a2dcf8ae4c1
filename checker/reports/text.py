"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence, Set

from checker.errors import Problem, UsageError, nearest, require
from checker.findings.finding import Finding
from checker.findings.text import WIDTH, Look, Paint, finding_lines, plain
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


def write_text(report: Report, paint: Paint = plain, whole: bool = False, system: str = "", width: int = WIDTH) -> str:
    """The report in short, the whole of it, or in short with one system opened.

    `paint` may colour a piece of text by the verdict it speaks of; columns and paragraphs are laid out for lines of
    `width` signs, 60 at least. Raises UsageError for a system that there is not.
    """
    require(report, "give what rulebook.check(record) returned", Report)
    opened = frozenset(report.systems) if whole else _called(report, system) if system else frozenset()
    contents, look = overview(report, opened), Look(width, paint)
    sections = (
        _head(report, contents.answer, look),
        _suspect_sheets(report, look),
        *(_system(name, findings, name in opened, look) for name, findings in contents.broken),
        judged_lines(contents, bool(opened), look),
        _unlocks(contents.unlocks, look),
        _milestones(contents.milestones, look),
        *(_system(name, findings, True, look) for name, findings in _the_rest(report, opened)),
        _doubts(contents.doubts, look),
        *ending(report, contents, whole, look),
    )
    return "\n\n".join(text for lines in sections if (text := "\n".join(lines))) + "\n"


def _called(report: Report, asked: str) -> frozenset[str]:
    """The systems whose titles have the words that were asked for, as whole words where there are such."""
    as_words = re.compile(rf"\b{re.escape(asked)}\b", re.IGNORECASE)
    names = [name for name in report.systems if as_words.search(name)]
    names = names or [name for name in report.systems if asked.lower() in name.lower()]
    if not names:
        words = {word for name in report.systems for word in name.lower().split()}
        hint = nearest(asked.lower(), [*words, *report.systems]) or f"known: {', '.join(report.systems)}"
        raise UsageError(Problem(f"no system is called {asked!r}", hint=hint))
    return frozenset(names)


def _head(report: Report, answer: str, look: Look) -> Iterator[str]:
    doubt = "; some readings are in doubt" if report.flags else ""
    yield from look.wrapped(f"{report.record.assembly}, judged for {report.context.application_title}{doubt}")
    verdict = {HELD: Verdict.WITHIN, BROKEN: Verdict.OUTSIDE}.get(report.status, Verdict.NOT_MEASURED)
    yield look.paint(answer, verdict)


def _suspect_sheets(report: Report, look: Look) -> Iterator[str]:
    """Sheets that can hardly be meant as they stand: said before anything is judged."""
    if report.suspect_sheets:
        yield "Suspect part sheets"
    for flag in report.suspect_sheets:
        yield from look.labelled("suspect", str(flag))


def _system(name: str, findings: Sequence[Finding], is_open: bool, look: Look) -> Iterator[str]:
    yield name
    yield from finding_lines(findings, look, is_open)


def _the_rest(report: Report, opened: Set[str]) -> Iterator[tuple[str, Sequence[Finding]]]:
    """Of systems that are opened, what is not out of limits and not within either."""
    for name, findings in report.by_system(*_IN_FULL) if opened else ():
        rest = [finding for finding in findings if not is_told_in_full(finding)]
        if name in opened and rest:
            yield name, rest


def _unlocks(unlocks: Unlocks, look: Look) -> Iterator[str]:
    """What to state or to measure next, by how much it lets be judged."""
    yield from look.wrapped(unlocks.answers)
    for sentence in unlocks.depending:
        yield from look.wrapped(sentence, "  ")
    yield from look.wrapped(unlocks.readings)


def _milestones(works: Sequence[Work], look: Look) -> Iterator[str]:
    """What is still open before each milestone, in a line."""
    busy = [work for work in works if work.stands_in_the_way]
    if busy:
        yield "Required checks still to do; checker next names all of them"
    for work in busy:
        yield _cut(f"{work.title}: {work.amount}", "; ".join((*work.find_out, *work.measure)[:_NAMED]), look)


def _cut(text: str, named: str, look: Look) -> str:
    """One line, with as much of an example as it has room for."""
    room = look.width - len(text) - 4
    example = textwrap.shorten(named, room, placeholder=" ...") if named and room > 20 else ""
    return f"  {text}: {example}" if example and example != "..." else f"  {text}"


def _doubts(doubts: Sequence[Doubt], look: Look) -> Iterator[str]:
    if doubts:
        yield "Readings in doubt"
    for doubt in doubts:
        yield from look.labelled("not accepted" if doubt.is_refused else "check this", str(doubt))
