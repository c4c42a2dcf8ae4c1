"""Workbooks: what a person sees in a cell is what is read, or the cell is named and nothing is read."""

from __future__ import annotations

import io
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from datetime import date, datetime, time
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.styles import Font
from pack_tools import plugins_with, write_pack
from sheet_tools import HEAD, Filling, rulebook, sheet

from checker import InputError, Record, load_rulebook
from checker.sheets.blank import blank_record
from checker.sheets.plan import plan
from checker.sheets.read_xlsx import read_xlsx
from checker.sheets.workbook import read_workbook
from checker.sheets.write_xlsx import write_xlsx

BLANK = write_xlsx(sheet())
ONE = HEAD + "readings: {shaft_diameter: {1: 30 mm}, gear_mass: {all: 2 kg}}\n"


ODD_PACK = """pack: odd
version: 1.0.0
rule_language: 1
title: A pack with odd titles
applications: {any-use: {title: Any}}
milestones: [done]
"""
ODD_FILE = """system: "SYSTEM"
characteristics: {size_N: {title: Size, unit: mm, plausible: [0 mm, 9 mm]}}
rules:
  size-N:
    {title: Size, before: done, judges: size_N, limits: {any: {must: {at_most: 1 mm}}}, basis: shop policy,
     remedy: {high: Less.}}
"""


def read(raw: bytes | Filling, folder: Path) -> Record:
    path = folder / "filled.xlsx"
    if isinstance(raw, Filling):
        raw.save(path)
    else:
        path.write_bytes(raw)
    return read_xlsx(path)


def refusal(raw: bytes | Filling, folder: Path) -> str:
    with pytest.raises(InputError) as caught:
        rulebook().check(read(raw, folder))
    return str(caught.value).replace(f"{folder}/", "")


# --- what is written -----------------------------------------------------------------------------------------------


def test_a_tab_for_each_system_with_units_in_the_headings_and_targets_beside_the_cells() -> None:
    book = load_workbook(io.BytesIO(BLANK))
    assert book.sheetnames == ["Record", "Shafts and bearings", "Gears and meshes"]
    filling = Filling(BLANK)
    cell = filling.cell("shaft_diameter", "1")
    assert cell.parent.cell(cell.row - 1, cell.column).value == "reading 1, mm"
    target = filling.cell("backlash", "1", "target").value
    assert target.startswith("Backlash of a mesh: needs module")


def test_cells_say_what_may_be_entered_and_how_to_measure() -> None:
    book = load_workbook(
        io.BytesIO(write_xlsx(sheet(HEAD + "instruments: {bore-gauge: {resolution: 1 um}}\nreadings: {}\n")))
    )
    rules = {rule.promptTitle: rule for tab in book.worksheets for rule in tab.data_validations.dataValidation}
    diameter = rules["Shaft diameter"]
    assert (diameter.type, float(diameter.formula1), float(diameter.formula2)) == (
        "decimal",
        pytest.approx(5),
        pytest.approx(300),
    )
    assert "outside micrometer" in diameter.prompt
    assert rules["Oil"].formula1 == '"mineral,synthetic,grease"'
    assert rules["Measured with"].formula1 == '"bore-gauge"'
    assert {rule.errorStyle for rule in rules.values()} == {"warning"}


def test_titles_of_tabs_are_short_and_differ(tmp_path: Path) -> None:
    """At most 31 characters and none of []:*?/\\, as every spreadsheet program wants it (common practice)."""
    systems = ["A" * 40, "A" * 40 + "B", "a/b:c?", "record"]
    files = {f"file_{n}": ODD_FILE.replace("SYSTEM", system).replace("N", str(n)) for n, system in enumerate(systems)}
    folder = write_pack(tmp_path / "odd", pack=ODD_PACK, **files)
    odd = load_rulebook(folder, plugins=plugins_with())
    blank = blank_record(odd, "any-use", None, {}, {}, {})
    titles = load_workbook(io.BytesIO(write_xlsx(plan(odd, odd.check(blank))))).sheetnames
    assert len({title.casefold() for title in titles}) == 1 + len(systems)
    assert all(len(title) <= 31 and not set(title) & set("[]:*?/\\") for title in titles)


def test_every_text_is_stored_as_text() -> None:
    text = HEAD.replace("Reducer 7", '"=1+1"') + 'readings: {gear_mass: {1: {value: 2 kg, note: "=cmd()"}}}\n'
    for tab in load_workbook(io.BytesIO(write_xlsx(sheet(text)))).worksheets:
        for row in tab.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                if isinstance(cell.value, str) and cell.value.startswith("="):
                    assert cell.quotePrefix


