"""A sheet to print and to write on: a table for each system, measurements down, stations across, on paper laid wide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checker.html.markup import Content, Markup, element
from checker.html.page import page
from checker.sheets.plan import Line, Sheet, by_system
from checker.sheets.rows import Row, rows_of

ACROSS = 8
"""Boxes side by side: as many as a hand can write into on paper laid wide."""
TRIES = 2
"""Room in a box: a first reading, and one more after the part was worked on."""
_FIELDS = ("Measured by", "Date", "Temperature of parts and gauges", "Gauges set with")


def write_html(sheet: Sheet) -> str:
    """The text of a page that needs no other file."""
    sections = [
        element("section", element("h2", system), _stations(lines, sheet), _singles(lines, sheet))
        for system, lines in by_system(sheet.lines)
    ]
    remarks = element("section", element("h2", "Remarks"), element("div", class_="remarks"))
    title = f"{sheet.record.assembly}: to be measured"
    body = element("main", _head(sheet), sections, _how_to(sheet.lines), remarks, class_="sheet")
    return page(title, body, sheets=("page", "sheet"))


def _head(sheet: Sheet) -> Markup:
    report = sheet.report
    due = f", up to what must hold before {report.before}" if report.before else ""
    packs = ", ".join(map(str, report.packs))
    return element(
        "header",
        element("h1", sheet.record.assembly),
        element("p", f"To be measured for {report.context.application_title}{due}. Limits: {packs}."),
        element("p", "Stations stand from left to right as they lie from the front, one row of them after the other."),
        element("p", "Each box has room for two tries. Write the unit if it is not the printed one."),
        element("div", [element("span", field) for field in _FIELDS], class_="fields"),
    )


def _stations(lines: Sequence[Line], sheet: Sheet) -> Markup | None:
    """What is measured at several stations."""
    bodies = [_measurement(line, sheet) for line in lines if not _is_written_once(line)]
    if not bodies:
        return None
    heads = [element("th", text, scope="col") for text in ("Measurement", "Limits")]
    across = element("th", "Stations", scope="col", colspan=ACROSS)
    return element("table", element("thead", element("tr", heads, across)), bodies, class_="bench")


def _measurement(line: Line, sheet: Sheet) -> Markup:
    """The rows of one measurement: its name and limits, then its boxes, as many side by side as the paper takes."""
    rows = {row.station: row for row in rows_of(line, sheet)}
    for_all = [row for station, row in rows.items() if station not in line.stations and any(row.texts)]
    boxes = [_box("all", row, line) for row in for_all] or [_box(name, rows[name], line) for name in _in_order(line)]
    across = [boxes[first : first + ACROSS] for first in range(0, len(boxes), ACROSS)]
    named = element("th", *_named(line), scope="row", rowspan=len(across))
    limits = element("td", _limits(line), rowspan=len(across))
    first = element("tr", named, limits, across[0])
    return element("tbody", first, [element("tr", more) for more in across[1:]])


def _in_order(line: Line) -> tuple[str, ...]:
    """The stations that are asked for, as they lie from the front, one bank after the other."""
    return tuple(str(station) for bank in line.rows for station in bank if str(station) in line.stations)


def _is_written_once(line: Line) -> bool:
    """Whether one place does for it: there is but one station, or one choice goes for all until some differ."""
    differs = any(station in line.filled for station in line.stations)
    return len(line.spots) <= 1 or bool(line.item.characteristic.choices and not differs)


def _named(line: Line) -> tuple[Content, ...]:
    beside = (line.unit_name, line.item.characteristic.with_, line.before and f"before {line.before}")
    choices = line.item.characteristic.choices
    return (
        line.title,
        element("small", ", ".join(filter(None, beside))),
        element("small", f"one of: {', '.join(choices)}") if choices and not _is_written_once(line) else None,
    )


def _limits(line: Line) -> list[Markup]:
    several = len(line.targets) > 1
    return [
        element("p", f"{target.title}: " if several else "", target.words, class_="target") for target in line.targets
    ]


def _box(name: str, row: Row, line: Line) -> Markup:
    """A station's box: its number, and a space for each reading and each try."""
    spaces = max(line.spaces, TRIES, len(row.texts))
    texts = [*row.texts, *[""] * (spaces - len(row.texts))]
    tries = [element("span", text, class_="try done" if text else "try") for text in texts]
    return element("td", element("span", name, class_="number"), element("span", tries, class_="box"))


def _singles(lines: Sequence[Line], sheet: Sheet) -> Markup | None:
    """What is written down once."""
    cards = [
        element(
            "article",
            element("h3", *_named(line)),
            _choices(line) if line.item.characteristic.choices else _space(line, sheet),
            _limits(line),
        )
        for line in lines
        if _is_written_once(line)
    ]
    return element("div", cards, class_="singles") if cards else None


def _space(line: Line, sheet: Sheet) -> Markup:
    texts = [text for row in rows_of(line, sheet) for text in row.texts if text]
    return element("p", element("span", ", ".join(texts), class_="once done" if texts else "once"))


def _choices(line: Line) -> Markup:
    """Choices to tick; the one that is written already is ticked."""
    written = {text for filled in line.filled.values() for text in filled.texts}
    ticks = [
        element("span", element("i", "\u2713" if choice in written else ""), choice, class_="tick")
        for choice in line.item.characteristic.choices
    ]
    others = element("span", "not all alike: ", element("i"), class_="others") if len(line.spots) > 1 else None
    return element("p", ticks, others)


def _how_to(lines: Sequence[Line]) -> Markup | None:
    """How to hold the gauge, on paper of its own behind the boxes."""
    told = list(_told(lines))
    return element("section", element("h2", "How to measure"), element("dl", told), class_="how") if told else None


def _told(lines: Sequence[Line]) -> Iterator[Markup]:
    for line in lines:
        if line.item.characteristic.how:
            yield element("div", element("dt", line.title), element("dd", line.item.characteristic.how))
