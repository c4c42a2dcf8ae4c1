"""Findings as lines of text: one rule at a time, its stations together."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby, zip_longest
from typing import NamedTuple

from checker.findings.finding import Finding, listed, places
from checker.judging.judge import Verdict

WIDTH = 100
INDENT = " " * 17
_REMEDY = "do: "
Paint = Callable[[str, Verdict | None], str]


def plain(text: str, verdict: Verdict | None) -> str:
    """No colour at all."""
    return text


class Look(NamedTuple):
    """How a text looks: how many signs a line has room for, and how a verdict is coloured."""

    width: int = WIDTH
    paint: Paint = plain

    def labelled(self, label: str, text: str, verdict: Verdict | None = None) -> Iterator[str]:
        """Text folded beside a label, which has the colour of a verdict."""
        start = max(len(INDENT), len(label) + 3)
        first, *others = self.folded(text, self.width - 2, INDENT, " " * start) or [""]
        yield f"  {self.paint(label, verdict)}{' ' * (start - 2 - len(label))}{first[start:]}"
        yield from others

    def in_columns(self, cells: Iterable[tuple[str, int]], beside: int = 0) -> Iterator[str]:
        """Texts side by side, each folded in its column, which ends in two blanks; see `column` for their widths."""
        sized = [(text, self.column(width, beside)) for text, width in cells]
        columns = [(self.folded(text, width - 2, "  "), width) for text, width in sized]
        for row in zip_longest(*(lines for lines, _ in columns), fillvalue=""):
            yield "".join(f"{text:<{width}}" for text, (_, width) in zip(row, columns, strict=True)).rstrip()

    def column(self, width: int, beside: int = 0) -> int:
        """The width of a column in proportion, where lines are not WIDTH wide; `beside` it a part stays as it is."""
        return width * (self.width - beside) // (WIDTH - beside)

    def wrapped(self, text: str, indent: str = "") -> list[str]:
        """A paragraph; what goes on below stands two signs further in."""
        return self.folded(text, self.width, f"{indent}  ", indent)

    def folded(self, text: str, width: int, following: str = "", first: str = "") -> list[str]:
        """Text in lines of a width of its own."""
        return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=following, break_on_hyphens=False)


PLAIN = Look()
"""Text in a file."""


def finding_lines(findings: Iterable[Finding], look: Look, whole: bool = True) -> Iterator[str]:
    """Every finding, those of one rule with one verdict under one heading; the whole of it says on what basis."""
    for _, group in groupby(findings, key=lambda finding: (finding.name, finding.verdict, bool(finding.concession))):
        of_rule = list(group)
        if of_rule[0].verdict is Verdict.NOT_MEASURED:
            yield from _not_measured(of_rule, look)
        else:
            yield from _judged(of_rule, look, whole)


def sentence(words: str) -> str:
    """Words as a sentence; nothing stays nothing."""
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def number_of(count: int, noun: str) -> str:
    """A number with its noun."""
    return f"{count} {noun if count == 1 else noun + 's'}"


def with_count(title: str, count: int) -> str:
    """A title and at how many stations it counts."""
    return f"{title} ({count})" if count > 1 else title


def _judged(findings: Sequence[Finding], look: Look, whole: bool) -> Iterator[str]:
    first = findings[0]
    alike: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        alike.setdefault((_value(finding), *_statements(finding)), []).append(finding)
    common = [line for line in next(iter(alike)) if all(line in statements for statements in alike)]
    where = places(findings)
    value = f": {_value(first)}" if len(alike) == 1 and _value(first) else ""
    yield from _headed(first, f"{first.title}{f', {where}' if where else ''}{value}", look)
    for line in common:
        if line != _value(first):
            yield from look.labelled("", line)
    if len(alike) > 1:
        for statements, stating in alike.items():
            own = [line for line in statements if line and line not in common]
            words = "; ".join(sorted(own, key=lambda line: line.startswith(_REMEDY)))
            yield from look.labelled("", f"{places(stating)}: {words}")
    if first.verdict in (Verdict.OUTSIDE, Verdict.UNDECIDED) and first.rule.rule.caution:
        yield from look.labelled("", f"caution: {first.rule.rule.caution}")
    if whole:
        yield from look.labelled("", f"basis: {first.basis}")
        yield from look.labelled("", f"{first.stated_by}, due {first.due}")
    else:
        # A sheet that no rule judges is all there is to say of its limits.
        basis = f'; basis: checker limits "{first.title}"' if first.rule.rule.limits else ""
        yield from look.labelled("", f"{first.due}{basis}")


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


def _not_measured(findings: Sequence[Finding], look: Look) -> Iterator[str]:
    first = findings[0]
    yield from _headed(first, with_count(first.title, len(findings)), look)
    missing = listed(gap for finding in findings for gap in finding.missing)
    if missing:
        yield from look.labelled("", f"still to measure: {'; '.join(missing)} ({first.due})")
    for remark in dict.fromkeys(remark for finding in findings for remark in finding.remarks):
        yield from look.labelled("", remark)


def _headed(finding: Finding, text: str, look: Look) -> Iterator[str]:
    yield from look.labelled(_label(finding), text, finding.verdict)


def _label(finding: Finding) -> str:
    if finding.verdict is Verdict.OUTSIDE:
        return "accepted" if finding.concession else "OUTSIDE"
    return str(finding.verdict)
