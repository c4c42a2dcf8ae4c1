"""Tables too large for memory: each row is judged or set aside, none is lost, told twice, or called good unproven."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
import tempfile
import tracemalloc
from contextlib import suppress
from itertools import accumulate
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")

from fleet_tools import COLUMNS, RECORD, batch, bushes, long_table, read, shop, summary, write_table
from pack_tools import plugins_with

from checker import InputError, load_rulebook, record_from
from checker.documents.document import parse_yaml
from checker.fleet import run as fleet_run
from checker.fleet.csv_rows import rows_in

KINDS = ("parquet", "arrow", "csv")


@pytest.fixture
def options(tmp_path: Path) -> tuple[str, ...]:
    return (*shop(tmp_path), "--assembly", "serial")


@pytest.mark.parametrize(("kind", "block"), [(KINDS[0], 7), (KINDS[0], 1000), (KINDS[1], 7), (KINDS[2], 0)])
def test_a_table_is_judged_in_parts_as_it_is_at_once(
    kind: str, block: int, tmp_path: Path, options: tuple[str, ...]
) -> None:
    table = bushes(60)
    table["bore@1"][17] = 20.2
    table["pin@1"][40] = None
    path = write_table(tmp_path / f"all.{kind}", table, block)
    assert batch(path, *options, "--output", tmp_path / "parts", "--rows", 20) == 1
    assert len(list((tmp_path / "parts" / "counts").glob("*.parquet"))) > 2
    assert batch(path, *options, "--output", tmp_path / "once", "--rows", 1000) == 1
    for name in ("counts", "findings", "set-aside"):
        assert read(tmp_path / "parts", name) == read(tmp_path / "once", name)
    counts = read(tmp_path / "parts", "counts")
    assert [(one["row"], one["assembly"]) for one in counts] == [(row + 1, f"B{row:05}") for row in range(60)]
    assert [counts[row]["status"] for row in (16, 17, 40)] == [0, 1, 3]
    outside = [one for one in read(tmp_path / "parts", "findings") if one["verdict"] == "outside"]
    assert [(one["row"], one["rule"], one["station"]) for one in outside] == [(18, "clearance", 1)]


@pytest.mark.parametrize("kind", KINDS)
def test_a_column_may_be_worked_out_in_every_kind_of_file(kind: str, tmp_path: Path, options: tuple[str, ...]) -> None:
    """In a text file too, where all that is read is text at first."""
    table = {"serial": ["A", "B", "C"], "set_to": [0.3, 0.3, 0.3], "hundredths": [5.0, 25.0, None]}
    path = write_table(tmp_path / f"all.{kind}", table)
    assert batch(path, *options, "--output", tmp_path / "out", "--column", "set_to + hundredths/100=end_gap") == 1
    found = [(one["assembly"], one["rule"], one["verdict"]) for one in read(tmp_path / "out", "findings")]
    assert found == [("B", "end-gap", "outside")]
    assert [one["within"] for one in read(tmp_path / "out", "counts")] == [1, 0, 0]


def test_what_is_printed_adds_up(tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    table = bushes(30)
    table["serial"][4] = table["serial"][9] = "B00020"
    path = write_table(tmp_path / "all.parquet", table)
    assert batch(path, *options, "--output", tmp_path / "out") == 3
    told = capsys.readouterr().out
    assert told.startswith("30 rows read of 1 table = 27 judged + 3 set aside\n")
    assert told == (tmp_path / "out" / "summary.txt").read_text()
    data = summary(tmp_path / "out")
    assert data["read"] == data["judged"] + data["set_aside"] == 30
    assert {one["row"]: one["reason"] for one in read(tmp_path / "out", "set-aside")} == {
        5: "the same assembly stands in row 10 of this file too",
        10: "the same assembly stands in row 5 of this file too",
        21: "the same assembly stands in row 10 of this file too",
    }
    assert json.loads(read(tmp_path / "out", "set-aside")[0]["cells"])["serial"] == "B00020"


def test_what_is_not_due_or_not_asked_for_is_told_beside_what_holds(
    tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    record = Path(options[options.index("--record") + 1])
    record.write_text(f"{record.read_text()}before: done\n")
    path = write_table(tmp_path / "all.parquet", bushes(3))
    batch(path, *options, "--output", tmp_path / "out")
    assert "; only what is due before done\n" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("rows", "said"), [([5, 10], "2 readings refused, not possible as written: they count"), ([5], "1 reading refused")]
)
def test_how_many_readings_were_not_possible_is_printed(
    rows: list[int], said: str, tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    table = bushes(30)
    for row in rows:
        table["end_gap"][row - 1] = 300.0
    path = write_table(tmp_path / "all.parquet", table)
    assert batch(path, *options, "--output", tmp_path / "out", "--rows", 7) == 3
    assert said in capsys.readouterr().out
    assert summary(tmp_path / "out")["refused"] == len(rows)
    assert [one["row"] for one in read(tmp_path / "out", "counts") if one["refused"]] == rows


def test_what_does_not_fit_a_csv_file_is_set_aside_with_its_row(tmp_path: Path, options: tuple[str, ...]) -> None:
    path = tmp_path / "odd.csv"
    path.write_text(
        "\ufeffserial;pin@1;bore@1;pin@2;bore@2;end_gap\n"
        "A;20;20,05;20;20.05;0,3\n"  # a comma that can only be the point
        "B;20;20.05;20;20.05\n"  # a cell is missing
        "\n"
        "C;20,0,1;20.05;20;20.05;0.3\n"  # commas for who knows what
        '"D\nagain";20;20.05 mm;20;20.05;0.3\n'  # a line end within a name
        ";20;20.05;20;20.05;0.3\n"
        "=E;20;inf;20;nan;0.3\n"
        ";;;;;\n",
        encoding="utf-8",
    )
    assert batch(path, *options, "--output", tmp_path / "out", "--rows", 2) == 3
    counts = read(tmp_path / "out", "counts")
    assert [(one["row"], one["assembly"], one["status"]) for one in counts] == [(1, "A", 0), (5, "D\nagain", 0)]
    aside = {one["row"]: one["reason"] for one in read(tmp_path / "out", "set-aside")}
    assert aside.keys() == {2, 4, 6, 7}
    assert aside[2] == "5 cells where the heading has 6"
    assert "a comma for the point" in aside[4]
    assert aside[6] == "no assembly is named there"
    assert "'inf': no number" in aside[7]
    assert ",'=E," in (tmp_path / "out" / "set-aside.csv").read_text()  # no formula for a spreadsheet


@pytest.mark.parametrize("rows", [1, 100])
def test_an_inch_mark_behind_a_number_begins_no_cell_in_quotes(
    rows: int, tmp_path: Path, options: tuple[str, ...]
) -> None:
    """Quotes in the middle of a cell ran rows together, and those after it were no rows of the table."""
    path = tmp_path / "inches.csv"
    path.write_text('serial,gap\nA,0.01"\n"B\n""2""",0.01\nC 5",0.03"\nD,0.03\n"E",0.03"\n', "utf-8")
    columns = ("--column", "gap=end_gap", "--rows", rows)
    assert batch(path, *options, *columns, "--output", tmp_path / "out") == 1
    counts = [(one["row"], one["assembly"], one["status"]) for one in read(tmp_path / "out", "counts")]
    names = [(1, "A"), (2, 'B\n"2"'), (3, 'C 5"'), (4, "D"), (5, "E")]
    assert [one[:2] for one in counts] == names
    outside = [one["row"] for one in read(tmp_path / "out", "findings") if one["verdict"] == "outside"]
    assert outside == [row for row, _, status in counts if status == 1]


