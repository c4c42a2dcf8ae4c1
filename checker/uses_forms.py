"""Every use side by side, and one use beside another, as text, as Markdown and for programs."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence

from checker.findings.text import Look
from checker.judging.judge import Verdict
from checker.reports.markdown import escaped, listed, table
from checker.reports.report import SHOWN_AS
from checker.reports.summary import RuleLine
from checker.uses import RuleChange, Use, cautions_of, limits_told

_TITLE, _VALUE, _SIDE = 36, 20, 22


def write_uses(assembly: str, uses: Sequence[Use], look: Look) -> str:
    """The answer for each use, what was counted, and the rule that decides."""
    width = max(len(use.title) for use in uses)
    lines = [assembly]
    for use in uses:
        lines.append(f"  {use.title:{width}}  {look.paint(use.answer, SHOWN_AS[use.report.status])}")
        lines += look.labelled("", use.counts)
        lines += look.labelled("decided by", use.deciding) if use.deciding else ()
    names = ", ".join(use.application for use in uses)
    lines += ["", *look.wrapped(f"checker uses RECORD --to USE says rule by rule what another use asks: {names}.")]
    lines += look.wrapped(f"Cautions: {' '.join(cautions_of(uses))}")
    return "\n".join(lines) + "\n"


def uses_markdown(assembly: str, uses: Sequence[Use]) -> str:
    """The same as a table."""
    rows = [(use.title, use.answer, use.counts, use.deciding) for use in uses]
    lines = [f"# {escaped(assembly)}", "", *table(("Use", "Answer", "Findings", "Decided by"), rows)]
    lines += ["", *listed("Cautions", cautions_of(uses))]
    return "\n".join(lines).rstrip() + "\n"


def uses_json(assembly: str, uses: Sequence[Use]) -> str:
    """The same for programs."""
    return _json({"assembly": assembly, "uses": list(map(_use_data, uses))})


def write_change(assembly: str, pair: tuple[Use, Use], changed: Sequence[RuleChange], look: Look) -> str:
    """From one use to another: what is to be done first, then what is only held to other limits."""
    now = pair[1]
    answer = look.paint(f"{now.title}: {now.answer}; {now.counts}", SHOWN_AS[now.report.status])
    lines = [assembly, *look.wrapped(_title(pair)), answer]
    worse = [change for change in changed if change.is_worse]
    asked = [change for change in worse if change.now.nearest.verdict is Verdict.NOT_MEASURED]
    sections = {
        "To be done": [change for change in worse if change.now.nearest.verdict is not Verdict.NOT_MEASURED],
        "Changed, with nothing to do": [change for change in changed if not change.is_worse],
    }
    for title, changes in sections.items():
        heading = ((title, _TITLE), ("measured", _VALUE), ("was", _SIDE), ("now", _SIDE + 2))
        lines += ["", *look.in_columns(heading)] if changes else ()
        lines += (line for change in changes for line in _change_lines(change, look))
    lines += ["", "Asked besides"] if asked else ()
    for change in asked:
        lines += look.wrapped(f"{_heading(change)}: {change.do or change.now.verdict}", "  ")
    lines += ["", *look.wrapped(f"Cautions: {' '.join(cautions_of(pair))}")]
    return "\n".join(lines) + "\n"


def change_markdown(assembly: str, pair: tuple[Use, Use], changed: Sequence[RuleChange]) -> str:
    """The same as a table."""
    rows = [
        (change.now.title, change.now.places, change.now.values, _side(change.was), _side(change.now), change.do)
        for change in changed
    ]
    head = ("Rule", "Where", "Value", f"Was ({escaped(pair[0].title)})", f"Now ({escaped(pair[1].title)})", "Do")
    answer = f"**{escaped(pair[1].title)}: {pair[1].answer}**"
    lines = [f"# {escaped(assembly)}", "", escaped(_title(pair)), "", answer, "", *table(head, rows), ""]
    return "\n".join([*lines, *listed("Cautions", cautions_of(pair))]).rstrip() + "\n"


def change_json(assembly: str, pair: tuple[Use, Use], changed: Sequence[RuleChange]) -> str:
    """The same for programs: numbers in SI, and limits as the reports show them."""
    rules = [
        {
            "rule": change.now.name,
            "title": change.now.title,
            "system": change.now.findings[0].system,
            "stations": [finding.station + 1 for finding in change.now.findings if finding.where],
            "values": [finding.value if math.isfinite(finding.value) else None for finding in change.now.findings],
            "was": _side_data(change.was),
            "now": _side_data(change.now),
            "do": change.do or None,
        }
        for change in changed
    ]
    return _json({"assembly": assembly, "from": _use_data(pair[0]), "to": _use_data(pair[1]), "rules": rules})


def _title(pair: tuple[Use, Use]) -> str:
    return f"from {pair[0].title} to {pair[1].title}"


def _heading(change: RuleChange) -> str:
    return ", ".join(filter(None, (change.now.title, change.now.places)))


def _change_lines(change: RuleChange, look: Look) -> Iterator[str]:
    cells = ((f"  {_heading(change)}", _TITLE), (change.now.values, _VALUE), (_side(change.was), _SIDE))
    yield from look.in_columns((*cells, (_side(change.now), _SIDE + 2)))
    if change.is_worse and change.do:
        yield from look.labelled("    do", change.do)


def _side(line: RuleLine) -> str:
    """The verdict by one use, and its limits."""
    return "; ".join(filter(None, (line.verdict, limits_told(line))))


def _side_data(line: RuleLine) -> dict[str, object]:
    return {"verdict": line.verdict, "required": line.required or None, "recommended": line.recommended or None}


def _use_data(use: Use) -> dict[str, object]:
    return {
        "use": use.application,
        "title": use.title,
        "answer": use.answer,
        "status": use.report.status,
        "counts": {str(verdict): count for verdict, count in use.report.counts.items()},
        "decided_by": use.deciding or None,
        "reasons": list(dict.fromkeys(finding.name for finding in use.reasons)),
    }


def _json(data: object) -> str:
    return json.dumps(data, indent=2) + "\n"