# --- what a person may type ------------------------------------------------------------------------------------------

READ = {
    "a number": (30.012, 30.012),
    "a number as text": ("30.012", 30.012),
    "a number with its unit": ("1.2 in", 30.48),
    "a fraction as text": ("1-3/16 in", 30.1625),
    "binary noise of a pasted sum": (0.1 + 0.2 + 29.7, 30.0),
    "a long pasted quotient": (90.1 / 3, 30.03333333),
    "a whole number": (30, 30.0),
}


@pytest.mark.parametrize(("typed", "wanted"), READ.values(), ids=READ)
def test_what_has_one_meaning_is_read(typed: object, wanted: float, tmp_path: Path) -> None:
    filling = Filling(BLANK)
    filling.put(typed, "shaft_diameter", "1")
    reading = rulebook().check(read(filling, tmp_path)).readings[0]
    assert reading.middle * 1000 == pytest.approx(wanted, rel=1e-8)


@pytest.mark.parametrize(
    "shown", ["0.000", "#,##0.00", "0.0;[Red]-0.0", "0.00_);(0.00);0", "0.0_)", "# ?/?", "0.00E+00", "@"]
)
def test_a_number_format_that_only_rounds_is_no_matter(shown: str, tmp_path: Path) -> None:
    filling = Filling(BLANK)
    filling.put(30.012, "shaft_diameter", "1")
    filling.cell("shaft_diameter", "1").number_format = shown
    assert rulebook().check(read(filling, tmp_path)).readings[0].middle == pytest.approx(0.030012)


@pytest.mark.parametrize("shown", [";;;", "-0.00", "0.00;0.00", "[Red]-0.0;0.0", "0;-0;", "0.0;-0.0;-0.0"])
def test_a_number_format_that_hides_the_value_or_its_sign_is_refused(shown: str, tmp_path: Path) -> None:
    filling = Filling(BLANK)
    filling.put(30.012, "shaft_diameter", "1")
    filling.cell("shaft_diameter", "1").number_format = shown
    with pytest.raises(InputError, match="shows another value than it holds"):
        read(filling, tmp_path)


def test_a_real_date_is_read_where_a_date_belongs(tmp_path: Path) -> None:
    filling = Filling(BLANK)
    filling.put(30, "shaft_diameter", "1")
    filling.put(date(2026, 5, 2), "shaft_diameter", "1", "taken")
    filling.put(30, "shaft_diameter", "2")
    filling.put(datetime(2026, 5, 3, 10, 33), "shaft_diameter", "2", "taken")
    readings = rulebook().check(read(filling, tmp_path)).readings
    assert [reading.taken for reading in readings] == [date(2026, 5, 2), date(2026, 5, 3)]


def test_what_stands_in_guiding_columns_and_remarks_is_not_read(tmp_path: Path) -> None:
    filling = Filling(BLANK)
    filling.put("=A1", "shaft_diameter", "1", "target")
    filling.book["Record"]["A20"] = "# a remark"
    assert rulebook().check(read(filling, tmp_path)).readings == ()


Change = Callable[[Filling], str]


def typed(value: object, shown: str = "", name: str = "shaft_diameter", column: str = "reading 1") -> Change:
    def change(filling: Filling) -> str:
        station = "" if name == "oil" else "1"
        address = filling.put(value, name, station, column)
        if column == "with":  # what a value was measured with is told at the value
            address = filling.put(30, name, station)
        if shown:
            filling.cell(name, station, column).number_format = shown
        return address

    return change


def merged(filling: Filling) -> str:
    cell = filling.cell("shaft_diameter", "1")
    cell.value = 30
    cell.parent.merge_cells(start_row=cell.row, end_row=cell.row + 1, start_column=3, end_column=3)
    return f"{cell.parent.title}!C{cell.row}:C{cell.row + 1}"


def hidden_row(filling: Filling) -> str:
    address = filling.put(30, "shaft_diameter", "2")
    cell = filling.cell("shaft_diameter", "2")
    cell.parent.row_dimensions[cell.row].hidden = True
    return address


def hidden_column(filling: Filling) -> str:
    address = filling.put(30, "shaft_diameter", "2", "reading 2")
    filling.cell("shaft_diameter", "2").parent.column_dimensions["D"].hidden = True
    return address