@given(st.lists(st.sampled_from(["a", '"', '""', ",", "\n", " "]), max_size=14))
def test_a_row_ends_where_a_reader_of_csv_ends_it(signs: list[str]) -> None:
    text = "".join(signs) + "\n"
    with suppress(csv.Error):
        reader = csv.reader(io.StringIO(text, newline=""))
        ends = [reader.line_num for _ in reader]
        rows = rows_in(io.BytesIO(text.encode()), ",")
        assert list(accumulate(row.count(b"\n") for row in rows)) == ends


def test_the_lines_of_a_long_table_may_be_cut_anywhere(tmp_path: Path, options: tuple[str, ...]) -> None:
    table = bushes(40)
    table["end_gap"][8] = 0.9
    wide = write_table(tmp_path / "wide.csv", table)
    assert batch(wide, *options, "--output", tmp_path / "wide") == 1
    expected = [(one["assembly"], one["status"], one["within"]) for one in read(tmp_path / "wide", "counts")]
    for kind in KINDS:
        path = write_table(tmp_path / f"long.{kind}", long_table(table), block=11)
        for rows in (45, 1000):
            out = tmp_path / f"{kind}-{rows}"
            assert batch(path, *options[:-2], "--layout", "long", "--output", out, "--rows", rows) == 1
            counts = read(out, "counts")
            assert [(one["assembly"], one["status"], one["within"]) for one in counts] == expected
            assert summary(out)["read"] == summary(out)["judged"] == 200
    lines = long_table(table)
    mixed = {name: cells[::2] + cells[1::2] for name, cells in lines.items()}  # no assembly's rows together
    path = write_table(tmp_path / "mixed.parquet", mixed)
    assert batch(path, *options[:-2], "--layout", "long", "--output", tmp_path / "short") == 1
    assert len(read(tmp_path / "short", "counts")) == 40
    assert batch(path, *options[:-2], "--layout", "long", "--output", tmp_path / "cut", "--rows", 50) == 3
    assert not read(tmp_path / "cut", "counts")
    assert summary(tmp_path / "cut")["set_aside"] == 200


