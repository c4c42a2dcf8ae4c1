"""A sheet to print and to write on: one box for each reading, laid out as the stations lie, the front at the top."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest

from checker.html.markup import Markup, element
from checker.html.page import page
from checker.sheets.plan import Line, Sheet, by_system
from checker.sheets.rows import Row, guidance, rows_of

_MOST_IN_HALF = 2
_FIELDS = ("Measured by", "Date", "Temperature of parts and gauges", "Gauges set with")


def write_html(sheet: Sheet) -> str:
    """The text of a page that needs no other file."""
    sections = [
        element(
            "section", element("h2", system), element("div", [_card(line, sheet) for line in lines], class_="cards")
        )
        for system, lines in by_system(sheet.lines)
    ]
    remarks = element("section", element("h2", "Remarks"), element("div", class_="remarks"))
    title = f"{sheet.record.assembly}: to be measured"
    return page(title, element("main", _head(sheet), sections, remarks, class_="sheet"), sheets=("page", "sheet"))


def _head(sheet: Sheet) -> Markup:
    report = sheet.report
    due = f", up to what must hold before {report.before}" if report.before else ""
    packs = ", ".join(map(str, report.packs))
    return element(
        "header",
        element("h1", sheet.record.assembly),
        element("p", f"To be measured for {report.context.application_title}{due}. Limits: {packs}."),
        element("p", "Stations are laid out with the front at the top. Write the unit if it is not the printed one."),
        element("div", [element("span", field) for field in _FIELDS], class_="fields"),
    )


def _card(line: Line, sheet: Sheet) -> Markup:
    """Everything about one characteristic, kept on one page."""
    stated = line.item.characteristic
    beside = ", ".join(filter(None, (line.unit_name, line.before and f"before {line.before}")))
    is_ticked = bool(stated.choices) and len(line.spots) == 1
    said = guidance(line, with_choices=not is_ticked)
    alike = [target for target in line.targets if target.is_alike]
    return element(
        "article",
        element("h3", line.title, " ", element("small", beside)),
        element("p", said) if said else None,
        element("ul", [element("li", f"{target.title}: {target.texts[0]}", class_="target") for target in alike]),
        _choices(line) if is_ticked else _spots(line, sheet),
        class_=f"card {_width(line)}".rstrip(),
    )


def _width(line: Line) -> str:
    """How much of the page a card takes: a third, half or all of it."""
    boxes = max(1, len(line.rows)) * (line.spaces / 2 if line.spaces > 1 else 1)
    return "" if boxes <= 1 else "half" if boxes <= _MOST_IN_HALF else "full"


def _choices(line: Line) -> Markup:
    """Choices to tick; the one that is written already is ticked."""
    written = {text for filled in line.filled.values() for text in filled.texts}
    ticks = [
        element("span", element("i", "\u2713" if choice in written else ""), choice, class_="tick")
        for choice in line.item.characteristic.choices
    ]
    return element("p", ticks)


def _spots(line: Line, sheet: Sheet) -> Markup:
    """The stations as they lie; where one value stands for all of them, that one alone."""
    rows = {row.station: row for row in rows_of(line, sheet)}
    for_all = [rows[station] for station in rows if station not in line.stations and any(rows[station].texts)]
    across: list[tuple[str | None, ...]] = list(zip_longest(*(map(str, row) for row in line.rows))) or [line.stations]
    laid_out = [[_spot("all", row, line)] for row in for_all] or [
        [element("td") if station is None else _spot(station, rows[station], line) for station in stations]
        for stations in across
    ]
    return element(
        "table",
        element("caption", "front") if len(laid_out) > 1 else None,
        element("tbody", [element("tr", spots) for spots in laid_out]),
        class_="spots",
    )


def _spot(name: str, row: Row, line: Line) -> Markup:
    """One station: its number, a box for each reading, and its target where stations differ."""
    own = [target for target in line.targets if not target.is_alike and row.station in line.stations]
    number = line.stations.index(row.station) if own else 0
    return element(
        "td",
        element("span", name, class_="number") if len(line.spots) > 1 else None,
        list(_boxes(row, line)),
        [element("small", f"{target.title}: {target.at(number)}", class_="target") for target in own],
    )


def _boxes(row: Row, line: Line) -> Iterator[Markup]:
    spaces = max(line.spaces, len(row.texts))
    for number in range(spaces):
        text = row.texts[number] if number < len(row.texts) else ""
        names = ["box", *(["small"] if spaces > 1 else []), *(["done"] if text else [])]
        yield element("span", text, class_=" ".join(names))
