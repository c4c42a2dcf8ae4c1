"""A sheet as YAML: a record whose blanks are filled in with an editor, and which can be judged at any time."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from checker.documents.write import flow, key
from checker.records.filled import Filled, entry_lines
from checker.records.notes import FACTS, SECTIONS
from checker.sheets.plan import Line, Sheet, by_system
from checker.sheets.rows import guidance

WIDTH = 110
_ADVICE = """Write each value behind its colon, with a unit where it is not the one under units. What is left blank was
not measured. Judge it at any time: what is missing is said, and never passes."""


def write_yaml(sheet: Sheet) -> str:
    """The text of a record with a line for every spot still to be measured."""
    return "\n".join((*_head(sheet), "", *_readings(sheet))) + "\n"


def _head(sheet: Sheet) -> Iterator[str]:
    document = sheet.record.document
    yield from _remark(f"To be measured for {sheet.report.context.application_title}. {_ADVICE}", "")
    for caution in sheet.report.cautions:
        yield from _remark(f"Caution: {caution}", "")
    for name in document.data:
        if name not in SECTIONS:
            yield f"{key(name)}: {flow(document, name)}"
    if sheet.facts:
        yield f"{FACTS}:"
        yield from (f"  {key(line.name)}: {flow(document, FACTS, line.name)}" for line in sheet.facts)


def _readings(sheet: Sheet) -> Iterator[str]:
    yield "readings:" if sheet.measured else "readings: {}"
    for system, lines in by_system(sheet.measured):
        yield ""
        yield from _remark(f"--- {system}")
        for line in lines:
            yield from _line(line)


def _line(line: Line) -> Iterator[str]:
    yield ""
    yield from _remark(", ".join(filter(None, (line.title, line.unit_name, line.due))))
    yield from _remark(guidance(line))
    for target in line.targets:
        yield from _remark(f"{target.title}: {target.words}")
    yield from entry_lines(line.name, _stations(line))


def _stations(line: Line) -> dict[str, Filled | None]:
    """What stands at each station; where one value stands for all, only what is written."""
    others = any(station not in line.stations for station in line.filled)
    return dict(line.filled) if others else {spot.station: line.filled.get(spot.station) for spot in line.asked_at}


def _remark(text: str, indent: str = "  ") -> list[str]:
    gap = f"{indent}# "
    return textwrap.wrap(text, WIDTH, initial_indent=gap, subsequent_indent=gap, break_on_hyphens=False)