def test_lines_of_a_long_table_that_say_nothing_cost_their_assembly_alone(
    tmp_path: Path, options: tuple[str, ...]
) -> None:
    lines = long_table(bushes(12))
    for at, (key, odd) in {3: ("characteristic", "boar"), 13: ("station", "7"), 28: ("value", "wide")}.items():
        lines[key][at] = odd
    path = write_table(tmp_path / "long.csv", lines)
    assert batch(path, *options[:-2], "--layout", "long", "--output", tmp_path / "out") == 3
    aside = {one["assembly"]: one["reason"] for one in read(tmp_path / "out", "set-aside")}
    assert aside.keys() == {"B00000", "B00002", "B00005"}
    assert aside["B00000"] == "row 4: unknown characteristic 'boar' (did you mean 'bore'?)"
    assert aside["B00002"] == "row 14: no bush 7: there are 2"
    assert [one["row"] for one in read(tmp_path / "out", "set-aside")] == [*range(1, 6), *range(11, 16), *range(26, 31)]
    assert len(read(tmp_path / "out", "counts")) == 9


@pytest.mark.parametrize("most", [1000, 6])
def test_a_line_of_a_long_table_without_a_name_costs_those_beside_it(
    most: int, tmp_path: Path, options: tuple[str, ...]
) -> None:
    """It may be a second reading of either, and the one out of limits; rows cut off elsewhere change nothing of it."""
    path = tmp_path / "long.csv"
    lines = [f"{name},{gap}" for name in "ABCDEFG" for gap in ("pin,1,20", "bore,1,20.05", "end_gap,,0.3")]
    lines[3] = lines[3].removeprefix("B")  # the first of B, or one more of A
    lines[13] = "E,bore,1"  # a cell is missing: within E
    path.write_text("\n".join(["assembly,characteristic,station,value", *lines]) + "\n")
    assert batch(path, *options[:-2], "--layout", "long", "--output", tmp_path / "out", "--rows", most) == 3
    assert [one["assembly"] for one in read(tmp_path / "out", "counts")] == ["C", "D", "F", "G"]
    aside = {one["row"]: one["reason"] for one in read(tmp_path / "out", "set-aside")}
    assert aside == {
        **dict.fromkeys((1, 2, 3, 5, 6), "row 4: no assembly is named there, and it may tell of this one"),
        4: "no assembly is named there",
        **dict.fromkeys((13, 15), "row 14: 3 cells where the heading has 4, and it may tell of this one"),
        14: "3 cells where the heading has 4",
    }
    data = summary(tmp_path / "out")
    assert (data["read"], data["judged"], data["set_aside"]) == (21, 12, 9)
    assert data["reasons"]["no assembly is named there, and it may tell of this one"] == 5


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("layout", ["wide", "long"])
def test_a_fact_that_looks_like_a_number_is_a_fact(
    kind: str, layout: str, tmp_path: Path, options: tuple[str, ...]
) -> None:
    table = {**bushes(4), "alloy": [660, 932, 660, 932]}
    path = write_table(tmp_path / f"all.{kind}", long_table(table) if layout == "long" else table)
    more = ("--layout", "long") if layout == "long" else options[-2:]
    assert batch(path, *options[:-2], *more, "--output", tmp_path / "out") == 0
    advised = [one["row"] for one in read(tmp_path / "out", "findings") if one["rule"] == "alloy"]
    assert advised == ([1, 13] if layout == "long" else [1, 3])


