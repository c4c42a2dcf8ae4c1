"""CSV: a sheet that comes back, and a gauge's own table; whatever is doubtful is refused with its cell."""

from __future__ import annotations

import contextlib
import csv
from pathlib import Path

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from sheet_tools import HEAD, rulebook, sheet

from checker import InputError, Record, UsageError, rulebook_for
from checker.cli import main
from checker.notation.read import NotationError
from checker.sheets.read_csv import read_csv
from checker.sheets.write_csv import write_csv
from checker.sheets.written import with_unit_in_any_words
from checker.units.units import UNITS

GAUGE = "characteristic,station,reading,value,unit,time\n"
ROW = "shaft_diameter,1,1,30.012,mm,2026-05-02 10:33:01\n"


def read(text: str | bytes, folder: Path) -> Record:
    path = folder / "gauge.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_csv(path)


def judged(text: str, folder: Path) -> str:
    """Every reading as characteristic, station and millimetres."""
    report = rulebook().check(read(text, folder), "general")
    return "; ".join(f"{r.characteristic} {r.station + 1} {r.middle * 1000:.6g}" for r in report.readings)


# --- what a gauge with a data cable writes -------------------------------------------------------------------------


def test_a_gauges_table_is_read(tmp_path: Path) -> None:
    rows = "shaft_diameter,1,2,30.013,mm,2026-05-02T10:33:05\nbearing_bore,2,,1.1835,in,\nend_float,1,1,80 um,,\n"
    assert judged(GAUGE + ROW + rows, tmp_path) == (
        "shaft_diameter 1 30.012; shaft_diameter 1 30.013; bearing_bore 2 30.0609; end_float 1 0.08"
    )
    report = rulebook().check(read(GAUGE + ROW, tmp_path), "general")
    assert report.readings[0].taken.isoformat() == "2026-05-02"  # type: ignore[union-attr]


def test_a_tab_of_a_workbook_saved_as_csv_is_read(tmp_path: Path) -> None:
    """A spreadsheet program pads every row to the width of the widest."""
    tab = [
        ["# a remark", "", "", ""],
        ["shaft_diameter", "Shaft diameter", "", ""],
        ["station", "reading 1, mm", "reading 2, mm", "note"],
        ["1", "30.012", "1.1816 in", "worn"],
        ["2", "", "", ""],
        ["", "", "", ""],
        ["oil", "Oil", "", ""],
        ["station", "reading 1", "", ""],
        ["", "mineral", "", ""],
    ]
    path = tmp_path / "gauge.csv"
    with path.open("w", newline="") as file:
        csv.writer(file).writerows(tab)
    notes = [(note.characteristic, note.station, note.written) for note in read_csv(path).notes]
    assert notes == [("shaft_diameter", "1", ("30.012 mm", "1.1816 in")), ("oil", "", ("mineral",))]


ACCEPTED = {
    "a mark of the byte order": ("\ufeff" + GAUGE + ROW, "shaft_diameter 1 30.012"),
    "blanks round a cell": (GAUGE + "shaft_diameter, 1 , 1, 30.012 ,mm,\n", "shaft_diameter 1 30.012"),
    "capitals in the heading": (GAUGE.title() + ROW, "shaft_diameter 1 30.012"),
    "powers of ten": (GAUGE + "shaft_diameter,1,1,3.0012e4,um,\n", "shaft_diameter 1 30.012"),
    "line ends of Windows": ((GAUGE + ROW).replace("\n", "\r\n"), "shaft_diameter 1 30.012"),
    "columns in another order": (
        "Characteristic,value,unit,station\nshaft_diameter,30.012,mm,1\n",
        "shaft_diameter 1 30.012",
    ),
    "no value": (GAUGE + ROW + "shaft_diameter,2,1,,mm,\n", "shaft_diameter 1 30.012"),
    "a decimal comma": (GAUGE + 'shaft_diameter,1,1,"30,012",mm,\n', "shaft_diameter 1 30.012"),
    "a comma for thousands": (GAUGE + 'shaft_diameter,1,1,"30,012",um,\n', "shaft_diameter 1 30.012"),
    "a comma and a unit of its own": (GAUGE + 'shaft_diameter,1,1,"1,2 in",mm,\n', "shaft_diameter 1 30.48"),
    "a unit of its own": (GAUGE + "shaft_diameter,1,1,1.2 in,mm,\n", "shaft_diameter 1 30.48"),
    "a range": (GAUGE + "shaft_diameter,1,1,30.01-30.03,mm,\n", "shaft_diameter 1 30.02"),
}


@pytest.mark.parametrize(("text", "wanted"), ACCEPTED.values(), ids=ACCEPTED)
def test_what_has_one_meaning_is_read(text: str, wanted: str, tmp_path: Path) -> None:
    assert judged(text, tmp_path) == wanted