def crossed_out(filling: Filling) -> str:
    """And written anew beside it, as on paper."""
    address = filling.put(30, "shaft_diameter", "1")
    filling.cell("shaft_diameter", "1").font = Font(strike=True)
    filling.put(30.01, "shaft_diameter", "1", "reading 2")
    return address


def hidden_tab(filling: Filling) -> str:
    filling.book["Gears and meshes"].sheet_state = "hidden"
    return "Gears and meshes"


def draft_tab(filling: Filling) -> str:
    """A copy of a tab with other values: which one counts?"""
    filling.put(30, "shaft_diameter", "1")
    copy = filling.book.copy_worksheet(filling.book["Shafts and bearings"])
    copy.title = "draft"
    return f"draft!{filling.cell('shaft_diameter', '1').coordinate}"


def scribble(filling: Filling) -> str:
    filling.book.create_sheet("scribble")["B2"] = 30.012
    return "scribble!B2"


def beside(filling: Filling) -> str:
    cell = filling.cell("shaft_diameter", "1")
    cell.parent.cell(cell.row, 20).value = 30.012
    return f"{cell.parent.title}!T{cell.row}"


def second_heading(filling: Filling) -> str:
    cell = filling.cell("shaft_diameter", "1")
    cell.parent.cell(cell.row - 1, 4).value = "reading 1, in"
    return f"{cell.parent.title}!D{cell.row - 1}"


def unknown_unit(filling: Filling) -> str:
    cell = filling.cell("shaft_diameter", "1")
    cell.value = 30
    cell.parent.cell(cell.row - 1, 3).value = "reading 1, millimeter wide"
    return f"{cell.parent.title}!C{cell.row - 1}"


def same_station(filling: Filling) -> str:
    cell = filling.cell("shaft_diameter", "2")
    filling.put(30, "shaft_diameter", "1")
    cell.value = 31
    cell.parent.cell(cell.row, 1).value = " 1 "
    return f"{cell.parent.title}!{cell.coordinate}"


def head(key: str, text: object) -> Change:
    def change(filling: Filling) -> str:
        cell = filling.head(key)
        cell.value = text
        return f"Record!{cell.coordinate}"

    return change


def wrong_key(filling: Filling) -> str:
    cell = filling.head("application")
    cell.offset(column=-1).value = "aplication"
    return "Record"


REFUSED: dict[str, tuple[Change, str]] = {
    "a formula never calculated": (typed("=C4*2"), "holds a formula"),
    "a formula in a note": (typed('=HYPERLINK("http://x.example")', column="note"), "holds a formula"),
    "a fraction made a date": (typed(date(2026, 5, 16), "d-mmm"), "a fraction such as 5/16"),
    "a unit in the format made a date": (typed(105.4, "0.0 mm"), "holds a date or time"),
    "a time": (typed(time(1, 30)), "holds a date or time"),
    "a unit that is only in the format": (typed(30.0, '0.000" mm"'), "shows another value than it holds"),
    "a percentage": (typed(0.05, "0%"), "shows another value than it holds"),
    "thousands left out by the format": (typed(30012, "0.000,"), "shows another value than it holds"),
    "true": (typed(True), "holds true or false"),
    "an error of the spreadsheet": (typed("#DIV/0!"), "#DIV/0!"),
    "a comma that is neither": (typed("1,234.5"), "a comma for the point or for thousands"),
    "an underscore": (typed("30_012 um"), "'_'"),
    "a word": (typed("OK"), "OK"),
    "a quantity of another kind": (typed("30 N"), "30 N"),
    "a choice that is none": (typed("butter", name="oil"), "cannot be 'butter'"),
    "a date that is none": (typed("2 May", column="taken"), "not a date such as 2026-05-02"),
    "an instrument that is not listed": (typed("my gauge", column="with"), "my gauge"),
    "merged cells": (merged, "merged cells"),
    "a value crossed out": (crossed_out, "crossed out"),
    "a hidden row": (hidden_row, "hidden row or column"),
    "a hidden column": (hidden_column, "hidden row or column"),
    "a hidden tab": (hidden_tab, "a hidden tab"),
    "the same table twice": (draft_tab, "is already written in Shafts and bearings!"),
    "a value outside every table": (scribble, "outside every table"),
    "a value beside a table": (beside, "beside the table"),
    "a heading twice": (second_heading, "a second column 'reading 1'"),
    "a unit that is none": (unknown_unit, "millimeter wide"),
    "a station twice": (same_station, "is already written in Shafts and bearings!"),
    "a record of another form": (head("record", 2), "expected 1, found 2"),
    "a use that is none": (head("application", "General Use"), "does not have the form"),
    "braces that do not close": (head("stations", "{shaft: 2"), "not valid YAML"),
    "a station set that is none": (head("stations", "{shft: 2}"), "no stations 'shft'"),
    "a formula in the record": (head("assembly", "=A1"), "holds a formula"),
    "a misspelt key": (wrong_key, "did you mean 'application'?"),
}


