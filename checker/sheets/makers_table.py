"""Reading a maker's table of limits that a shop has typed: one line for each thing that is measured."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from checker.documents.document import decode, read_bytes
from checker.documents.printable import printable
from checker.documents.tree import Findings
from checker.errors import InputError, Place, Problem, nearest
from checker.notation.read import NotationError, read_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.records.slips import lies_within
from checker.rulebook import Rulebook
from checker.sheets.grid import Cell
from checker.sheets.headings import REMARK
from checker.sheets.read_csv import csv_rows
from checker.units.units import UNITS, Unit
from checker.vetting.makers_pack import MakersLimits, rules_judging

WHAT, LEAST, MOST, WORN, UNIT, PAGE = COLUMNS = ("what", "new least", "new most", "wear limit", "unit", "page")
_HEADINGS = {
    WHAT: ("what", "measured", "what is measured", "name", "title", "characteristic", "item", "description"),
    LEAST: ("new least", "least", "new min", "min", "minimum", "new minimum", "from"),
    MOST: ("new most", "most", "new max", "max", "maximum", "new maximum", "greatest", "new greatest", "to"),
    WORN: ("wear limit", "worn", "limit", "service limit", "wear", "limit of wear", "used"),
    UNIT: ("unit", "units"),
    PAGE: ("page", "source", "table", "where"),
}
_ROLES = {heading: role for role, headings in _HEADINGS.items() for heading in headings}
_OTHER_MARKS = {";": "semicolons", "\t": "tabs"}
_EXAMPLE = "Shaft end float,0.10,0.20,0.35,mm,12"
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)", re.ASCII)
_SIDES = {"at least": "low", "min": "low", "at most": "high", "max": "high"}
_SAID = re.compile(rf"({'|'.join(_SIDES)})\.? +(.+)", re.IGNORECASE)


def read_makers_table(path: Path, rulebook: Rulebook) -> tuple[MakersLimits, ...]:
    """The limits in a CSV file, each under the rules that judge what it names.

    Columns may stand in any order under any of several headings. Raises InputError naming every problem with its line
    and column, the nearest name that is known, and an example.
    """
    source = printable(str(path))
    findings = Findings(source)
    rows = [row for row in csv_rows(decode(read_bytes(path), findings), findings) if any(cell.text for cell in row)]
    findings.settle()
    reader = _Reader(source, rulebook)
    rows = [row for row in rows if not row[0].text.startswith(REMARK)]
    if not rows:
        reader.wrong(Cell("", 1, 1, ""), "", "nothing is in it", f"begin with a line of headings: {','.join(COLUMNS)}")
    else:
        reader.read_headings(rows[0])
    table = [limits for row in rows[1:] for limits in reader.read_row(row)] if not reader.problems else []
    if not table and not reader.problems:
        reader.wrong(rows[0][0], WHAT, "no line stands below the headings", f"for example {_EXAMPLE}")
    if reader.problems:
        raise InputError(reader.problems)
    return tuple(table)


class _Reader:
    """Reads the lines of one table; every problem is noted."""

    def __init__(self, source: str, rulebook: Rulebook) -> None:
        self.source = source
        self.rulebook = rulebook
        self.problems: list[Problem] = []
        self.columns: dict[str, int] = {}
        self.lines: dict[str, int] = {}
        self.names: dict[str, dict[tuple[str, ...], None]] = {}
        for said, names in _names(rulebook):
            self.names.setdefault(said, {})[names] = None

    def wrong(self, cell: Cell, column: str, message: str, hint: str = "") -> None:
        self.problems.append(Problem(message, Place(self.source, cell.line, cell.column, column), hint))

    def read_headings(self, row: Sequence[Cell]) -> None:
        parted = next((name for mark, name in _OTHER_MARKS.items() if mark in row[0].text), "")
        if parted:
            self.wrong(row[0], "", f"the columns are parted by {parted}", "save it with commas and decimal points")
            return
        for number, cell in enumerate(row):
            word = _plain(cell.text)
            role = _ROLES.get(word)
            if role is None and word:
                near = nearest(word, _ROLES) or f"the columns are {', '.join(COLUMNS)}"
                self.wrong(cell, "", f"no column is called {cell.text!r}", near)
            elif role in self.columns:
                self.wrong(cell, "", f"{cell.text!r} is a second column for {role!r}")
            elif role is not None:
                self.columns[role] = number
        if WHAT not in self.columns or self.columns.keys().isdisjoint((LEAST, MOST, WORN)):
            hint = f"begin with a line such as {','.join(COLUMNS)}, separated by commas"
            self.wrong(row[0], "", "no headings say what is measured and what its limits are", hint)

    def read_row(self, row: Sequence[Cell]) -> Iterator[MakersLimits]:
        before = len(self.problems)
        cells = {role: row[number] for role, number in self.columns.items() if number < len(row)}
        for cell in row:
            if cell.fault:
                self.wrong(cell, "", cell.fault, cell.hint)
        if len(row) > len(self.columns) and any(cell.text for cell in row[max(self.columns.values()) + 1 :]):
            extra = row[max(self.columns.values()) + 1]
            self.wrong(extra, "", f"{extra.text!r} stands under no heading", "a comma too many? decimals take a point")
        what = cells.get(WHAT)
        if what is None or what.is_blank:
            self.wrong(row[0], WHAT, "nothing says what is measured", f"for example {_EXAMPLE}")
            return
        names = self._meant(what)
        if names is None:
            return
        characteristic = self.rulebook.characteristics[names[0]]
        limits = self._limits(cells, what, characteristic)
        if len(self.problems) > before or limits is None:
            return
        for name in names[1:] or names:
            if name in self.lines:
                self.wrong(what, WHAT, f"{what.text!r} stands on line {self.lines[name]} already")
            self.lines[name] = what.line
            yield MakersLimits(name, *limits, _source(cells.get(PAGE)))

    def _meant(self, what: Cell) -> tuple[str, ...] | None:
        """The characteristic that a line names, and the rules to amend."""
        meanings = self.names.get(what.text) or self.names.get(_plain(what.text))
        if meanings is None:
            near = nearest(_plain(what.text), self.names, 0.5)
            self.wrong(what, WHAT, f"nothing is called {what.text!r}", near or f"for example {_EXAMPLE}")
            return None
        if len(meanings) > 1:
            first, second, *_ = (names[-1] for names in meanings)
            self.wrong(what, WHAT, f"{what.text!r} is the title of several things", f"write {first!r} or {second!r}")
            return None
        return next(iter(meanings))

    def _limits(
        self, cells: Mapping[str, Cell], what: Cell, item: CompiledCharacteristic
    ) -> tuple[str, str, str, str] | None:
        """New and worn, least and most, as packs write them."""
        if item.unit is None:
            self.wrong(what, WHAT, f"{what.text!r} is one of some choices, and no number")
            return None
        texts: dict[str, str] = {}
        values: dict[str, float] = {}
        side = ""
        for role in (LEAST, MOST, WORN):
            cell = cells.get(role)
            if cell is None or cell.is_blank:
                continue
            said = _SAID.fullmatch(cell.text)
            text = cell.text if said is None else said[2]
            if said is not None and role == WORN:
                side = _SIDES[said[1].casefold()]
            elif said is not None:
                message = f"{cell.text!r} says which end it is, and so does its column"
                self.wrong(cell, role, message, "a number, as 0.002")
                continue
            read = self._quantity(cell, role, text, cells.get(UNIT), item, item.unit)
            if read is not None:
                texts[role], values[role] = read
        if len(texts) < sum(role in cells and not cells[role].is_blank for role in (LEAST, MOST, WORN)):
            return None
        if not texts:
            self.wrong(what, WHAT, f"no limit stands beside {what.text!r}", f"for example {_EXAMPLE}")
            return None
        if LEAST in values and MOST in values and values[LEAST] > values[MOST]:
            message = f"{cells[MOST].text} is less than the least, {cells[LEAST].text}"
            self.wrong(cells[MOST], MOST, message, "exchanged?")
        worn = side or self._side_of_wear(cells, values)
        least = texts.get(LEAST, "")
        if least and values[LEAST] <= item.low:
            least = ""  # nothing possible is less
        if worn is None:
            return None
        worn_text = texts.get(WORN, "")
        return (least, texts.get(MOST, ""), worn_text if worn == "low" else "", worn_text if worn == "high" else "")

    def _side_of_wear(self, cells: Mapping[str, Cell], values: Mapping[str, float]) -> str | None:
        """To which side it wears: the limit of wear lies beyond what is new."""
        if WORN not in values:
            return ""
        worn = values[WORN]
        if MOST in values and worn >= values[MOST]:
            return "high"
        if LEAST in values and worn <= values[LEAST]:
            return "low"
        if LEAST in values and MOST not in values:
            return "high" if worn > values[LEAST] else "low"
        cell = cells[WORN]
        if MOST in values and LEAST in values:
            new = f"{cells[LEAST].text} to {cells[MOST].text}"
            self.wrong(cell, WORN, f"{cell.text} lies within what is new, {new}", "in the unit of its line?")
        else:
            hint = f"as in 'at most {cell.text}', or 'at least {cell.text}'"
            self.wrong(cell, WORN, f"nothing tells whether {cell.text} is the most or the least", hint)
        return None

    def _quantity(
        self, cell: Cell, role: str, text: str, unit_cell: Cell | None, item: CompiledCharacteristic, expected: Unit
    ) -> tuple[str, float] | None:
        """A limit as packs write it, and in SI."""
        unit_text = "" if unit_cell is None else unit_cell.text
        unit = UNITS.get(unit_text or ("1" if expected.name == "1" else ""))
        if unit_cell is not None and unit_text and (unit is None or unit.kind != expected.kind):
            hint = nearest(unit_text, [name for name, unit in UNITS.items() if unit.kind == expected.kind])
            named = f"{unit_text!r} is no unit of {item.characteristic.title!r}"
            self.wrong(unit_cell, UNIT, named, hint or f"for example {expected.name}")
            return None
        try:
            written = read_quantity(text, expected, unit)
        except NotationError as error:
            in_its_column = ", and the unit in its own column" if _NUMBER.fullmatch(text) else ""
            self.wrong(cell, role, str(error), f"for example 0.002{in_its_column}")
            return None
        span = written.spans[0]
        if len(written.spans) != 1 or span.low != span.high:
            self.wrong(cell, role, f"{cell.text!r} is more than one value", "the least and the most have a column each")
            return None
        if not lies_within(span.low, item):
            low, high = item.characteristic.plausible or ("", "")
            message = f"{cell.text} {unit_text} lies outside what is possible, {low} to {high}"
            self.wrong(cell, role, message.replace("  ", " "), "inches or mm?")
            return None
        if _NUMBER.fullmatch(text) and unit is not None:
            plain = f"{Decimal(text):f}"
            return (plain if unit.name == "1" else f"{plain} {unit.name}", span.low)
        return (f"{written.unit.from_si(span.low):.10g} {written.unit.name}" if written.unit else text, span.low)


def _source(cell: Cell | None) -> str:
    """Where the table says it."""
    if cell is None or cell.is_blank:
        return "maker's table"
    return f"maker's table, page {cell.text}" if cell.text[0].isdigit() else cell.text


def _names(rulebook: Rulebook) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What may be written in a line: names as they are, or names and titles in plain words.

    Each with the characteristic that is measured and the rules to amend, where there are any.
    """
    for name, item in rulebook.characteristics.items():
        meant = (name, *(rule.rule.name for rule in rules_judging(name, rulebook)))
        yield name, meant
        yield from dict.fromkeys((_plain(said), meant) for said in (name, item.characteristic.title))
    for rule in rulebook.rules.values():
        judged = rule.judges.text
        if judged in rulebook.characteristics and not rule.rule.lender:
            meant = (judged, rule.rule.name)
            yield rule.rule.name, meant
            yield from dict.fromkeys((_plain(said), meant) for said in (rule.rule.name, rule.rule.title))


def _plain(text: str) -> str:
    """Letters and digits in small, one space between words."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))