REFUSED = {
    "semicolons": ("characteristic;station;value;unit\nshaft_diameter;1;30,012;mm\n", "A1", "parted by semicolons"),
    "semicolons, and many commas between them": (
        "key;value\nfacts;{" + "a: b, " * 70 + "}\n",
        "2:1",
        "parted by semicolons",
    ),
    "a line that names the separator": ("sep=;\n" + GAUGE + ROW, "A1", "stands outside every table"),
    "a comma that may be both": (GAUGE + 'joint_gap,,1,"1,050",um,\n', "D2", "a comma for the point or for thousands"),
    # Without a unit of its own it would be read in that of the record, not in that of its column.
    "a comma before a sign": (GAUGE + 'shaft_diameter,1,1,"30,012+",um,\n', "D2", "'30,012+'"),
    "a comma that is neither": (GAUGE + 'shaft_diameter,1,1,"1,234.5",um,\n', "D2", "'1,234.5 um'"),
    "a decimal comma without quotes": (GAUGE + "shaft_diameter,1,1,30,012,mm,\n", "E2", "if a comma for the point"),
    "a quote that is not closed": (GAUGE + '"shaft_diameter,1,1,30.012,mm,\n' + ROW, "2:1", "is a quote not closed?"),
    "a column twice": (
        "characteristic,station,value,value\nshaft_diameter,1,30.0,31.0\n",
        "D1",
        "a second column 'value'",
    ),
    "no unit": (GAUGE + "shaft_diameter,1,1,30.012,,\n", "D2", "30.012"),
    "a short row": (GAUGE + "shaft_diameter,1,1,30.012\n", "D2", "4 cells where the heading has 6"),
    "a long row": (GAUGE + ROW.strip() + ",extra\n", "G2", "stands beside the table"),
    "a reading twice": (GAUGE + ROW + ROW, "D3", "reading 1 is already written in D2"),
    "two days at one station": (GAUGE + ROW + "shaft_diameter,1,2,30.01,mm,2026-05-03\n", "D3", "taken: '2026-05-03'"),
    "a sign that cannot be seen": (GAUGE + "shaft\0_diameter,1,1,30.012,mm,\n", "2:6", "U+0000"),
    "not a number": (GAUGE + "shaft_diameter,1,1,nan,mm,\n", "D2", "'nan'"),
    "infinite": (GAUGE + "shaft_diameter,1,1,-Infinity,mm,\n", "D2", "'-Infinity'"),
    "an underscore": (GAUGE + "shaft_diameter,1,1,30_012,um,\n", "D2", "'_'"),
    "other digits": (GAUGE + "shaft_diameter,1,1,\uff13\uff10,mm,\n", "D2", "does not belong in a quantity"),
    "a formula": (GAUGE + "shaft_diameter,1,1,=B3*2,mm,\n", "D2", "holds a formula"),
    "a formula for a name": (GAUGE + '"=HYPERLINK(""http://x.example"")",1,1,30,mm,\n', "A2", "holds a formula"),
    "a unit that is none": (GAUGE + "shaft_diameter,1,1,30.012,millimeter,\nshaft_diameter,2,1,3,im,\n", "E3", "'im'"),
    "a value beside its cell": (GAUGE + "shaft_diameter,1,1,,30.012,\n", "E2", "'30.012'"),
    "a unit in the heading": ("value (mm),characteristic\n30.0,shaft_diameter\n", "A1", "stands outside every table"),
    "a misspelt first heading": (
        GAUGE.replace("characteristic", "charcteristic") + ROW,
        "A1",
        "no table begins with 'charcteristic' (did you mean 'characteristic'?)",
    ),
    "a misspelt heading": (GAUGE.replace("value", "valeu") + ROW, "D1", "did you mean 'value'?"),
    "a missing column": ("characteristic,station,unit\nshaft_diameter,1,mm\n", "A1", "the column 'value' is missing"),
    "a reading without a number": (GAUGE + "shaft_diameter,1,first,30.0,mm,\n", "C2", "not the number of a reading"),
    "a date the wrong way round": (GAUGE + "shaft_diameter,1,1,30.0,mm,02/05/2026\n", "F2", "not a date such as"),
    "no characteristic": (GAUGE + ",1,1,30.0,mm,\n", "A2", "no characteristic is named"),
    "nothing but a heading row of another table": ("name,value,unit\nbore,4.03,in\n", "A1", "outside every table"),
    "nothing": ("", "1:1", "no table here"),
    "another coding": ((GAUGE + ROW).encode("utf-16"), "1:1", "UTF-16"),
    "too many columns": ("," * 70 + "\n", "1:1", "more than 64 columns"),
    "a field that is too long": (GAUGE + f"shaft_diameter,1,1,{'9' * 30_000},mm,\n", "D2", "30000 characters"),
    "a field beyond all limits": (GAUGE + f"shaft_diameter,1,1,{'9' * 200_000},mm,\n", "2:1", "field larger"),
    "too many bytes": ("x" * 2_000_001, "1:1", "more than 2000000 bytes"),
}