@pytest.mark.parametrize(("change", "message"), REFUSED.values(), ids=REFUSED)
def test_what_is_doubtful_is_refused_at_its_cell(change: Change, message: str, tmp_path: Path) -> None:
    filling = Filling(BLANK)
    address = change(filling)
    told = refusal(filling, tmp_path)
    assert message in told
    assert f"filled.xlsx:{address}" in told


def test_a_stored_result_of_a_formula_is_not_trusted(tmp_path: Path) -> None:
    """The formula says one thing, the file stores another from before a change."""
    filling = Filling(BLANK)
    address = filling.put(30.5, "shaft_diameter", "1")
    raw = edited(saved(filling), "<v>30.5</v>", "<f>C5*2</f><v>30.5</v>")
    assert f"filled.xlsx:{address}: holds a formula" in refusal(raw, tmp_path)


# --- files that were made to harm, or are broken ---------------------------------------------------------------------


def saved(filling: Filling) -> bytes:
    target = io.BytesIO()
    filling.book.save(target)
    return target.getvalue()


def edited(raw: bytes, old: str, new: str, part: str = "xl/worksheets/sheet") -> bytes:
    """The workbook with a piece of its XML replaced."""
    target = io.BytesIO()
    done = False
    with zipfile.ZipFile(io.BytesIO(raw)) as before, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            data = before.read(name)
            if name.startswith(part) and old.encode() in data and not done:
                data, done = data.replace(old.encode(), new.encode(), 1), True
            after.writestr(name, data)
    assert done
    return target.getvalue()


def one_reading() -> bytes:
    filling = Filling(BLANK)
    filling.put(30.5, "shaft_diameter", "1")
    return saved(filling)


def cell_of(raw: bytes) -> str:
    """The XML of the one reading."""
    with zipfile.ZipFile(io.BytesIO(raw)) as book:
        text = next(book.read(name).decode() for name in book.namelist() if b"<v>30.5</v>" in book.read(name))
    end = text.index("<v>30.5</v></c>") + len("<v>30.5</v></c>")
    return text[text.rindex("<c ", 0, end) : end]


