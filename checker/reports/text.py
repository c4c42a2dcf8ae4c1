"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence, Set

from checker.errors import Problem, UsageError, nearest, require
from checker.findings.finding import Finding
from checker.findings.text import WIDTH, Look, Paint, finding_lines, plain
from checker.judging.judge import Verdict
from checker.reports.overview import Doubt, Overview, is_told_in_full, overview
from checker.reports.report import BROKEN, HELD, Report
from checker.reports.summary import JUDGED, OPEN, RuleLine, SystemLine
from checker.reports.text_grounds import ending, section
from checker.reports.unlocks import Unlocks
from checker.reports.work import Work

_IN_FULL = (Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.NOT_COVERED)
_NAMED = 2
_FIRST = ("outside", "accepted", "undecided", "advisory", OPEN, "within")
"""The order of the lines of what was judged."""
_LABEL, _TITLE, _VALUES = 14, 43, 23
_LIMITS = WIDTH - _LABEL - _TITLE - _VALUES
_NEAR_SYSTEMS = 4


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
        section("Suspect part sheets", report.suspect_sheets, look, "suspect"),
        *(_system(name, findings, name in opened, look) for name, findings in contents.broken),
        _judged(contents, bool(opened), look),
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


def _system(name: str, findings: Sequence[Finding], is_open: bool, look: Look) -> Iterator[str]:
    yield name
    yield from finding_lines(findings, look, is_open)


def _the_rest(report: Report, opened: Set[str]) -> Iterator[tuple[str, Sequence[Finding]]]:
    """Of systems that are opened, what is not out of limits and not within either."""
    for name, findings in report.by_system(*_IN_FULL) if opened else ():
        rest = [finding for finding in findings if not is_told_in_full(finding)]
        if name in opened and rest:
            yield name, rest


def _judged(contents: Overview, by_system: bool, look: Look) -> Iterator[str]:
    """A line a rule, and what is within of systems whose rules have none."""
    lines = [line for _, own in contents.judged for line in own]
    if lines:
        title = "Advised" if contents.systems and not by_system else "What was judged"
        measured, limits = look.column(_TITLE, _LABEL) + _LABEL, look.column(_VALUES, _LABEL)
        yield f"{title:<{measured}}{'measured':<{limits}}limits"
    if by_system:
        for system, own in contents.judged:
            within = sum(len(line.findings) for line in own if line.verdict == str(Verdict.WITHIN))
            yield f"  {system}, {within} within" if within else f"  {system}"
            for line in own:
                yield from _rule(line, look)
                yield from _below(look, *line.counted, *line.remarks)
    else:
        for line in sorted(lines, key=lambda line: (_FIRST.index(line.verdict), not line.is_plain)):
            yield from _rule(line, look)
            yield from _below(look, *line.counted)
            yield from _below(look, f"do: {line.action}") if line.action else ()
    if contents.systems:
        yield from ["", *_within(contents.systems, look)] if lines else _within(contents.systems, look)


def _rule(line: RuleLine, look: Look) -> Iterator[str]:
    label = "OUTSIDE" if line.verdict == str(Verdict.OUTSIDE) else line.verdict
    verdict = next((it for it in JUDGED if str(it) == line.verdict), Verdict.NOT_MEASURED)
    count = len(line.findings)
    where = f", {line.where}" if line.where else f" ({count})" if count > 1 else ""
    cells = ((f"{line.title}{where}", _TITLE), (line.values, _VALUES), (line.limits or line.needs, _LIMITS + 2))
    for number, text in enumerate(look.in_columns(cells, _LABEL)):
        shown = f"{look.paint(label, verdict)}{' ' * (_LABEL - 4 - len(label))}" if number == 0 else " " * (_LABEL - 4)
        yield f"    {shown}{text}"
    if line.verdict_words != line.verdict:
        yield from _below(look, line.verdict_words)


def _below(look: Look, *remarks: str) -> Iterator[str]:
    """What there is to say below a line."""
    for remark in remarks:
        lines = look.folded(remark, look.width - _LABEL - 2, "  ")
        yield from (" " * (_LABEL + 2) + line for line in lines)


def _within(lines: Sequence[SystemLine], look: Look) -> Iterator[str]:
    yield "Within, and what is nearest to a limit and by how much"
    near = [line for line in lines if line.nearest][:_NEAR_SYSTEMS]
    for line in near:
        first, *more = look.folded(f"{line.system}: {line.nearest}", look.width - 7, "  ")
        yield f"  {look.paint(f'{line.within:>4}', Verdict.WITHIN)} {first}"
        yield from (" " * 7 + line_below for line_below in more)
    if others := [f"{line.system} {line.within}" for line in lines if line not in near]:
        yield from (f"{' ' * 7}{text}" for text in look.folded(", ".join(others), look.width - 7))


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
