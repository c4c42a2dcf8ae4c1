"""A sheet to print and to write on: a table for each system, measurements down, stations across, on paper laid wide."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from checker.html.markup import Markup, element, page
from checker.html.sections import cautions
from checker.html.words import section
from checker.sheets.plan import Line, Sheet, by_system
from checker.sheets.rows import Row, rows_of

ACROSS = 8
"""Boxes side by side: as many as a hand can write into on paper laid wide."""
TRIES = 2
"""Room in a box: a first reading, and one more after the part was worked on."""
_FIELDS = ("Measured by", "Date", "Temperature of parts and gauges", "Gauges set with")


def write_html(sheet: Sheet) -> str:
    """The text of a page that needs no other file."""
    notes = _notes(sheet.lines)
    sections = [
        section(system, _stations(lines, notes, sheet), _singles(lines, notes, sheet))
        for system, lines in by_system(sheet.lines)
    ]
    remarks = section("Remarks", element("div", class_="remarks"))
    caution_list = cautions(sheet.report.cautions)
    body = element("main", _head(sheet), sections, _how_to(notes), remarks, caution_list, class_="sheet")
    return page(f"{sheet.record.assembly}: to be measured", body, sheets=("page", "sheet"))


def _head(sheet: Sheet) -> Markup:
    report = sheet.report
    aim = f", {report.context.milestones[report.before]}" if report.before else ""
    packs = ", ".join(map(str, report.packs))
    return element(
        "header",
        element("h1", sheet.record.assembly),
        element(
            "p",
            f"To be measured for {report.context.application_title}{aim}. Limits: {packs}. ",
            "Stations stand from left to right as they lie from the front, one row of them after the other. "
            "Each box has room for two tries. Write the unit if it is not the printed one. "
            "Small numbers lead to how it is measured, at the end.",
        ),
        element("div", [element("span", field) for field in _FIELDS], class_="fields"),
    )


def _notes(lines: Sequence[Line]) -> Mapping[str, int]:
    """How to hold the gauge, each way of it once, with the number it has below the boxes."""
    methods = dict.fromkeys(line.item.characteristic.how for line in lines if line.item.characteristic.how)
    return {how: number for number, how in enumerate(methods, 1)}


def _stations(lines: Sequence[Line], notes: Mapping[str, int], sheet: Sheet) -> Markup | None:
    """What is measured at several stations."""
    bodies = [_measurement(line, notes, sheet) for line in lines if not line.is_written_once]
    return element("table", bodies, class_="bench") if bodies else None


def _measurement(line: Line, notes: Mapping[str, int], sheet: Sheet) -> Markup:
    """The rows of one measurement: its name and limits, then its boxes, as many side by side as the paper takes."""
    rows = {row.station: row for row in rows_of(line, sheet)}
    for_all = [row for station, row in rows.items() if station not in line.stations and any(row.texts)]
    # As they lie from the front, one bank after the other.
    in_order = (str(station) for bank in line.rows for station in bank if str(station) in line.stations)
    boxes = [_box("all", row, line) for row in for_all] or [_box(name, rows[name], line) for name in in_order]
    across = [boxes[first : first + ACROSS] for first in range(0, len(boxes), ACROSS)]
    named = element("th", _named(line, notes), _beside(line), _limits(line), scope="row", rowspan=len(across))
    first = element("tr", named, across[0])
    return element("tbody", first, [element("tr", more) for more in across[1:]])


def _named(line: Line, notes: Mapping[str, int]) -> list[Markup | None]:
    """The title, its unit, and the number of the note on how to measure it."""
    note = notes.get(line.item.characteristic.how)
    return [
        element("b", line.title),
        element("i", f" {line.unit_words}") if line.unit_words else None,
        element("sup", str(note)) if note else None,
    ]


def _beside(line: Line) -> Markup:
    """In small print: where, if it is at one of several; with what; by when; and what it can be."""
    choices = line.item.characteristic.choices
    listed = f"one of: {', '.join(choices)}" if choices and not line.is_written_once else ""
    where = line.spots[0].where if len(line.spots) == 1 else ""
    return element("small", ", ".join(filter(None, (where, line.item.characteristic.with_, line.due, listed))))


def _limits(line: Line) -> list[Markup]:
    several = len(line.targets) > 1
    return [
        element("p", f"{target.title}: " if several else "", target.words, class_="target") for target in line.targets
    ]


def _box(name: str, row: Row, line: Line) -> Markup:
    """A station's box: its number, and a space for each reading and each try."""
    spaces = max(line.spaces, TRIES, len(row.texts))
    return element("td", element("span", name, class_="number"), _tries(row.texts, spaces))


def _tries(texts: Sequence[str], spaces: int) -> Markup:
    given = [*texts, *[""] * (spaces - len(texts))]
    return element(
        "span", [element("span", text, class_="try done" if text else "try") for text in given], class_="box"
    )


def _singles(lines: Sequence[Line], notes: Mapping[str, int], sheet: Sheet) -> Markup | None:
    """What is written down once."""
    cards = [
        element(
            "article",
            element("h3", _named(line, notes)),
            _choices(line) if line.item.characteristic.choices else _space(line, sheet),
            _beside(line),
            _limits(line),
        )
        for line in lines
        if line.is_written_once
    ]
    return element("div", cards, class_="singles") if cards else None


def _space(line: Line, sheet: Sheet) -> Markup:
    texts = [text for row in rows_of(line, sheet) for text in row.texts if text]
    return element("p", _tries(texts, max(TRIES, len(texts))), class_="once")


def _choices(line: Line) -> Markup:
    """Choices to tick; the one that is written already is ticked."""
    written = {text for filled in line.filled.values() for text in filled.texts}
    ticks = [
        element("span", element("i", "\u2713" if choice in written else ""), choice, class_="tick")
        for choice in line.item.characteristic.choices
    ]
    others = element("span", "not all alike: ", element("i"), class_="others") if len(line.spots) > 1 else None
    return element("p", ticks, others)


def _how_to(notes: Mapping[str, int]) -> Markup | None:
    items = [element("li", how) for how in notes]
    return section("How to measure", element("ol", items), class_="how") if items else None