def broken() -> Iterator[tuple[str, bytes, str]]:
    raw = one_reading()
    cell = cell_of(raw)
    address = cell.split('r="')[1].split('"')[0]
    yield (
        "a cell stored twice",
        edited(raw, cell, cell + cell.replace("30.5", "39.9")),
        f"{address}: the cell is stored twice",
    )
    yield (
        "an underscore in a number",
        edited(raw, "<v>30.5</v>", "<v>30_5</v>"),
        f"{address}: '30_5' is stored as a number",
    )
    yield "infinity", edited(raw, "<v>30.5</v>", "<v>1e999</v>"), f"{address}: '1e999' is stored as a number"
    yield "not a number", edited(raw, "<v>30.5</v>", "<v>NaN</v>"), f"{address}: 'NaN' is stored as a number"
    yield "a number of 5000 digits", edited(raw, "<v>30.5</v>", f"<v>{'9' * 5000}</v>"), "is stored as a number"
    far = cell.replace(f'"{address}"', '"XFD1048576"')
    yield "the far corner", edited(raw, cell, cell + far), "XFD1048576: beyond 5000 rows and 64 columns"
    yield "a cell without an address", edited(raw, f' r="{address}"', ""), "a cell without an address"
    entity = '<!DOCTYPE x [<!ENTITY a "30.5"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><worksheet'
    yield "entities that grow", edited(raw, "<worksheet", entity), "defines entities"
    outer = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><worksheet'
    yield "an entity from outside", edited(raw, "<worksheet", outer), "defines entities"
    yield "broken XML", edited(raw, "</sheetData>", "</sheet"), "the XML inside cannot be read"
    yield (
        "a path out of the archive",
        edited(raw, "/xl/worksheets/", "/xl/../../etc/", "xl/_rels/"),
        "not a workbook, or damaged",
    )
    yield "cut off", raw[: len(raw) // 2], "not a workbook, or damaged"
    yield "empty", b"", "not a workbook, or damaged"
    start = raw.index(b"xl/workbook.xml") + len("xl/workbook.xml")
    yield "bytes lost", raw[: start + 20] + b"\xff" * 20 + raw[start + 40 :], "not a workbook, or damaged"
    yield "packed another way", archive("xl/workbook.xml", b"<a/>", packed=zipfile.ZIP_LZMA), "packed as no workbook is"
    yield "a CSV file by another name", b"characteristic,station,value\n", "not a workbook, or damaged"
    yield "another archive", archive("readme.txt", b"nothing"), "not a workbook, or damaged"
    yield (
        "too many members",
        archive(*(item for n in range(201) for item in (f"{n}.xml", b"<a/>"))),
        "too many files inside",
    )


def archive(*parts: str | bytes, packed: int = zipfile.ZIP_DEFLATED) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", packed) as book:
        for name, data in zip(parts[::2], parts[1::2], strict=True):
            book.writestr(str(name), data)
    return target.getvalue()


BROKEN = {name: (raw, message) for name, raw, message in broken()}


@pytest.mark.parametrize(("raw", "message"), BROKEN.values(), ids=BROKEN)
def test_a_broken_or_hostile_workbook_is_refused(raw: bytes, message: str, tmp_path: Path) -> None:
    assert message in refusal(raw, tmp_path)


def swollen(kind: str) -> bytes:
    """A small file that unpacks to very much, in one member of a workbook."""
    fill = {
        "blanks": (b" " * (1 << 20) for _ in range(200)),
        "one text": (b"a" * (1 << 20) for _ in range(60)),
        "many rows": (
            b"".join(b'<row r="%d"><c r="A%d"><v>1</v></c></row>' % (k, k) for k in range(n, n + 9999))
            for n in range(1, 400_000, 9999)
        ),
        "nested": iter([b"<a>" * 1_000_000]),
    }[kind]
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BLANK)) as before, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            if name != "xl/worksheets/sheet1.xml":
                after.writestr(name, before.read(name))
        with after.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as member:
            for piece in fill:
                member.write(piece)
    return target.getvalue()


@pytest.mark.parametrize("kind", ["blanks", "one text", "many rows", "nested"])
def test_a_file_that_swells_is_refused_before_it_is_unpacked(kind: str, tmp_path: Path) -> None:
    """Reading it takes no more memory than refusing an empty file does, give or take the file itself."""
    path = tmp_path / "bomb.xlsx"
    path.write_bytes(swollen(kind))
    program = (
        "import resource, sys; from pathlib import Path; from checker.sheets.read_xlsx import read_xlsx\n"
        "from checker import InputError\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "try: read_xlsx(Path(sys.argv[1]))\n"
        "except InputError as error: print(error)\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)\n"
    )
    done = subprocess.run([sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True)
    told, grown = done.stdout.strip().splitlines()
    assert "unpacks to far more than a sheet needs" in told
    assert int(grown) < 3 * path.stat().st_size / 1024 + 10_000


def test_too_many_bytes_are_not_read(tmp_path: Path) -> None:
    assert "more than 5000000 bytes" in refusal(b"PK" + b"\0" * 5_000_001, tmp_path)


def test_a_table_as_a_gauge_writes_it_is_read_from_a_workbook_too(tmp_path: Path) -> None:
    book = Workbook()
    for row in (
        ["characteristic", "station", "value", "unit"],
        ["shaft_diameter", 1, 30.012, "mm"],
        ["oil", None, "mineral", None],
    ):
        book.active.append(row)  # type: ignore[union-attr]
    book.save(tmp_path / "gauge.xlsx")
    record = read_xlsx(tmp_path / "gauge.xlsx")
    assert [(note.characteristic, note.station, note.written) for note in record.notes] == [
        ("shaft_diameter", "1", ("30.012 mm",)),
        ("oil", "", ("mineral",)),
    ]
    assert record.notes[0].place.cell == "Sheet!C2"


def test_grids_hold_what_is_seen() -> None:
    grids = read_workbook(write_xlsx(sheet(ONE)), "x.xlsx")
    texts = [cell.text for grid in grids for row in grid.rows for cell in row]
    assert "30 mm" in texts
    assert "all" in texts
