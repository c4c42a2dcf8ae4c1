"""What was judged as lines of text: what was measured and its limits in columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checker.findings.text import WIDTH, Look
from checker.judging.judge import Verdict
from checker.reports.overview import Overview
from checker.reports.summary import JUDGED, OPEN, RuleLine, SystemLine

_FIRST = ("outside", "accepted", "undecided", "advisory", OPEN, "within")
"""The order of the lines of what was judged."""
_LABEL, _TITLE, _VALUES = 14, 43, 23
_LIMITS = WIDTH - _LABEL - _TITLE - _VALUES
_NEAR_SYSTEMS = 4


def judged_lines(contents: Overview, by_system: bool, look: Look) -> Iterator[str]:
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
        yield from ["", *_systems(contents.systems, look)] if lines else _systems(contents.systems, look)


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


def _systems(lines: Sequence[SystemLine], look: Look) -> Iterator[str]:
    yield "Within, and what is nearest to a limit and by how much"
    near = [line for line in lines if line.nearest][:_NEAR_SYSTEMS]
    for line in near:
        first, *more = look.folded(f"{line.system}: {line.nearest}", look.width - 7, "  ")
        yield f"  {look.paint(f'{line.within:>4}', Verdict.WITHIN)} {first}"
        yield from (" " * 7 + line_below for line_below in more)
    if others := [f"{line.system} {line.within}" for line in lines if line not in near]:
        yield from (f"{' ' * 7}{text}" for text in look.folded(", ".join(others), look.width - 7))
