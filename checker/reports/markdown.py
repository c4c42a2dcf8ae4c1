"""The report as Markdown, to paste into a letter, an invoice or a forum."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from checker.documents.printable import printable
from checker.reports.overview import NOT_ASKED_BY_POLICY, overview
from checker.reports.report import Report
from checker.reports.summary import RuleLine
from checker.reports.work import Work, tasks

_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~&@$])")


def write_markdown(report: Report) -> str:
    """The answer, the judged values, what would judge more, the work list, and the cautions."""
    contents = overview(report, frozenset(report.systems))
    lines = [
        f"# {escaped(report.record.assembly)}",
        "",
        f"Judged for {escaped(report.context.application_title)}.",
        "",
        f"**{escaped(contents.answer)}**",
        "",
        *listed("Suspect part sheets", map(str, report.suspect_sheets)),
        *listed("Out of limits", (str(task) for _, findings in contents.broken for task in tasks(findings))),
        *(line for system, lines in contents.judged for line in _system(system, lines)),
        *listed("What would judge more", contents.unlocks.sentences),
        *(line for work in contents.milestones for line in _milestone(work)),
        *listed("Readings in doubt", map(str, contents.doubts)),
        *listed("Concessions", contents.concessions),
        *listed("Inspections by eye", contents.seen),
        *listed(NOT_ASKED_BY_POLICY, (f"{rule.rule.title}, {why}" for rule, why in report.left_out)),
        *listed("Not asked here, by policy", report.not_asked),
        *listed("Not asked", (f"{system}: {'; '.join(titles)}" for system, titles in contents.not_asked)),
        *listed("Cautions", report.cautions),
        *listed("Grounds", report.grounds),
    ]
    return "\n".join(lines).rstrip() + "\n"


def _system(system: str, lines: Sequence[RuleLine]) -> Iterator[str]:
    """A row for each rule; those without a value or a limit to show are named below, by their verdict."""
    yield f"## {escaped(system)}"
    yield ""
    rows, bare = [], defaultdict[str, list[str]](list)
    for line in lines:
        shown = (line.places, line.values, line.required or line.needs, line.recommended)
        if any(shown):
            rows.append((line.title, *shown, line.verdict_words))
        else:
            bare[line.verdict_words].append(line.title)
    if rows:
        yield from table(("What", "Where", "Value", "Required", "Recommended", "Verdict"), rows)
        yield ""
    for verdict, titles in bare.items():
        yield f"{escaped(verdict[:1].upper() + verdict[1:])}: {escaped('; '.join(titles))}."
        yield ""


def _milestone(work: Work) -> Iterator[str]:
    """What is open in the heading, and below it the boxes to tick."""
    if not work.stands_in_the_way and not work.advice:
        return
    yield f"## {escaped(work.title[:1].upper() + work.title[1:])}{escaped(f': {work.amount}') if work.amount else ''}"
    yield ""
    for verb, findings in (("Fix", work.fix), ("Decide", work.decide), ("Advised", work.advice)):
        yield from (f"- [ ] **{verb}** {escaped(str(task))}" for task in tasks(findings))
    for verb, names in (("Find out", work.find_out), ("Measure", work.measure)):
        yield from (f"- [ ] **{verb}** {escaped(str(name))}" for name in names)
    yield ""


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """A table of plain texts."""
    yield f"| {' | '.join(head)} |"
    yield f"|{'---|' * len(head)}"
    yield from (f"| {' | '.join(map(escaped, row))} |" for row in rows)


def listed(title: str, texts: Iterable[str]) -> Iterator[str]:
    """Plain texts below a heading; nothing where there are none."""
    items = list(texts)
    if items:
        yield f"## {title}"
        yield ""
        yield from (f"- {escaped(text)}" for text in items)
        yield ""


def escaped(text: str) -> str:
    """Text that no Markdown reader takes for anything else; a web address leads nowhere."""
    shown = _SIGNS.sub(r"\\\1", printable(" ".join(text.split())))
    return re.sub(r"(?i)(://|\bwww\.)", lambda match: f"{match[0][:-1]}\\{match[0][-1]}", shown)