def test_a_table_is_given_once(tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    path = write_table(tmp_path / "all.csv", bushes(2))
    assert batch(path, f"{tmp_path}/./all.csv", *options, "--output", tmp_path / "out") == 2
    assert f"{path} is given twice" in capsys.readouterr().err


def test_a_run_that_was_ended_goes_on_where_it_was(
    tmp_path: Path, options: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    tables = [write_table(tmp_path / f"{number}.csv", bushes(30, seed=number)) for number in (1, 2)]
    second = bushes(30, seed=2)
    second["serial"] = [f"C{name}" for name in second["serial"]]
    write_table(tables[1], second)
    judged: list[int] = []
    told_of = fleet_run.told_of

    def dying(plan: Any, part: Any, verdicts: Any) -> Any:
        if len(judged) == 3:
            raise KeyboardInterrupt
        judged.append(part.number)
        return told_of(plan, part, verdicts)

    asked = (*tables, *options, "--rows", 10, "--on", "2026-05-02")
    monkeypatch.setattr(fleet_run, "told_of", dying)
    assert batch(*asked, "--output", tmp_path / "out") == 130
    (tmp_path / "out" / "findings" / ".000003.parquet.0123abcd").write_bytes(b"half")
    assert not (tmp_path / "out" / "summary.json").exists()
    monkeypatch.setattr(
        fleet_run, "told_of", lambda plan, part, verdicts: judged.append(part.number) or told_of(plan, part, verdicts)
    )
    status = batch(*asked[:-2], "--output", tmp_path / "out")  # the day is that of the run
    assert judged == [0, 1, 2, 3, 4, 5]
    assert status == batch(*asked, "--output", tmp_path / "whole")
    for name in ("counts", "findings", "set-aside"):
        assert read(tmp_path / "out", name) == read(tmp_path / "whole", name)
    assert summary(tmp_path / "out") == summary(tmp_path / "whole")


def test_a_part_whose_files_were_lost_is_judged_again(tmp_path: Path, options: tuple[str, ...]) -> None:
    """Half of the findings would look like all of them."""
    asked = (write_table(tmp_path / "all.csv", bushes(30)), *options, "--rows", 10)
    status = batch(*asked, "--output", tmp_path / "out")
    names = ("counts", "findings", "set-aside")
    whole = {name: read(tmp_path / "out", name) for name in names}
    for number, name in enumerate(names):
        path = tmp_path / "out" / name / f"{number:06}.parquet"
        path.unlink() if number else path.write_bytes(path.read_bytes()[:100])
    assert batch(*asked, "--output", tmp_path / "out") == status
    assert {name: read(tmp_path / "out", name) for name in names} == whole


def test_another_run_is_not_gone_on_with(
    tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_table(tmp_path / "all.csv", bushes(10))
    out = ("--output", tmp_path / "out")
    assert batch(path, *options, *out) == 0
    capsys.readouterr()
    assert batch(path, *options, *out, "--rows", 5, "--before", "done") == 2
    told = capsys.readouterr().err
    assert "holds results of another run: rows 8192, now 5 (name another folder" in told
    assert "before None, now done" in told
    write_table(path, bushes(11))
    assert batch(path, *options, *out) == 2
    assert f"other tables: {path}" in capsys.readouterr().err
    pack = tmp_path / "bush-shop" / "pack.yaml"
    pack.write_text(pack.read_text().replace("0.004", "0.005"))
    assert batch(path, *options, *out) == 2
    assert "other packs: bush-shop 1.0.0" in capsys.readouterr().err
    assert len(read(tmp_path / "out", "counts")) == 10
    assert batch(path, *options, *out, "--start-over") == 0
    assert len(read(tmp_path / "out", "counts")) == 11


def test_a_folder_with_anything_else_in_it_is_left_alone(
    tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_table(tmp_path / "all.csv", bushes(3))
    for more in ((), ("--start-over",)):
        assert batch(path, *options, "--output", tmp_path, *more) == 2
        assert "is not an empty folder" in capsys.readouterr().err


def test_a_run_that_starts_over_removes_what_a_run_wrote_and_nothing_else(
    tmp_path: Path, options: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, out = write_table(tmp_path / "all.csv", bushes(30)), tmp_path / "out"
    assert batch(path, *options, "--output", out, "--rows", 10) == 0
    assert (out / "summary.json").exists()
    own = [out / name for name in ("notes.txt", "findings/mine.txt", "counts/.hidden", "parts/000000.txt")]
    for file in own:
        file.write_text("mine")
    half = out / "findings" / ".000001.parquet.0123abcd"
    half.write_bytes(b"half")

    def ended(*_: Any) -> Any:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(fleet_run, "told_of", ended)
        assert batch(path, *options, "--output", out, "--start-over") == 130
    assert {one for one in out.rglob("*") if one.is_file()} == {*own, out / "run.json"}
    assert batch(path, *options, "--output", out, "--start-over") == 0
    assert len(list((out / "parts").glob("*.json"))) == 1
    assert all(file.read_text() == "mine" for file in own)


def test_what_only_looks_like_a_run_is_left_alone(tmp_path: Path, options: tuple[str, ...]) -> None:
    path, out = write_table(tmp_path / "all.csv", bushes(3)), tmp_path / "out"
    out.mkdir()
    for name in ("run.json", "summary.txt"):
        (out / name).write_text('{"distance": "5 km"}')
    assert batch(path, *options, "--output", out, "--start-over") == 2
    assert sorted(one.name for one in out.iterdir()) == ["run.json", "summary.txt"]


RUN = """
import sys
from checker.fleet import run
from checker.cli import main
told_of = run.told_of
def waiting(*asked):
    print("judging", file=sys.__stdout__, flush=True)  # what is printed to sys.stdout goes aside
    sys.stdin.read()
    return told_of(*asked)
run.told_of = waiting
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize("is_killed", [False, True])
def test_two_runs_do_not_write_to_one_folder(
    is_killed: bool, tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    path, other, out = (tmp_path / name for name in ("a.csv", "b.csv", "out"))
    write_table(path, bushes(5))
    write_table(other, bushes(7))
    asked = [sys.executable, "-c", RUN, "batch", path, *options, "--output", out]
    with subprocess.Popen(asked, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as first:
        assert first.stdin is not None and first.stdout is not None
        assert first.stdout.readline() == b"judging\n"
        for table, more in ((other, ()), (other, ("--start-over",)), (path, ())):
            assert batch(table, *options, "--output", out, *more) == 2
            assert f"another run is writing to {out} (wait until it is done, " in capsys.readouterr().err
        if is_killed:
            first.kill()
        first.stdin.close()
    if is_killed:
        assert batch(path, *options, "--output", out) == 0
    assert len(read(out, "counts")) == 5 == summary(out)["judged"]
    assert not (out / ".lock").exists()


@pytest.mark.parametrize(
    ("name", "content", "more", "words"),
    [
        ("a.txt", b"", (), "no kind of table by its name .known: .parquet"),
        ("a.csv", b"", (), "no column has a name"),
        ("a.csv", b"serial,pin@1,pin@1\n", (), "column 'pin@1' stands there twice"),
        ("a.csv", b"serial,pin@1\rA,20\r", (), "its heading is no line of CSV: .* line ends of Windows or Unix"),
        ("a.csv", "serial,pin@1\nA,20\n".encode("utf-16"), (), "its heading is not UTF-8 .save it as CSV in UTF-8"),
        ("a.csv", b"serial,pin@1\nA,20\rB,20\n", (), "rows 1 to 1 cannot be told apart"),
        ("a.csv", b"serail,pin@1\nA,20\n", (), "no column 'serial' .did you mean 'serail'"),
        ("a.csv", b"serial,pim@1\nA,20\n", (), "unknown characteristic 'pim' .did you mean 'pin'"),
        ("a.csv", b"serial,pin@1\nA,20\n", ("--column", "pin@1"), "write NAME=VALUE"),
        ("a.csv", b"serial,pin@1\nA,20\n", ("--instrument", "pin=ruler"), "no instrument 'ruler'"),
        ("a.parquet", b"PAR1", (), "cannot be read as parquet"),
        ("a.arrow", b"ARROW1", (), "cannot be read as arrow"),
    ],
)
def test_what_cannot_be_judged_is_told(
    name: str,
    content: bytes,
    more: tuple[str, ...],
    words: str,
    tmp_path: Path,
    options: tuple[str, ...],
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / name).write_bytes(content)
    assert batch(tmp_path / name, *options, *more, "--output", tmp_path / "out") == 2
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert re.search(words, told), told


def test_numbers_without_a_unit_stop_a_run_that_says_of_which_columns(
    tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "shop.yaml"
    record.write_text(record.read_text().replace("units: {length: mm}\n", ""))
    table: dict[str, list[Any]] = {"serial": ["A", "B", "C"], "pin@1": [20, 20, 20], "end_gap": ["0.3", "0.4", "wide"]}
    path = write_table(tmp_path / "all.csv", table)
    assert batch(path, *options, "--output", tmp_path / "out") == 2
    told = capsys.readouterr().err
    assert "in which unit of length are the numbers of 'pin@1' (usually mm), 'end_gap' (usually mm)?" in told
    assert "(state it in the record, as in units: {length: mm})" in told
    path = write_table(tmp_path / "long.csv", long_table(bushes(3)))
    assert batch(path, *options[:-2], "--layout", "long", "--output", tmp_path / "out") == 2
    assert "the numbers of 'pin' (usually mm), 'bore' (usually mm), 'end_gap' (usually mm)?" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "more", "words"),
    [
        ("serial,shift\nB,2\n", (), "b.csv: column 'shift': unknown characteristic 'shift' (say which"),
        ("serial,pin@1\nB,20\n", ("--column", "end_gap=end_gap"), "b.csv: the table has no column 'end_gap' "),
        ("serial,pim@1\nB,20\n", (), "b.csv: column 'pim@1': unknown characteristic 'pim'"),
        ("serial,pin@1\nB,20\n", ("--application", "plane"), "no application 'plane' in bush-shop"),
    ],
)
def test_of_several_tables_the_one_that_is_wrong_is_named(
    content: str,
    more: tuple[str, ...],
    words: str,
    tmp_path: Path,
    options: tuple[str, ...],
    capsys: pytest.CaptureFixture[str],
) -> None:
    good, bad = tmp_path / "a.csv", tmp_path / "b.csv"
    good.write_text("serial,pin@1,end_gap\nA,20,0.3\n", "utf-8")
    bad.write_text(content, "utf-8")
    assert batch(good, bad, *options, *more, "--output", tmp_path / "out") == 2
    told = capsys.readouterr().err
    assert words in told
    assert ("b.csv" in told, "a.csv" in told) == ("b.csv" in words, False)


def test_a_command_put_right_is_no_other_run(tmp_path: Path, options: tuple[str, ...]) -> None:
    path = write_table(tmp_path / "all.csv", {"serial": ["A"], "gap": [0.3]})
    assert batch(path, *options, "--output", tmp_path / "out", "--column", "gpa=end_gap") == 2
    assert batch(path, *options, "--output", tmp_path / "out", "--column", "gap=end_gap") in (0, 3)
    assert len(read(tmp_path / "out", "counts")) == 1


def test_a_use_is_asked_for_where_none_is_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.csv").write_text("serial,pin@1\nA,20\n", "utf-8")
    assert batch(tmp_path / "a.csv", "--output", tmp_path / "out") == 2
    assert "nothing says what the assemblies will be used for (give --application" in capsys.readouterr().err
    (tmp_path / "shop.yaml").write_text("record: 1\nassembly: B\n", "utf-8")
    assert batch(tmp_path / "a.csv", "--record", tmp_path / "shop.yaml", "--output", tmp_path / "out") == 2
    assert "shop.yaml:1:1: 'application' is missing" in capsys.readouterr().err


def test_a_table_that_breaks_off_is_told_and_what_was_judged_stays(
    tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_table(tmp_path / "all.parquet", bushes(400), block=100)
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 600] = bytes(600)
    path.write_bytes(data)
    assert batch(path, *options, "--output", tmp_path / "out", "--rows", 100) == 2
    told = capsys.readouterr().err
    assert f"{path}: cannot be read on: " in told and "Traceback" not in told
    assert not (tmp_path / "out" / "summary.json").exists()


@pytest.mark.parametrize("option", ["--rows", "--workers"])
@pytest.mark.parametrize("number", ["0", "-1", "two"])
def test_a_number_that_is_none_is_refused(option: str, number: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        batch("all.csv", "--output", "out", option, number)
    assert "is not a whole number such as 4" in capsys.readouterr().err


def test_a_file_of_blank_lines_has_no_rows(tmp_path: Path, options: tuple[str, ...]) -> None:
    path = tmp_path / "all.csv"
    path.write_text("assembly,characteristic,station,value\n\n,,,\n")
    assert batch(path, *options[:-2], "--layout", "long", "--output", tmp_path / "out") == 3
    assert summary(tmp_path / "out")["read"] == 0


def test_memory_does_not_grow_with_the_table(tmp_path: Path, options: tuple[str, ...]) -> None:
    """What numpy and Python hold at most, for a table and for one four times as long, 250 rows at once."""
    peaks = []
    for rows in (1000, 4000):
        path = write_table(tmp_path / f"{rows}.parquet", bushes(rows))  # one row group
        tracemalloc.start()
        assert batch(path, *options, "--output", tmp_path / str(rows), "--rows", 250) in (0, 1)
        peaks.append(tracemalloc.get_traced_memory()[1] - 16 * rows)
        tracemalloc.stop()
    assert peaks[1] < 1.25 * peaks[0] + 300_000, peaks


CELL = st.one_of(
    st.sampled_from([20.0, 20.05, 0.3, 0.3]),
    st.floats(0, 40),
    st.sampled_from(
        [None, float("nan"), float("inf"), float("-inf"), "20.05 mm", "wide", "-", "1e999", "20,05", "", "20+0.05"]
    ),
)
ROW = st.tuples(st.sampled_from(["A", "B", "C", "D", "E", "F", "", None]), *(CELL for _ in COLUMNS))


def alone(row: tuple[Any, ...], book: Any) -> Any:
    """The report on one row as a record of its own; nothing where it cannot be read."""
    readings: dict[str, Any] = {}
    for column, cell in zip(COLUMNS, row[1:], strict=True):
        name, _, station = column.partition("@")
        if station:
            readings.setdefault(name, {})[int(station)] = cell
        else:
            readings[name] = cell
    base = parse_yaml(RECORD.encode(), "record.yaml").data
    try:
        return book.check(record_from({**base, "readings": readings}))
    except InputError:
        return None


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(ROW, max_size=9),
    st.sampled_from(KINDS),
    st.sampled_from(["wide", "long"]),
    st.integers(2, 20),
    st.integers(1, 4),
)
def test_nothing_set_aside_or_not_measured_is_ever_within(
    rows: list[tuple[Any, ...]], kind: str, layout: str, most: int, block: int
) -> None:
    """Whatever stands in a table, each row is judged as it is alone or set aside, and a name that stands twice is."""
    table: dict[str, list[Any]] = {"serial": [row[0] for row in rows]}
    for place, column in enumerate(COLUMNS, 1):
        cells = [row[place] for row in rows]
        if kind == "csv" or layout == "long" or any(isinstance(cell, str) for cell in cells):
            cells = [None if cell is None or cell == "" else str(cell) for cell in cells]
        table[column] = cells
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        options = shop(folder)
        book = load_rulebook(folder / "bush-shop", plugins=plugins_with())
        if layout == "long":
            table["serial"] = [name or "" for name in table["serial"]]
            path = write_table(folder / f"all.{kind}", long_table(table), block)
            status = batch(path, *options, "--layout", "long", "--output", folder / "out", "--rows", most)
        else:
            path = write_table(folder / f"all.{kind}", table, block)
            status = batch(path, *options, "--assembly", "serial", "--output", folder / "out", "--rows", most)
        if not rows or (layout == "long" and not long_table(table)["assembly"]):
            assert status == 3
            return
        counts, aside = read(folder / "out", "counts"), read(folder / "out", "set-aside")
        data = summary(folder / "out")
    assert data["read"] == data["judged"] + data["set_aside"]
    told = {one["assembly"]: one for one in counts}
    assert len(told) == len(counts)
    assert not told.keys() & {one["assembly"] for one in aside}
    for one in (one for one in rows if one[0] in told):
        if sum(other[0] == one[0] for other in rows) > 1:
            assert layout == "long"  # lines of one assembly: several readings at one place
            continue
        report = alone(one, book)
        assert report is not None
        assert report.status == told[one[0]]["status"]
        for verdict, count in report.counts.items():
            assert told[one[0]][str(verdict).replace(" ", "_")] == count
    if any(one["status"] for one in counts) or aside or not counts:
        assert status in (1, 3)
    else:
        assert status == 0


@pytest.mark.parametrize(
    ("library", "command"),
    [("pyarrow", ["batch", "a.csv", "--output", "out"]), ("scipy", ["capability", "out", "gap"])],
)
def test_without_the_extra_it_says_what_to_install(library: str, command: list[str]) -> None:
    program = f"import sys; sys.modules[{library!r}] = None; from checker.cli import main; sys.exit(main({command}))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.returncode == 2
    assert f"{library} is not installed (python -m pip install 'assembly-checker[fleet]')" in done.stderr


def test_a_mistyped_column_of_the_last_file_stops_a_run_before_the_first_is_judged(
    tmp_path: Path, options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """The command says that nothing was judged, and put right it is no other run."""
    first = write_table(tmp_path / "first.csv", bushes(3))
    last = write_table(tmp_path / "last.csv", {"serial": ["X"], "end_gp": [0.3]})
    assert batch(first, last, *options, "--output", tmp_path / "out") == 2
    assert "unknown characteristic 'end_gp'" in capsys.readouterr().err
    assert not (tmp_path / "out" / "run.json").exists()
    write_table(tmp_path / "last.csv", {"serial": ["X"], "end_gap": [0.3]})
    assert batch(first, last, *options, "--output", tmp_path / "out") != 2
