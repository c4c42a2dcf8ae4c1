"""The report as plain text: what is wrong first, in words that need no colour."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence, Set
from itertools import chain

from checker.errors import require
from checker.findings.finding import Finding, places
from checker.findings.text import WIDTH, Look, Paint, finding_lines, number_of, plain, with_count
from checker.grouping import grouped
from checker.judging.judge import Verdict
from checker.packs.inspection import systems_called
from checker.reports.overview import NOT_ASKED_BY_POLICY, Doubt, Overview, doubts, is_told_in_full, overview
from checker.reports.report import SHOWN_AS, Report
from checker.reports.summary import JUDGED, OPEN, RuleLine, SystemLine
from checker.reports.unlocks import Unlocks
from checker.reports.work import Work

_IN_FULL = (Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.ADVISORY, Verdict.NOT_COVERED)
_NAMED = 2
_FIRST = ("outside", "accepted", "undecided", "advisory", OPEN, "within")
"""The order of the lines of what was judged."""
_AT_FACE_VALUE = "Within at face value: nearer to a limit than the usual uncertainty, and no instrument is named"
_LABEL, _TITLE, _VALUES = 14, 43, 23
_LIMITS = WIDTH - _LABEL - _TITLE - _VALUES
_NEAR_SYSTEMS = 4


def write_text(report: Report, paint: Paint = plain, whole: bool = False, system: str = "", width: int = WIDTH) -> str:
    """The report in short, the whole of it, or in short with one system opened.

    `paint` may colour a piece of text by the verdict it speaks of; columns and paragraphs are laid out for lines of
    `width` signs, 60 at least. Raises UsageError for a system that there is not.
    """
    require(report, "give what rulebook.check(record) returned", Report)
    opened = frozenset(report.systems) if whole else systems_called(system, report.systems) if system else frozenset()
    contents, look = overview(report, opened), Look(width, paint)
    sections = (
        _head(report, contents.answer, look),
        _section("Suspect part sheets", report.suspect_sheets, look, "suspect"),
        *(_system(name, findings, name in opened, look) for name, findings in contents.broken),
        _judged(contents, bool(opened), look),
        _unlocks(contents.unlocks, look),
        _milestones(contents.milestones, look),
        *(_system(name, findings, True, look) for name, findings in _the_rest(report, opened)),
        _doubts(contents.doubts, look),
        *_ending(report, contents, whole, look),
    )
    return "\n\n".join(text for lines in sections if (text := "\n".join(lines))) + "\n"


def _head(report: Report, answer: str, look: Look) -> Iterator[str]:
    doubt = "; some readings are in doubt" if report.flags else ""
    yield from look.wrapped(f"{report.record.assembly}, judged for {report.context.application_title}{doubt}")
    yield look.paint(answer, SHOWN_AS[report.status])


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
        named = (*(unknown.what for unknown in work.find_out), *work.measure)[:_NAMED]
        yield _cut(f"{work.title}: {work.amount}", "; ".join(named), look)


def _cut(text: str, named: str, look: Look) -> str:
    """One line, with as much of an example as it has room for."""
    room = look.width - len(text) - 4
    example = textwrap.shorten(named, room, placeholder=" ...") if named and room > 20 else ""
    return f"  {text}: {example}" if example and example != "..." else f"  {text}"


def _doubts(in_doubt: Sequence[Doubt], look: Look) -> Iterator[str]:
    if in_doubt:
        yield "Readings in doubt"
    for doubt in in_doubt:
        yield from look.labelled("not accepted" if doubt.is_refused else "check this", str(doubt))


def _section(title: str, entries: Iterable[object], look: Look, label: str = "") -> Iterator[str]:
    """Entries below a title, each behind a label; nothing where there are none."""
    for number, entry in enumerate(entries):
        if number == 0:
            yield title
        yield from look.labelled(label, str(entry))


def _ending(report: Report, contents: Overview, whole: bool, look: Look) -> Iterator[Iterator[str]]:
    """The sections after the answers; in short, what is left out is counted."""
    if whole:
        yield _section("How readings were understood", doubts(report.notes), look)
    yield _section("Concessions", contents.concessions, look)
    yield _section("Inspections by eye", contents.seen, look)
    left_out = grouped(report.left_out, lambda pair: str(pair[1]))
    policies = (f"{why}: {'; '.join(rule.rule.title for rule, _ in rules)}" for why, rules in left_out.items())
    yield _section(NOT_ASKED_BY_POLICY, policies, look)
    yield chain.from_iterable(map(look.wrapped, report.not_asked))
    if whole:
        yield _section("Within here, but other sources disagree", _other_sources(report), look)
        yield _section(_AT_FACE_VALUE, _face_value(report), look)
        yield chain(cautions(report, look), _quiet(report, contents, look), _grounds(report))
    else:
        yield chain(cautions(report, look), _short_grounds(report, look))


def _other_sources(report: Report) -> Iterator[str]:
    """Where something is within by this rulebook, but not by others."""
    for findings in grouped(report.disputed, lambda finding: finding.name).values():
        first, *others = dict.fromkeys(remark for finding in findings for remark in finding.remarks)
        more = f" (and {len(others)} more like it)" if others else ""
        yield f"{with_count(findings[0].title, len(findings))}: {first}{more}"


def _face_value(report: Report) -> Iterator[str]:
    """What is within, but only as far as its readings can be believed to the last digit."""
    for findings in grouped(report.at_face_value, lambda finding: finding.name).values():
        where = places(findings)
        shown = ", ".join(dict.fromkeys(finding.shown_value for finding in findings))
        yield f"{findings[0].title}{f', {where}' if where else ''}: {shown}"


def _quiet(report: Report, contents: Overview, look: Look) -> Iterator[str]:
    """What is not judged here at all."""
    for system, titles in contents.not_asked:
        yield from look.labelled("not asked", f"{system}: {'; '.join(titles)}")
    if idle := sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)):
        yield from look.labelled("not applicable", f"{number_of(idle, 'rule')}; --format json says of each why")
    if later := len(report.later):
        yield from look.labelled("not yet due", f"{number_of(later, 'rule')} of later milestones")


def _besides(report: Report) -> Iterator[str]:
    """What the whole report tells besides, counted; the headline has counted what is within at face value."""
    for count, noun, what in (
        (report.counts[Verdict.NOT_COVERED], "check", "without a limit"),
        (len(report.notes), "note", "on how readings were understood"),
        (report.disputed_count, "rule", "other sources dispute"),
        (sum(1 for _ in report.rules_with(Verdict.NOT_APPLICABLE)), "rule", "not for this build"),
        (len(report.later), "rule", "not due yet"),
    ):
        if count:
            yield f"{number_of(count, noun)} {what}"


def cautions(report: Report, look: Look) -> Iterator[str]:
    """What can hurt, whatever the verdicts."""
    if report.cautions:
        yield from look.wrapped(f"Cautions: {' '.join(report.cautions)}")


def _grounds(report: Report) -> Iterator[str]:
    """What was judged by what, for whoever judges it again."""
    yield from report.grounds
    yield f"decision: {report.context.decision}"
    bare, all_of_them = report.without_uncertainty
    if bare:
        yield f"{bare} of {all_of_them} readings {report.what_is_unstated}"
    yield f"judged on {report.on}"


def _short_grounds(report: Report, look: Look) -> Iterator[str]:
    """The same in a sentence or two."""
    bare, all_of_them = report.without_uncertainty
    sentences = [f"Judged on {report.on} by {', '.join(f'{pack}{pack.remark}' for pack in report.packs)}."]
    if bare:
        count = f"All {bare}" if bare == all_of_them > 1 else f"{bare} of {all_of_them}"
        sentences.append(f"{count} readings {report.what_is_unstated}.")
    if report.context.decision.chosen_by:
        sentences.append(f"Decision: {report.context.decision}.")
    sentences.append(f"More with --all: every basis, {', '.join(_besides(report)) or 'the digests'}.")
    yield from look.wrapped(" ".join(sentences))
    yield from (f"plugin {plugin} ({plugin.added})" for plugin in report.plugins)