@pytest.mark.parametrize(("text", "place", "message"), REFUSED.values(), ids=REFUSED)
def test_what_is_doubtful_is_refused_at_its_cell(text: str | bytes, place: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        rulebook().check(read(text, tmp_path), "general")
    told = str(caught.value).replace(str(tmp_path), "")
    assert message in told
    assert any(line.startswith(f"/gauge.csv:{place}") for line in told.splitlines()), told


@pytest.mark.parametrize("said", ["1", "ratio"])
def test_a_number_said_to_have_no_unit_takes_none_of_the_record(said: str, tmp_path: Path) -> None:
    """Its unit is the wrong one: it must not be read as millimetres because the record's lengths are."""
    head = (
        'key,value\nrecord,1\nassembly,Train\napplication,general\nunits,{length: mm}\nrule_packs,{gear-train: ">=1"}\n'
    )
    row = f"shaft_diameter,1,1,30.012,{said},\n"
    with pytest.raises(InputError, match=r"'30.012 ratio' gives bare number .ratio. where length is asked for"):
        rulebook().check(read(f"{head}\n{GAUGE}{row}", tmp_path), "general")


def test_what_only_the_rules_can_refuse_is_refused_at_its_cell_too(tmp_path: Path) -> None:
    for row, message in {
        "shaft_diamter,1,1,30.0,mm,": "unknown characteristic",
        "shaft_diameter,left,1,30.0,mm,": "unknown key or station 'left'",
        "oil,3,1,mineral,,": "one value for the assembly",
        "oil,,1,butter,,": "oil cannot be 'butter'",
        "shaft_diameter,1,1,30.0,kg,": "30.0 kg",
    }.items():
        with pytest.raises(InputError, match=r"gauge\.csv:D2: ") as caught:
            rulebook().check(read(GAUGE + row + "\n", tmp_path), "general")
        assert message in str(caught.value)


def test_several_problems_are_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read(GAUGE + "shaft_diameter,1,x,=1,mm,yesterday\nend_float,1,1,1,im,\n", tmp_path)
    assert len(caught.value.problems) == 4


def test_readings_alone_need_a_use_and_a_pack_to_be_judged(tmp_path: Path) -> None:
    bare = read(GAUGE + ROW, tmp_path)
    assert bare.assembly == "gauge"
    with pytest.raises(UsageError, match="does not say what it is used for"):
        rulebook().check(bare)
    with pytest.raises(UsageError, match="names no rule pack"):
        rulebook_for(bare)
    path = tmp_path / "mains.csv"
    path.write_text("characteristic,station,value,unit\ncrankshaft_end_play,,6,thou\n")
    assert main(["check", str(path), "--pack", "four-stroke", "--application", "street"]) == 3
    assert main(["check", str(path)]) == 2


# --- what is written cannot act ------------------------------------------------------------------------------------


@examples(60)
@given(st.text(alphabet="=+-@|%\t '\"a1;,", min_size=1, max_size=8).filter(str.strip))
def test_no_cell_that_is_written_acts_as_a_formula(text: str) -> None:
    """As the OWASP cheat sheet on CSV injection lists the signs; plain numbers may keep their minus."""
    quoted = text.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t")
    written = write_csv(sheet(HEAD.replace("Reducer 7", f'"{quoted}"') + "readings: {}\n"))
    for row in csv.reader(written.splitlines()):
        for cell in row:
            assert not cell.lstrip(" ").startswith(tuple("=+-@|%\t\r")) or cell.lstrip("-").replace(".", "").isdigit()


@examples(60)
@given(raw=st.binary(max_size=60) | st.text(alphabet="keyvalu,station\n\"1.5m;='#", max_size=120).map(str.encode))
def test_any_bytes_are_read_or_refused(raw: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    with contextlib.suppress(InputError):
        read(raw, tmp_path_factory.mktemp("fuzz", numbered=True))


# --- words that only a pack knows ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name", "meant"),
    [
        ("31 ATDC", "deg", "31 deg ATDC"),
        ("-3 dish", "cc", "-3 cc dish"),
        ("7 cc dish", "cc", "7 cc dish"),
        ("7cc dish", "in3", "7cc dish"),
        ("dish 7", "cc", "dish 7 cc"),
        ("dish 7 cc", "in3", "dish 7 cc"),
        ("zero deck", "mm", "zero mm deck"),
        ("0.060 in over", "mm", "0.060 in over"),
        ("7 o'clock", "deg", "7 o'clock"),
        ("0.06", "mm", "0.06 mm"),
        ("not measured", "mm", "not measured"),
    ],
)
def test_beside_a_word_that_is_not_known_yet_the_number_gets_the_unit_over_it(text: str, name: str, meant: str) -> None:
    """The record's own unit of bare numbers must never stand in for the one that the sheet states."""
    assert with_unit_in_any_words(text, UNITS[name]) == meant


@pytest.mark.parametrize(
    ("text", "name", "readings"),
    [
        (".005 in the hole", "mm", (".005 mm in the hole", ".005 inch the hole")),
        (".060 over", "mm", ()),
        ("30 over", "in", ()),
        ("looks good", "mm", ()),
        ("nan", "mm", ()),
    ],
)
def test_what_may_hide_its_unit_is_refused_in_its_cell(text: str, name: str, readings: tuple[str, ...]) -> None:
    with pytest.raises(NotationError) as caught:
        with_unit_in_any_words(text, UNITS[name])
    assert caught.value.readings == readings
