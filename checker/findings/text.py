"""Findings as lines of text: one rule at a time, its stations together."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby, zip_longest

from checker.findings.finding import Finding, listed, places
from checker.judging.judge import Verdict

WIDTH = 100
INDENT = " " * 17
_REMEDY = "do: "
Paint = Callable[[str, Verdict | None], str]


def plain(text: str, verdict: Verdict | None) -> str:
    """No colour at all."""
    return text


def finding_lines(findings: Iterable[Finding], paint: Paint, whole: bool = True) -> Iterator[str]:
    """Every finding, those of one rule with one verdict under one heading; the whole of it says on what basis."""
    for _, group in groupby(findings, key=lambda finding: (finding.name, finding.verdict, bool(finding.concession))):
        found = list(group)
        if found[0].verdict is Verdict.NOT_MEASURED:
            yield from _not_measured(found, paint)
        else:
            yield from _judged(found, paint, whole)


def labelled(label: str, text: str, length: int | None = None) -> Iterator[str]:
    """Text folded beside a label; `length` is that of the label as it shows, where colour makes it longer."""
    lines = textwrap.wrap(text, WIDTH - len(INDENT) - 2, break_on_hyphens=False) or [""]
    yield f"  {label}{' ' * max(1, len(INDENT) - 2 - (len(label) if length is None else length))}{lines[0]}"
    for line in lines[1:]:
        yield INDENT + line


def in_columns(cells: Iterable[tuple[str, int]]) -> Iterator[str]:
    """Texts side by side, each folded in its column, which ends in two blanks."""
    columns = [
        (textwrap.wrap(text, width - 2, break_on_hyphens=False, subsequent_indent="  "), width) for text, width in cells
    ]
    for row in zip_longest(*(lines for lines, _ in columns), fillvalue=""):
        yield "".join(f"{text:<{width}}" for text, (_, width) in zip(row, columns, strict=True)).rstrip()


def sentence(words: str) -> str:
    """Words as a sentence; nothing stays nothing."""
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def wrapped(text: str) -> Iterator[str]:
    """A paragraph that begins at the margin."""
    yield from textwrap.wrap(text, WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def with_count(title: str, count: int) -> str:
    """A title and at how many stations it counts."""
    return f"{title} ({count})" if count > 1 else title


def _judged(findings: Sequence[Finding], paint: Paint, whole: bool) -> Iterator[str]:
    first = findings[0]
    alike: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        alike.setdefault((_value(finding), *_statements(finding)), []).append(finding)
    common = [line for line in next(iter(alike)) if all(line in statements for statements in alike)]
    where = places(findings)
    value = f": {_value(first)}" if len(alike) == 1 and _value(first) else ""
    yield from _headed(first, f"{first.title}{f', {where}' if where else ''}{value}", paint)
    for line in common:
        if line != _value(first):
            yield from labelled("", line)
    if len(alike) > 1:
        for statements, found in alike.items():
            own = [line for line in statements if line and line not in common]
            told = "; ".join(sorted(own, key=lambda line: line.startswith(_REMEDY)))
            yield from labelled("", f"{places(found)}: {told}")
    if first.verdict in (Verdict.OUTSIDE, Verdict.UNDECIDED) and first.rule.rule.caution:
        yield from labelled("", f"caution: {first.rule.rule.caution}")
    if whole:
        yield from labelled("", f"basis: {first.basis}")
        yield from labelled("", f"{first.stated_by}, due {first.due}")
    else:
        # A sheet that no rule judges is all there is to say of its limits.
        basis = f'; basis: checker limits "{first.title}"' if first.rule.rule.limits else ""
        yield from labelled("", f"{first.due}{basis}")


def _value(finding: Finding) -> str:
    missed = finding.missed_by
    return f"{finding.shown_value}, {missed}" if missed else finding.shown_value


def _statements(finding: Finding) -> Iterator[str]:
    """What there is to say about one station, a line each."""
    if finding.limits:
        yield finding.limits
    if finding.remedy:
        yield f"{_REMEDY}{finding.remedy}"
    if finding.as_written:
        yield f"written {finding.as_written}"
    yield from finding.remarks
    if finding.concession:
        yield finding.concession


def _not_measured(findings: Sequence[Finding], paint: Paint) -> Iterator[str]:
    first = findings[0]
    yield from _headed(first, with_count(first.title, len(findings)), paint)
    missing = listed(gap for finding in findings for gap in finding.missing)
    if missing:
        yield from labelled("", f"still to measure: {'; '.join(missing)} ({first.due})")
    for remark in dict.fromkeys(remark for finding in findings for remark in finding.remarks):
        yield from labelled("", remark)


def _headed(finding: Finding, text: str, paint: Paint) -> Iterator[str]:
    label = _label(finding)
    yield from labelled(paint(label, finding.verdict), text, len(label))


def _label(finding: Finding) -> str:
    if finding.verdict is Verdict.OUTSIDE:
        return "accepted" if finding.concession else "OUTSIDE"
    return str(finding.verdict)
