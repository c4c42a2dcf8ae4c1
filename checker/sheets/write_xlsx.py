"""A sheet as a workbook: a tab for the record, one for each system, a table for each characteristic."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from checker.records.reading_keys import CIRCUMSTANCES
from checker.sheets.headings import KEY, REMARK, STATION, VALUE, reading_heading
from checker.sheets.plan import Line, Sheet, by_system
from checker.sheets.rows import Row, guidance, head_of, rows_of
from checker.sheets.workbook import Box, Guard, Style, Tab, write_workbook
from checker.sheets.written import number_text

_SPACES = 3  # readings that fit beside each other at every station
_LONGEST_TITLE = 31  # of a tab
_NOT_IN_TITLES = re.compile(r"[\[\]:*?/\\']")
_RECORD = "Record"
_WIDTHS = {STATION: 26, "where": 24, "reading": 15, "target": 44, "with": 15, "note": 30}
_USUAL_WIDTH = 12
_BESIDE = ("target", *CIRCUMSTANCES)


def write_xlsx(sheet: Sheet) -> bytes:
    """The bytes of a workbook that reads back to the same record."""
    titles = {_RECORD.casefold()}
    tabs = [_record_tab(sheet)]
    for system, lines in by_system(sheet.measured):
        tabs.append(_system_tab(_title(system, titles), lines, sheet))
    return write_workbook(tabs)


def _title(system: str, taken: set[str]) -> str:
    """A title of its own for a tab, as short as spreadsheet programs want it."""
    wanted = _NOT_IN_TITLES.sub(" ", system).strip() or "System"
    for number in range(1, len(taken) + 2):
        ending = f" {number}" if number > 1 else ""
        title = wanted[: _LONGEST_TITLE - len(ending)].rstrip() + ending
        if title.casefold() not in taken:
            break
    taken.add(title.casefold())
    return title


def _record_tab(sheet: Sheet) -> Tab:
    advice = (
        "Write each value into its yellow cell, in the unit of its heading or with its own unit behind it.",
        "Leave blank what was not measured; stations count from the front.",
        "List your instruments below, as in {micrometer: {expanded_uncertainty: 0.2 thou}}; name them beside values.",
        *(f"Caution: {caution}" for caution in sheet.report.cautions),
    )
    rows: list[tuple[Box, ...]] = [(Box(f"{REMARK} {text}", Style.GUIDE),) for text in advice]
    rows += [(), (Box(KEY, Style.HEADING), Box(VALUE, Style.HEADING))]
    head = dict(head_of(sheet))
    if "instruments" not in head:
        head["instruments"] = "{}"
    rows += [(Box(name, Style.LABEL), Box(text, Style.ENTRY)) for name, text in head.items()]
    return Tab(_RECORD, tuple(rows), (), (20, 90))


def _system_tab(title: str, lines: Sequence[Line], sheet: Sheet) -> Tab:
    rows: list[tuple[Box, ...]] = []
    guards: list[Guard] = []
    spaces = 1
    for line in lines:
        table = list(rows_of(line, sheet))
        readings = _readings(line, table)
        spaces = max(spaces, readings)
        top = len(rows) + 3
        rows += [_naming(line, readings), _heading(line, readings), *(_row(row, readings) for row in table), ()]
        guards += _guards(line, top, len(table), readings, sheet)
    names = (STATION, "where", *["reading"] * spaces, *_BESIDE)
    return Tab(title, tuple(rows), tuple(guards), tuple(_WIDTHS.get(name, _USUAL_WIDTH) for name in names))


def _readings(line: Line, table: Sequence[Row]) -> int:
    usual = _SPACES if line.unit is not None and not line.item.characteristic.series else 1
    return max(usual, line.spaces, *(len(row.texts) for row in table))


def _naming(line: Line, readings: int) -> tuple[Box, ...]:
    due = f" ({line.due})" if line.due else ""
    gap = [Box("", Style.GUIDE)] * readings
    return (Box(line.name, Style.NAME), Box(line.title + due, Style.TITLE), *gap, Box(guidance(line), Style.GUIDE))


def _heading(line: Line, readings: int) -> tuple[Box, ...]:
    texts = (reading_heading(number + 1, line.unit_name) for number in range(readings))
    return tuple(Box(text, Style.HEADING) for text in (STATION, "where", *texts, *_BESIDE))


def _row(row: Row, readings: int) -> tuple[Box, ...]:
    texts = (*row.texts, *[""] * (readings - len(row.texts)))
    return (
        Box(_number_or_text(row.station), Style.LABEL),
        Box(row.where, Style.LABEL),
        *(Box(_number_or_text(text), Style.ENTRY) for text in texts),
        Box(row.target, Style.LABEL),
        *(Box(text, Style.ENTRY) for text in row.circumstances.values()),
    )


def _number_or_text(text: str) -> str | float:
    """A number where it reads back as the very text; a spreadsheet would show .0025 or 2.4500 otherwise."""
    try:
        number = float(text)
    except ValueError:
        return text
    return number if number_text(number) == text else text


def _guards(line: Line, top: int, count: int, readings: int, sheet: Sheet) -> Iterator[Guard]:
    item, unit = line.item, line.unit
    left, bottom = 3, top + count - 1
    targets = "; ".join(f"{target.title}: {target.words}" for target in line.targets)
    prompt = ". ".join(filter(None, (guidance(line), targets))) or line.title
    low, high = (None, None) if unit is None else (unit.from_si(item.low), unit.from_si(item.high))
    yield Guard(top, left, bottom, left + readings - 1, line.title, prompt, item.characteristic.choices, low, high)
    instruments = tuple(instrument.name for instrument in sheet.record.instruments)
    if instruments:
        column = left + readings + _BESIDE.index("with")
        words = "One of the instruments listed in the record."
        yield Guard(top, column, bottom, column, "Measured with", words, instruments)
