"""The report as Markdown, to paste into a letter, an invoice or a forum."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from checker.documents.printable import printable
from checker.findings.finding import Finding, places
from checker.findings.text import with_count
from checker.judging.judge import Verdict
from checker.notation.write import write_apart
from checker.reports.report import Report
from checker.reports.text import answer
from checker.reports.work import Work, tasks, work_of

_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~&@$])")
_SHOWN = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY, Verdict.SEEN, Verdict.WITHIN)


def write_markdown(report: Report) -> str:
    """The answer, the work list, the judged values and the cautions."""
    works = [work for work in work_of(report) if work.stands_in_the_way or work.advice]
    lines = [
        f"# {_plain(report.record.assembly)}",
        "",
        f"Judged for {_plain(report.context.application_title)}.",
        "",
        f"**{_plain(answer(report))}**",
        "",
        *(line for system, findings in report.by_system() for line in _system(system, findings)),
        *(line for work in works for line in _work(work)),
        *_listed("Musts that were not asked by policy", (f"{rule.rule.title}, {why}" for rule, why in report.left_out)),
        *_listed("Not asked", _unasked(report)),
        *_listed("Within at face value", map(str, report.at_face_value)),
        *_listed("Readings in doubt", map(str, report.flags)),
        *_listed("Not asked", report.not_asked),
        *_listed("Cautions", report.cautions),
        *_listed("Grounds", report.grounds),
    ]
    return "\n".join(lines).rstrip() + "\n"


def _work(work: Work) -> Iterator[str]:
    yield f"## {_plain(work.title[:1].upper() + work.title[1:])}"
    yield ""
    for verb, findings in (("Fix", work.mend), ("Decide", work.decide), ("Advised", work.advice)):
        yield from (f"- [ ] **{verb}** {_plain(str(task))}" for task in tasks(findings))
    yield from (f"- [ ] **Measure** {_plain(name)}" for name in work.measure)
    yield ""


def _system(system: str, findings: Iterable[Finding]) -> Iterator[str]:
    """One line for all stations of a rule with the same verdict and limits."""
    alike: dict[tuple[str, str, str, str], list[Finding]] = {}
    for finding in findings:
        if finding.verdict in _SHOWN:
            told = "accepted" if finding.concession else str(finding.verdict)
            key = (finding.name, told, finding.band("must"), finding.band("should"))
            alike.setdefault(key, []).append(finding)
    if not alike:
        return
    yield f"## {_plain(system)}"
    yield ""
    yield "| What | Where | Value | Must | Should | Verdict |"
    yield "|---|---|---|---|---|---|"
    for (_, told, must, should), found in alike.items():
        cells = (found[0].title, places(found), _values(found), must, should, told)
        yield f"| {' | '.join(map(_plain, cells))} |"
    for words in dict.fromkeys(finding.concession for finding in findings if finding.concession):
        yield f"\n{_plain(words)}"
    yield ""


def _unasked(report: Report) -> Iterator[str]:
    """The rules that nobody asked for, by system."""
    by_system: dict[str, list[str]] = {}
    for rule, count in report.rules_with(Verdict.NOT_ASKED):
        by_system.setdefault(rule.rule.system, []).append(with_count(rule.rule.title, count))
    yield from (f"{system}: {'; '.join(titles)}" for system, titles in by_system.items())


def _values(findings: Iterable[Finding]) -> str:
    """The value, or the least and the greatest of several."""
    known = [finding for finding in findings if finding.shown_value]
    unit = known[0].unit if known else None
    if unit is None:
        return ""
    ends = (min(finding.value for finding in known), max(finding.value for finding in known))
    return " to ".join(dict.fromkeys(write_apart(unit, *ends)))


def _listed(title: str, texts: Iterable[str]) -> Iterator[str]:
    found = list(texts)
    if found:
        yield f"## {title}"
        yield ""
        yield from (f"- {_plain(text)}" for text in found)
        yield ""


def _plain(text: str) -> str:
    """Text that no Markdown reader takes for anything else; a web address leads nowhere."""
    escaped = _SIGNS.sub(r"\\\1", printable(" ".join(text.split())))
    return re.sub(r"(?i)(://|\bwww\.)", lambda match: f"{match[0][:-1]}\\{match[0][-1]}", escaped)
